"""Finding the watch's quantities in whatever is shown, and what contradicts the answers.

Two ways: every place that shows an answer carries its key (``data-answer`` on screen); and the
plain text is searched for the same quantities by their words and units, wherever they stand.
"""

from __future__ import annotations

import html
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from itertools import combinations

from layers import answer_words
from layers.answers import Answers
from layers.earth.clock import day_hhmm, hhmm
from layers.earth.said.written import distance_words, dm_text
from layers.earth.told import PersonsNow
from layers.earth.uncertain import Bounds, Number, Stated

KEYED = re.compile(
    r'<(?P<tag>\w+)[^>]*data-answer="(?P<key>[^"]+)"[^>]*>(?P<inner>.*?)</(?P=tag)>(?=<|\s*$)', re.S
)
FIGURE = re.compile(r'<(?:b|span class="figure")>(.*?)</(?:b|span)>', re.S)
TAG = re.compile(r"<[^>]+>")
PLACE = r"\d+°[^A-Za-z]*[NS] \d+°[^A-Za-z]*[EW]"


def plain(text: str) -> str:
    """Return what a person reads of some HTML: tags, scripts and style sheets gone, one space."""
    text = re.sub(r"<(style|script)\b[^>]*>.*?</\1>", " ", text, flags=re.S)
    return " ".join(html.unescape(TAG.sub(" ", text)).split())


def keyed(text: str) -> dict[str, set[str]]:
    """Return the figures shown under each answer's key."""
    found: dict[str, set[str]] = defaultdict(set)
    for key, inner in re.findall(r'data-answer="([^"]+)"[^>]*>(.*?)(?=data-answer=|$)', text, re.S):
        figure = FIGURE.search(inner)
        if figure:
            said = plain(figure[1])
            found[key].add(re.sub(r"\s*h$", "", said))
    return found


def wanted(answers: Answers) -> dict[str, str]:
    """Return the figure of each answer as the one place words it."""
    said = (
        *answer_words.persons(answers),
        answer_words.margin(answers),
        answer_words.dive(answers),
        answer_words.oldest(answers),
        answer_words.sortie(answers),
        answer_words.first_out(answers),
        answer_words.next_decision(answers),
    )
    return {one.key: one.figure for one in said}


COUNT = r"(\d+(?: to \d+)?)"


def patterns(answers: Answers) -> Iterable[tuple[str, re.Pattern[str], set[str]]]:
    """Yield what to look for in plain text: a name, its words, and the figures that may stand."""
    people = answers.persons
    if isinstance(people, PersonsNow):
        counts = {
            "on_board": f"[Oo]f {COUNT} on board",
            "in_hull": f"{COUNT} in (?:the )?hull",
            "in_vehicle": f"{COUNT} in (?:the )?vehicle",
            "adrift": f"{COUNT} adrift",
            "not_heard_of": f"{COUNT} not heard of",
            "in_hull ": f"persons in the hull: {COUNT}",
            "not_heard_of ": f"persons not heard of: {COUNT}",
        }
        for name, words in counts.items():
            # what was is told before an arrow, by the handover
            now = re.compile(rf"{words}\b(?!(?: \([^)]*\))? →)")
            yield name.replace("_", " "), now, {people.figure(name.strip())}
    hours = set()
    for one in answers.margin.values():
        for found in (one.if_nobody_leaves_h, one.as_planned_h):
            if isinstance(found, Number):
                hours.add(str(abs(int(answer_words.hours_figure(found.value).replace("−", "-")))))
            elif isinstance(found, Bounds) and found.at_most is not None:
                hours.add(str(abs(int(answer_words.hours_figure(found.at_most).replace("−", "-")))))
    if hours:
        yield "margin", re.compile(r"refuge: (?:at least |at most )?(\d+) h to spare"), hours
    first = answers.first_out
    if isinstance(first, Stated):
        times = {hhmm(first.value.time), day_hhmm(first.value.time)}
        yield "first out", re.compile(r"on deck (\d{4,6}Z)"), times


def where_patterns(answers: Answers) -> Iterable[tuple[str, re.Pattern[str], set[str]]]:
    """Yield what is said of her place and of diving, as `patterns` does."""
    place = answers.position
    if isinstance(place, Stated):
        her = place.value
        yield (
            "position",
            # what was is told before an arrow, by the handover
            re.compile(rf"(?:Position by fix|[Mm]ost probable position) ({PLACE})(?! →)"),
            {str(her.position), dm_text(her.position)},
        )
        circles = {her.radius_95_m, *(one.radius_95_m for one in her.places)}
        words = {distance_words(metres) for metres in circles}
        said = (
            rf"(?:Position by fix|[Mm]ost probable position) {PLACE}, 95 % within ([\d.]+ n?mi?\b)"
        )
        yield "95 %", re.compile(said), words
    dive = answers.dive
    if isinstance(dive, Stated):
        figure = {True: "YES", False: "NO", None: "?"}[dive.value.may]
        yield "dive", re.compile(r"(?<!for a )\bdive: (YES|NO|\?)"), {figure}
        until = dive.value.until if dive.value.may else dive.value.opens
        if until is not None:
            times = {hhmm(until), day_hhmm(until)}
            yield "dive until", re.compile(r"(?<!for a dive: )\b(?:YES|NO) until (\d{4,6}Z)"), times


def by_place(text: str, people: PersonsNow) -> Iterable[str]:
    """Give the places whose persons are said otherwise: ``in the hull (forward 12, after 17)``."""
    for inner in re.findall(r"in the hull \(([^)]*)\)", text):
        for place, count in re.findall(r"([^,]+?) (\d+)(?=,|$)", inner):
            if people.by_place.get(place.strip()) != int(count):
                yield f"{place.strip()} {count}, the answer is {dict(people.by_place)}"


# what no answer holds and several places tell: a name, and under it the figure
PAIRED = {
    "pressure": re.compile(r"\b(\w[\w-]*) refuge (\d+\.\d+) bar abs"),
    "95 % about": re.compile(rf"({PLACE})[^.;°]{{0,40}}?95 % within ([\d.]+ n?mi?\b)"),
    "age of a fix": re.compile(r"\b([A-Z][A-Z ]+), [a-z ]+: fix of \w+, ([^,]+) old"),
    "ETA": re.compile(r"\b([A-Z][A-Z ]+), [a-z ]+: fix of [^.;]*; ETA (\d{6}Z)"),
}


def unlike(shown: Mapping[str, str]) -> list[str]:
    """Return what two places of one moment say differently of one thing: a pressure, an ETA.

    A place that tells what was and what is (the handover) agrees with who tells one of them.
    """
    said: dict[tuple[str, str], dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for place, text in shown.items():
        for what, words in PAIRED.items():
            for name, figure in words.findall(plain(text)):
                said[what, name.lower()][place].add(figure)
    return [
        f"{what} {name}: {one} says {sorted(a)}, {other} says {sorted(b)}"
        for (what, name), places in said.items()
        for (one, a), (other, b) in combinations(places.items(), 2)
        if not a & b
    ]


def contradictions(shown: Mapping[str, str], answers: Answers) -> list[str]:
    """Return what any place shows that is not the answer, each with its place and both figures.

    Parameters
    ----------
    shown : mapping of str to str
        What is shown (HTML or text), by the name of the place.
    answers : Answers
        Of the same moment and release.
    """
    should, found = wanted(answers), []
    for place, text in shown.items():
        for key, figures in keyed(text).items():
            if key in should and figures != {should[key]}:
                found.append(f"{place}: {key} {sorted(figures)}, the answer is {should[key]!r}")
        said = plain(text)
        for name, words, may in (*patterns(answers), *where_patterns(answers)):
            for figure in set(words.findall(said)) - may:
                found.append(f"{place}: {figure} {name!r} in the text, the answers say {may}")
        if isinstance(answers.persons, PersonsNow):
            found += [f"{place}: {wrong}" for wrong in by_place(said, answers.persons)]
        if "100 of 100" in said:
            found.append(f"{place}: certainty by rounding, 100 of 100")
    return found
