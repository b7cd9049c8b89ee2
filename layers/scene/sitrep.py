"""A situation report in the lettered paragraphs of the IAMSAR form, as plain text.

Each figure of a paragraph is followed by the number of the record it rests on, so that it can be
looked up; before them stand the watch's four answers, as on every screen.

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
from datetime import datetime

from layers import answer_words
from layers.answers import Answers
from layers.catalogue import IN_WORDS
from layers.contract import Layer, Shown
from layers.datum.adrift.objects import suspended
from layers.datum.before.base import latest, upto
from layers.datum.before.movement import movement_of
from layers.earth.clock import dtg, relative_words
from layers.earth.position import Position
from layers.earth.said.alike import visible
from layers.earth.units import M_PER_NMI
from layers.forward_port.home import report as home
from layers.journal.known import Known
from layers.journal.words.fields import WITHIN_95
from layers.picture import Picture
from layers.scene.release import POSITION_WITHHELD, Release, Stamp, checked
from layers.survivors.muster.boat import boat_of
from layers.watch.closing import left_open
from layers.watch.desk import Desk
from layers.watch.result import WatchState
from layers.watch.state import state

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
MOST_SOURCES = 6
URGENT = "URGENCY"
_HEAD = re.compile(r"([A-HJ-N])\. [A-Z]")
_NUMBERED = re.compile(r"SITREP (\d{1,3})\b", re.ASCII)
_CITED = re.compile(r"\(records? (\d{1,9}(?:, \d{1,9})*)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffWords:
    """What the staff adds to a situation report; what is left empty says ``not reported``."""

    number: int = 1
    priority: str = URGENT
    from_whom: str = ""
    to_whom: str = ""
    identity: str = ""
    assistance: str = ""
    coordinator: str = ""
    description: str = ""


def sitrep(
    made: Picture,
    known: Known,
    found: Answers,
    stamp: Stamp,
    release: Release,
    told: StaffWords,
    *,
    full: bool = True,
) -> str:
    """Return the situation report as text to copy into a message.

    ``found`` are the answers of the picture: the four stand before the lettered paragraphs.
    """
    watch = state(known, made.moment)
    ended = watch.ended_at is not None or watch.closed is not None
    checked(made, release)
    seqs = {} if release.guarded else _numbers(known)
    own = answer_words.WITHHELD if release.guarded else ""  # the watch's own words
    first = _boat(known, made.moment.at)
    body = {
        "A": told.identity or _cited(first.name, first.name_from, seqs) or NOT_REPORTED,
        "B": _joined(_last_known(known, made.moment.at, release, seqs), _layers(made, "B", seqs)),
        "C": _joined(
            _situation(watch, seqs),
            _given_up(known, made.moment.at, seqs),
            _last_contact(known, made.moment.at, seqs),
        ),
        "D": _layers(made, "D", seqs),
        "E": told.assistance or own or _help(watch.desk, seqs) or NOT_REPORTED,
        "F": told.coordinator
        or own
        or _coordinator(watch.desk, seqs)
        or told.from_whom
        or NOT_REPORTED,
    }
    if full:
        body |= {
            "G": told.description
            or _cited(first.description, first.rests_on, seqs)
            or NOT_REPORTED,
            "H": _layers(made, "H", seqs),
            "J": _joined(own or _actions(watch, seqs), _layers(made, "J", seqs)),
            "K": _search(known, release, seqs),
            "L": own or _tasks(watch, seqs),
            "M": _left(found, watch, own) if ended else _plans(made, watch, seqs),
            "N": _layers(made, "N", seqs),
        }
    lines = [part for part in (stamp.banner, stamp.marking) if part]
    lines += [
        "ROUTINE" if ended and told.priority == URGENT else told.priority,
        dtg(made.moment.at),
        f"FROM {told.from_whom or NOT_REPORTED}",
        f"TO {told.to_whom or NOT_REPORTED}",
        f"SAR SITREP {told.number}{' FINAL' if ended else ''}",
    ]
    lines += ["IN SHORT", *(f"   {one.line}" for one in answer_words.four(found))]
    for letter, text in body.items():
        lines.append(f"{letter}. {HEADS[letter]}")
        lines += [f"   {line}" for line in text.splitlines()]
    lines += [stamp.time_words, *stamp.lines()[-3:]]
    if stamp.banner:
        lines.append(stamp.banner)
    return visible("\n".join(lines)) + "\n"


def _joined(*parts: str) -> str:
    """Return the lines that say something; what is not reported stands only by itself."""
    said = [part for part in parts if part and part != NOT_REPORTED]
    return "\n".join(said) or NOT_REPORTED


@dataclass(frozen=True, slots=True, kw_only=True)
class _Boat:
    name: str
    name_from: tuple[str, ...]
    description: str
    rests_on: tuple[str, ...]


def _boat(known: Known, at: datetime) -> _Boat:
    """Return the boat as told, empty where the release does not read her."""
    if "survivors.boat" not in known.kinds:
        return _Boat(name="", name_from=(), description="", rests_on=())
    boat = boat_of(known, at)
    return _Boat(
        name=boat.name or "",
        name_from=boat.rests_on if boat.name else (),
        description=boat.words(),
        rests_on=boat.rests_on,
    )


def _last_known(known: Known, at: datetime, release: Release, seqs: dict[str, int]) -> str:
    """Return where she was last known to be, when, how good it is, and by whom."""
    if not release.exact_position or "datum.lkp" not in known.kinds:
        return ""
    last = latest(upto(known, "datum.lkp", at))
    if last is None:
        return ""
    where, within = last.value, last.value.sigma_m * WITHIN_95 / M_PER_NMI
    text = (
        f"Last known position {Position(where.latitude_deg, where.longitude_deg)} at "
        f"{dtg(last.record.valid_at)}, within {within:.2g} nmi (95 %), {where.reported_by}"
    )
    return _cited(text, (last.id,), seqs)


def _last_contact(known: Known, at: datetime, seqs: dict[str, int]) -> str:
    """Return when she was last heard from, and the report that did not come."""
    heard: list[tuple[datetime, str]] = []
    if "datum.lkp" in known.kinds and (last := latest(upto(known, "datum.lkp", at))):
        heard.append((last.record.valid_at, last.id))
    if "survivors.boat" in known.kinds:
        boat = boat_of(known, at)
        if boat.last_heard_at is not None:
            heard.append((boat.last_heard_at, next(iter(boat.rests_on), "")))
    lines = []
    if heard:
        when, id_ = max(heard)
        lines.append(_cited(f"Last contact {dtg(when)}", (id_,), seqs))
    if "datum.intended_movement" in known.kinds:
        entries = upto(known, "datum.intended_movement", at)
        movement = movement_of(entries, min(at, *(when for when, _ in heard), at), at)
        if movement is not None and movement.due is not None:
            gone = "missed, " if movement.due <= at else ""
            text = f"Report due {dtg(movement.due)}, {gone}{relative_words(movement.due, at)}"
            told = [e.id for e in movement.entries if e.value.report_due is not None]
            lines.append(_cited(text, told, seqs))
    return "\n".join(lines)


def _help(desk: Desk, seqs: dict[str, int]) -> str:
    """Return what was asked for and is not answered with yes, with the hour it helps until."""
    lines = []
    for each in desk.asked:
        if not (each.open or each.answered is None or each.answered.value.answer == "in part"):
            continue
        value = each.asked.value
        until = f", helps until {dtg(value.helps_until)}" if value.helps_until else ""
        lines.append(_cited(f"{value.what}, asked of {value.asked_of}{until}",
                            (each.asked.id,), seqs))  # fmt: skip
    return "\n".join(lines)


def _coordinator(desk: Desk, seqs: dict[str, int]) -> str:
    """Return who coordinates, by office, as the watch recorded it."""
    found = desk.office("rescue coordinator", "coordinator", "SSRA", "RCC")
    if found is None:
        return ""
    reach = f", {found.value.reach}" if found.value.reach else ""
    return _cited(f"{found.value.who} ({found.value.office}{reach})", (found.id,), seqs)


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


def _said(made: Picture, layer: Layer, letter: str, seqs: dict[str, int]) -> str:
    shown = made.layers[layer.key]
    if not isinstance(shown, Shown):
        # what a page says to its user (enter this, add that) is no business of a reader's
        told = layer.report == letter and "withheld" in shown.reason.lower()
        return shown.reason if told else NOT_REPORTED
    whole = {layer.report: shown.sentence}
    said = whole if layer.reported is None or shown.closed else layer.reported(shown.result)
    text = said.get(letter, "")
    return _cited(text, getattr(shown.result, "rests_on", ()), seqs) if text else ""


def _layers(made: Picture, letter: str, seqs: dict[str, int]) -> str:
    """Return what the layers say that stand in this paragraph, a line each."""
    lines = []
    for layer in IN_WORDS:
        if layer.key in made.layers:
            lines.append(_said(made, layer, letter, seqs))
    return _joined(*dict.fromkeys(lines))


def next_number(known: Known) -> int:
    """Return the number of the next report: one more than the last that was noted as sent.

    Noted on the page that makes it, or in words as told to people outside.
    """
    said = [entry.value.what for entry in known.entries("watch.export")]
    if "watch.told_outside" in known.kinds:
        said += [entry.value.told for entry in known.entries("watch.told_outside")]
    sent = [int(found[1]) for text in said if (found := _NUMBERED.match(text))]
    return min(max(sent, default=0) + 1, 999)


def precedence(watch: WatchState) -> str:
    """Return what is proposed: DISTRESS once she is held to be in danger, URGENCY before."""
    return "DISTRESS" if watch.stage in ("SUBMISS", "SUBSUNK") else "URGENCY"


def _situation(watch: WatchState, seqs: dict[str, int]) -> str:
    if not watch.stages:
        ended = watch.ended_at
        return NOT_REPORTED if ended is None else f"Alert ended {dtg(ended)}"
    return "\n".join(
        _cited(f"{clock.stage} declared {dtg(clock.declared_at)}", (clock.record_id,), seqs)
        for clock in watch.stages
    )


def _given_up(known: Known, at: datetime, seqs: dict[str, int]) -> str:
    """Return which searches are suspended, by whose decision and since when."""
    if "datum.search_suspended" not in known.kinds:
        return ""
    lines = []
    for name, entry in suspended(known, at).items():
        why = f": {entry.value.reason}" if entry.value.reason else ""
        text = f"Search for {name} suspended {dtg(entry.record.valid_at)} by {entry.value.by}{why}"
        lines.append(_cited(text, (entry.id,), seqs))
    return "\n".join(lines)


def _left(found: Answers, watch: WatchState, own: str) -> str:
    """Return that nothing more is planned, and what stands open."""
    way = home.left_open(found.way_home)
    left = [] if own else [f"Left open: {each}" for each in left_open(watch, way)]
    return "\n".join([f"None, {watch.stage_words()}", *left])


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


def _plans(made: Picture, watch: WatchState, seqs: dict[str, int]) -> str:
    lines = [_cited(e.words(made.moment.at), (e.record_id,), seqs) for e in watch.ahead[:4]]
    return _joined(_layers(made, "M", seqs), *lines)
