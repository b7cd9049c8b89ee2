"""A situation report in the lettered paragraphs of the IAMSAR form, as plain text.

Each figure is followed by the number of the record it rests on, so that it can be looked up.

References
----------
IAMSAR Manual vol II, standard format for SAR situation reports: A to F the short form, G to N
added in the full form, the letter I left out. The letters were checked against the form as
printed by MRCC Bremen (IMO standard format for SAR SITREPs); the manual's own page was not seen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from layers.catalogue import IN_WORDS
from layers.contract import Shown
from layers.earth.clock import dtg
from layers.journal.known import Known
from layers.picture import Picture
from layers.scene.release import POSITION_WITHHELD, Release, Stamp, checked
from layers.watch.state import WatchState, state

HEADS = {
    "A": "IDENTITY OF CASUALTY",
    "B": "POSITION",
    "C": "SITUATION",
    "D": "NUMBER OF PERSONS AT RISK",
    "E": "ASSISTANCE REQUIRED",
    "F": "CO-ORDINATING RCC",
    "G": "DESCRIPTION OF CASUALTY",
    "H": "WEATHER ON SCENE",
    "J": "INITIAL ACTIONS TAKEN",
    "K": "SEARCH AREA",
    "L": "CO-ORDINATING INSTRUCTIONS",
    "M": "FUTURE PLANS",
    "N": "ADDITIONAL INFORMATION",
}
NOT_REPORTED = "not reported"
WITHHELD_HERE = "withheld here"
MOST_SOURCES = 6
_HEAD = re.compile(r"([A-HJ-N])\. [A-Z]")
_CITED = re.compile(r"\(records? (\d{1,9}(?:, \d{1,9})*)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the staff adds to a situation report; what is left empty says ``not reported``."""

    number: int = 1
    priority: str = "URGENCY"
    from_whom: str = ""
    to_whom: str = ""
    identity: str = ""
    assistance: str = ""
    coordinator: str = ""
    description: str = ""


def sitrep(
    made: Picture, known: Known, stamp: Stamp, release: Release, told: Told, *, full: bool = True
) -> str:
    """Return the situation report as text to copy into a message."""
    watch = state(known, made.moment)
    checked(made, release)
    seqs = {} if release.guarded else _numbers(known)
    own = WITHHELD_HERE if release.guarded else ""  # the watch's own words
    body = {
        "A": told.identity or NOT_REPORTED,
        "B": _layers(made, "B", seqs),
        "C": _situation(watch, seqs),
        "D": _layers(made, "D", seqs),
        "E": told.assistance or NOT_REPORTED,
        "F": told.coordinator or told.from_whom or NOT_REPORTED,
    }
    if full:
        body |= {
            "G": told.description or NOT_REPORTED,
            "H": _layers(made, "H", seqs),
            "J": own or _actions(watch, seqs),
            "K": _search(known, release, seqs),
            "L": own or _tasks(watch, seqs),
            "M": _plans(made, watch, release, seqs),
            "N": _layers(made, "N", seqs),
        }
    lines = [part for part in (stamp.banner, stamp.marking) if part]
    lines += [
        told.priority,
        dtg(made.moment.at),
        f"FROM {told.from_whom or NOT_REPORTED}",
        f"TO {told.to_whom or NOT_REPORTED}",
        f"SAR SITREP {told.number}",
    ]
    for letter, text in body.items():
        lines.append(f"{letter}. {HEADS[letter]}")
        lines += [f"   {line}" for line in text.splitlines()]
    lines += [stamp.time_words, *stamp.lines()[-3:]]
    if stamp.banner:
        lines.append(stamp.banner)
    return "\n".join(lines) + "\n"


def _numbers(known: Known) -> dict[str, int]:
    """Return the number of every typed record by its id."""
    typed = [name for name, kind in known.kinds.items() if not kind.columns]
    return {record.id: record.seq for record in known.records(*typed)}


def _cited(text: str, ids: Iterable[str], seqs: dict[str, int]) -> str:
    numbers = sorted({seqs[i] for i in ids if i in seqs}, reverse=True)
    if not numbers:
        return text
    shown = ", ".join(str(n) for n in sorted(numbers[:MOST_SOURCES]))
    more = f" and {len(numbers) - MOST_SOURCES} more" if len(numbers) > MOST_SOURCES else ""
    return f"{text} (record{'s' if len(numbers) > 1 else ''} {shown}{more})"


def citations(text: str) -> dict[str, tuple[int, ...]]:
    """Return, per lettered paragraph of a report, the numbers of the records it cites."""
    found: dict[str, tuple[int, ...]] = {}
    letter = ""
    for line in text.splitlines():
        if head := _HEAD.match(line):
            letter = head[1]
        for numbers in _CITED.findall(line) if letter else ():
            found[letter] = tuple(
                dict.fromkeys((*found.get(letter, ()), *map(int, numbers.split(", "))))
            )
    return found


def _said(made: Picture, key: str, seqs: dict[str, int]) -> str:
    shown = made.layers.get(key)
    if not isinstance(shown, Shown):
        return shown.reason if shown is not None else NOT_REPORTED
    return _cited(shown.sentence, getattr(shown.result, "rests_on", ()), seqs)


def _layers(made: Picture, letter: str, seqs: dict[str, int]) -> str:
    """Return what the layers say that stand in this paragraph, a line each."""
    lines = []
    for layer in IN_WORDS:
        if layer.report == letter and layer.key in made.layers:
            lines.append(_said(made, layer.key, seqs))
    return "\n".join(dict.fromkeys(lines)) or NOT_REPORTED


def _situation(watch: WatchState, seqs: dict[str, int]) -> str:
    if not watch.stages:
        return NOT_REPORTED
    return "\n".join(
        _cited(f"{clock.stage} declared {dtg(clock.declared_at)}", (clock.record_id,), seqs)
        for clock in watch.stages
    )


def _actions(watch: WatchState, seqs: dict[str, int]) -> str:
    lines = [
        _cited(f"{dtg(each.entry.record.valid_at)} {each.entry.value.what}", (each.entry.id,), seqs)
        for each in watch.decisions
        if each.replaced_by is None
    ]
    return "\n".join(lines) or NOT_REPORTED


def _search(known: Known, release: Release, seqs: dict[str, int]) -> str:
    if not release.exact_position:
        return POSITION_WITHHELD
    if "datum.negative_search" not in known.kinds:
        return NOT_REPORTED
    lines = []
    for entry in known.entries("datum.negative_search"):
        short = ", cut short" if entry.value.cut_short else ""
        text = f"{dtg(entry.record.valid_at)} {entry.value.searcher}: nothing seen{short}"
        lines.append(_cited(text, (entry.id,), seqs))
    lines.append("No area is cleared: a low probability is not zero.")
    return "\n".join(lines)


def _tasks(watch: WatchState, seqs: dict[str, int]) -> str:
    lines = [
        _cited(
            f"{task.task.value.who}: {task.task.value.what}, {task.state}", (task.task.id,), seqs
        )
        for task in watch.tasks
        if task.state != "done"
    ]
    return "\n".join(lines) or NOT_REPORTED


def _plans(made: Picture, watch: WatchState, release: Release, seqs: dict[str, int]) -> str:
    lines = [_cited(e.words(made.moment.at), (e.record_id,), seqs) for e in watch.ahead[:4]]
    return "\n".join([_layers(made, "M", seqs), *lines])
