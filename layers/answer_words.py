"""Each answer in the fewest words: a figure, its unit, and the line that stands under it.

Strip, wall, slides and telephone show the same words in other sizes. A page that wants more words
adds them here, so that no two places say one thing differently.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.answers import NOTHING_WAITS, ON_BOARD, Answers
from layers.contract import View
from layers.earth.clock import clock_words, duration_words, relative_words
from layers.earth.told import PersonsNow, RefugeMargin
from layers.earth.uncertain import (
    SURE,
    Bounds,
    NotKnown,
    Number,
    Quantity,
    Stated,
    Withheld,
    chance_words,
    ends,
)

DASH = "–"
WITHHELD = "withheld here"
DOUBT = "?"
ROUGH = "rough"


@dataclass(frozen=True, slots=True, kw_only=True)
class WordedAnswer:
    """One answer as it is shown.

    ``key`` names the answer, the same on every screen and export. ``figure`` is read across the
    room; ``word`` stands under or beside it, ``more`` quietly behind.
    """

    key: str
    figure: str
    word: str
    unit: str = ""
    more: str = ""
    late: bool = False
    known: bool = True


def persons(answers: Answers) -> tuple[WordedAnswer, ...]:
    """Return the counts that add up to all on board; those of nobody are left out."""
    found = answers.persons
    if isinstance(found, Withheld):
        return (WordedAnswer(key="persons", figure=DASH, word=WITHHELD, known=False),)
    if isinstance(found, NotKnown) and not any(ON_BOARD in each for each in found.missing):
        # who counts them says nothing: worked out still, or failed
        return (WordedAnswer(key="persons", figure=DASH, word=_first(found.missing), known=False),)
    if isinstance(found, NotKnown) or (found.on_board is None and not found.counted):
        return (WordedAnswer(key="persons", figure=DASH, word="nobody counted yet", known=False),)
    planned = answers.moment.view is View.EXPECTED
    counts = (
        ("in_hull", found.in_hull, "in hull"),
        ("in_vehicle", found.in_vehicle, "in vehicle"),
        ("adrift", found.adrift, "adrift"),
        ("not_heard_of", found.not_heard_of, "not heard of"),
        ("out", found.out, "out by plan" if planned else "out"),
    )
    cells = [
        WordedAnswer(key=f"persons.{key}", figure=_count(found, key, planned), word=word)
        for key, count, word in counts
        if count or (key in found.between and not planned)
    ]
    board = DASH if found.on_board is None else _count(found, "on_board", planned)
    word = "POB" if found.on_board is not None else "POB not told"
    gone = [f"{_count(found, w, planned)} {w}" for w in ("dead", "missing")
            if getattr(found, w) or (w in found.between and not planned)]  # fmt: skip
    differ = ["counts differ"] if found.differ and not planned else []
    said = ", ".join((word, *gone, *differ))
    cells.append(WordedAnswer(key="persons.on_board", figure=board, word=said))
    return tuple(cells)


def _count(found: PersonsNow, key: str, planned: bool) -> str:
    return str(getattr(found, key)) if planned else found.figure(key)


def hours_figure(hours: float) -> str:
    """Return hours to spare, rounded down: ``+21``, ``−7``."""
    whole = math.floor(hours)
    return f"−{abs(whole)}" if whole < 0 else f"+{whole}"


def quantity_figure(found: Quantity) -> str:
    """Return hours to spare in any form: ``+21``, ``≤ +21``, ``≥ −3``, a dash."""
    if isinstance(found, Number):
        return hours_figure(found.value)
    least, most = ends(found)
    if least is not None and most is not None:
        return f"{hours_figure(least)} to {hours_figure(most)}"
    if most is not None:
        return f"≤ {hours_figure(most)}"
    return DASH if least is None else f"≥ {hours_figure(least)}"


def margin(answers: Answers) -> WordedAnswer:
    """Return the least margin if nobody leaves, what binds, or what is missing."""
    found, one = answers.least_margin
    if isinstance(found, Withheld):
        return WordedAnswer(key="margin", figure=DASH, word=found.told or WITHHELD, known=False)
    figure = quantity_figure(found)
    if isinstance(found, NotKnown) or figure == DASH:
        missing = found.missing if isinstance(found, NotKnown | Bounds) else ()
        return WordedAnswer(key="margin", figure=DASH, word=_first(missing), known=False)
    late = (ends(found)[1] or 0.0) < 0
    said = refuge_words(one) if one is not None else ""
    if isinstance(found, Bounds) and found.missing:
        said = _first(found.missing)
    if one is not None and one.late_case_h is not None and one.late_case_h < 0 <= _most(found):
        # first, for it is what a narrow place must not cut
        said = ", ".join(filter(None, (f"{hours_figure(one.late_case_h)} h if late", said)))
    if one is not None and one.rough:  # in the words that every place shows, however little room
        said = f"{ROUGH}: {said}" if said else ROUGH
    return WordedAnswer(
        key="margin", figure=figure, unit="h", word=f"LATE, {said}" if late else said, late=late
    )  # fmt: skip


def _most(found: Quantity) -> float:
    most = ends(found)[1]
    return math.inf if most is None else most


def refuge_words(one: RefugeMargin) -> str:
    """Return the refuge and what binds: ``after refuge, cold binds``."""
    name = one.refuge if "refuge" in one.refuge.lower() else f"{one.refuge} refuge"
    return f"{name}, {one.binds} binds" if one.binds else name


def lasts_words(one: RefugeMargin, now: datetime) -> str:
    """Return the hour of a refuge's first level; empty where it is not known."""
    if one.lasts_until is None:
        return ""
    return clock_words(one.lasts_until, now) + one.how_sure


def _first(missing: tuple[str, ...]) -> str:
    if not missing:
        return "not known"
    more = f" and {len(missing) - 1} more" if len(missing) > 1 else ""
    return f"{missing[0].split(': ask ')[0]}{more}"


def dive(answers: Answers) -> WordedAnswer:
    """Return whether a whole sortie may begin: YES until, NO until or because, or what to ask."""
    found, at = answers.dive, answers.moment.at
    if isinstance(found, Withheld):
        return WordedAnswer(key="dive", figure=DASH, word=found.told or WITHHELD, known=False)
    if isinstance(found, NotKnown):
        return WordedAnswer(key="dive", figure=DOUBT, word=_first(found.missing), known=False)
    verdict = found.value
    if verdict.may is None:
        return WordedAnswer(key="dive", figure=DOUBT, word=verdict.because, more=verdict.where,
                            known=False)  # fmt: skip
    doubt = verdict.chance is not None and verdict.chance < SURE
    odds = chance_words(verdict.chance or 0.0) if doubt else ""
    if verdict.may:
        word = f"until {until_words(verdict.until, at)}" if verdict.until else "whole forecast"
        decide = verdict.decide_by
        more = f"decide by {clock_words(decide, at)}" if decide is not None else ""
        if verdict.until is not None and decide is not None and decide < at:
            # whoever has not ordered it by then can not begin it in time
            word = f"until {clock_words(verdict.until, at)} if ordered by {clock_words(decide, at)}"
            more = ""
        word = ", ".join(filter(None, (word, odds)))
        more = ", ".join(filter(None, (more, verdict.where)))
        return WordedAnswer(key="dive", figure="YES", word=word, more=more)
    if verdict.opens is None:
        return WordedAnswer(key="dive", figure="NO", word=verdict.because, more=verdict.where)
    word = f"until {until_words(verdict.opens, at)}"
    then = f"{odds} then" if doubt else ""
    because = ", ".join(filter(None, (then, verdict.because, verdict.where)))
    return WordedAnswer(key="dive", figure="NO", word=word, more=because)


def until_words(at: datetime, now: datetime) -> str:
    """Return an hour and how far it is: ``170346Z, in 21 h 06``."""
    gap = max(at - now, timedelta(0))
    return f"{clock_words(at, now)}, in {duration_words(gap)}"


def oldest(answers: Answers) -> WordedAnswer:
    """Return the age and the name of the oldest reading that the answers rest on."""
    found = answers.oldest_input
    if not isinstance(found, Stated):
        said = WITHHELD if isinstance(found, Withheld) else _first(found.missing)
        return WordedAnswer(key="oldest_input", figure=DASH, word=said, known=False)
    age = duration_words(found.value.age(answers.moment.at))
    figure = f"≥ {age}" if found.value.at_least else age
    return WordedAnswer(key="oldest_input", figure=figure, word=f"oldest: {found.value.what}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """One of the four answers as paper shows it: what it is about, figure, words, and its age."""

    key: str
    name: str
    figure: str
    word: str
    age: str = ""

    @property
    def words(self) -> str:
        """What stands under the figure."""
        return ", ".join(part for part in (self.name, self.word) if part)

    @property
    def line(self) -> str:
        """The whole of it in one line: ``margin +37 h, after refuge (air read 0315Z)``."""
        said = ", ".join(part for part in (f"{self.name} {self.figure}".strip(), self.word) if part)
        return f"{said} ({self.age})" if self.age else said


def four(answers: Answers) -> tuple[Headline, ...]:
    """Return the four answers with their ages: people, margin, dive, the oldest reading."""
    people = persons(answers)
    said = [f"{one.figure} {one.word}" for one in people if not one.key.endswith("on_board")]
    board = [f"of {one.figure} {one.word}" for one in people if one.key.endswith("on_board")]
    found = [
        # each number beside its own word: parted, a reader aloud or in a hurry joins the wrong two
        Headline(key="persons", name="", figure="".join(said[:1]),
                 word="; ".join(filter(None, (" · ".join(said[1:]), *board))),
                 age=told_age(answers)),
    ]  # fmt: skip
    for name, one, age in (
        ("margin", margin(answers), air_age(answers)),
        ("dive", dive(answers), sea_age(answers)),
        ("", oldest(answers), ""),
    ):
        figure = " ".join(part for part in (one.figure, one.unit) if part)
        word = ": ".join(part for part in (one.word, one.more) if part)
        found.append(Headline(key=one.key, name=name, figure=figure, word=word, age=age))
    return tuple(found)


def told_age(answers: Answers) -> str:
    """Return when somebody last told of the people; empty where that is not known."""
    found = answers.persons
    at = found.last_told_at if isinstance(found, PersonsNow) else None
    return _of_then("told", at, answers)


def air_age(answers: Answers) -> str:
    """Return when the air was last read that the margin rests on."""
    _, one = answers.least_margin
    return _of_then("air read", None if one is None else one.read_at, answers)


def sea_age(answers: Answers) -> str:
    """Return of when the older is of the sea as seen and the forecast, which the dive rests on."""
    found = answers.dive
    at = found.value.read_at if isinstance(found, Stated) else None
    return _of_then("sea and forecast from", at, answers)


def _of_then(what: str, at: datetime | None, answers: Answers) -> str:
    now = answers.moment.at
    return "" if at is None else f"{what} {clock_words(at, now)}, {relative_words(at, now)}"


def alarms(answers: Answers) -> WordedAnswer:
    """Return how many alarms stand that nobody has acknowledged."""
    if answers.alarms_withheld:
        return WordedAnswer(key="alarms", figure=DASH, word=f"alarms: {WITHHELD}", known=False)
    count = len(answers.alarms_untaken)
    return WordedAnswer(key="alarms", figure=str(count), word="alarm" if count == 1 else "alarms")


def sortie(answers: Answers) -> WordedAnswer:
    """Return the phase of the sortie under way."""
    found = answers.sortie
    if not isinstance(found, Stated):
        return _unsaid("sortie", found, DASH)
    value = found.value
    if not value.phase:
        return WordedAnswer(key="sortie", figure="none", word=value.said)
    since = ""
    if value.since is not None:
        since = f"since {clock_words(value.since, answers.moment.at)}"
    late = ""
    if value.overdue_min:
        late = f"report {duration_words(timedelta(minutes=value.overdue_min))} overdue"
    said = ", ".join(part for part in (value.vehicle, since, late) if part)
    return WordedAnswer(key="sortie", figure=value.phase, word=said)


def first_out(answers: Answers) -> WordedAnswer:
    """Return the time to the first out: which event, counted from which stage."""
    found = answers.first_out
    if not isinstance(found, Stated):
        return _unsaid("first_out", found, DASH)
    value = found.value
    at = clock_words(value.time, answers.moment.at)
    word = f"{value.event} {at}" if value.done else f"{value.event} expected {at}"
    if value.hours_from is None:
        return WordedAnswer(key="first_out", figure=at, word=value.event)
    span = timedelta(hours=value.hours_from)
    hours, rest = divmod(round(span.total_seconds() / 60.0), 60)
    return WordedAnswer(
        key="first_out", figure=f"{hours} h {rest:02d}", word=f"from {value.stage}: {word}"
    )


def next_decision(answers: Answers) -> WordedAnswer:
    """Return the hour of the next decision and what it is about."""
    found = answers.next_decision
    if not isinstance(found, Stated):
        nothing = isinstance(found, NotKnown) and found.missing == (NOTHING_WAITS,)
        return _unsaid("next_decision", found, "none" if nothing else DASH)
    value, now = found.value, answers.moment.at
    if value.by is None:
        return WordedAnswer(key="next_decision", figure=DASH, word=value.what)
    when = "due now" if value.by <= now else f"in {duration_words(value.by - now)}"
    return WordedAnswer(
        key="next_decision", figure=clock_words(value.by, now), word=f"{when}: {value.what}"
    )


def search_next(answers: Answers) -> WordedAnswer:
    """Return who should search next, and what that search would find."""
    found = answers.search_next
    if not isinstance(found, Stated):
        return _unsaid("search_next", found, DASH)
    value, now = found.value, answers.moment.at
    span = f"{clock_words(value.begins, now)} to {clock_words(value.until, now)}"
    return WordedAnswer(
        key="search_next", figure=f"{value.pos * 100:.0f} %", word=f"{value.who}, {span}"
    )


def way_home(answers: Answers) -> WordedAnswer:
    """Return how many things are not home yet, and who has the first of them."""
    found = answers.way_home
    if not isinstance(found, Stated):
        return _unsaid("way_home", found, DASH)
    things, now = found.value.things, answers.moment.at
    out = [one for one in things if one.home.done is None]
    if not out:
        return WordedAnswer(key="way_home", figure="home", word=f"all {len(things)} told of")
    first = out[0]
    hour = first.home.p50 or first.home.at_least
    when = "home: not known when" if hour is None else f"home {clock_words(hour, now)}"
    if hour is not None and first.home.p50 is None:
        when = f"home not before {clock_words(hour, now)}"
    return WordedAnswer(
        key="way_home", figure=str(len(out)), word="not home",
        more=f"{first.what} with {first.held_by}, {when}",
    )  # fmt: skip


def unsaid_words(found: NotKnown | Withheld) -> str:
    """Return ``withheld here``, or ``not known`` with what to ask for."""
    if isinstance(found, Withheld):
        return found.told or WITHHELD
    return "not known" + (f": {_first(found.missing)}" if found.missing else "")


def _unsaid(key: str, found: NotKnown | Withheld, figure: str) -> WordedAnswer:
    if isinstance(found, Withheld):
        return WordedAnswer(key=key, figure=DASH, word=found.told or WITHHELD, known=False)
    return WordedAnswer(key=key, figure=figure, word=_first(found.missing), known=False)
