"""The watch's questions, each answered once for every screen, paper and command.

A layer declares which questions it answers and by what function (`Layer.answers`); here stand
only the order of the questions and the rules that join what several layers say. No layer is
named, and nothing is worded twice: strip, wall, plot, pages, slides, situation report, paper and
``python -m layers answers`` read this and nothing else. Whoever needs another headline adds an
answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from layers.catalogue import LAYERS
from layers.contract import Moment, Shown, Unavailable, View
from layers.earth.told import (
    AlarmNow,
    DiveVerdict,
    FirstOut,
    HerPlace,
    InputAge,
    NextDecision,
    PersonsNow,
    RefugeMargin,
    SearchNext,
    SortieNow,
    WayHome,
)
from layers.earth.uncertain import (
    NotKnown,
    Quantity,
    Stated,
    Withheld,
    first_of,
)
from layers.picture import Picture
from layers.watch.result import WatchState, most_pressing
from layers.watch.withheld import told_words

Persons = PersonsNow | NotKnown | Withheld
Place = Stated[HerPlace] | NotKnown | Withheld
Margins = Mapping[str, RefugeMargin]
Dive = Stated[DiveVerdict] | NotKnown | Withheld
Sortie = Stated[SortieNow] | NotKnown | Withheld
First = Stated[FirstOut] | NotKnown | Withheld
Decision = Stated[NextDecision] | NotKnown | Withheld
Search = Stated[SearchNext] | NotKnown | Withheld
Oldest = Stated[InputAge] | NotKnown | Withheld
Home = Stated[WayHome] | NotKnown | Withheld
ON_BOARD = "how many are on board"
NOTHING_WAITS = "nothing is waiting to be decided"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Every question with its answer at one moment, in the order in which the watch asks them.

    ``margin`` holds one entry a refuge, the one that ends first in front; ``least_margin`` joins
    them. ``margin_reason`` says why there is none.
    """

    moment: Moment
    persons: Persons
    position: Place
    margin: Margins
    margin_unless: NotKnown | Withheld | None
    all_out: Quantity
    dive: Dive
    sortie: Sortie
    next_decision: Decision
    first_out: First
    search_next: Search
    oldest_input: Oldest
    way_home: Home = field(default_factory=NotKnown)
    alarms: tuple[AlarmNow, ...] = field(default=())
    alarms_withheld: bool = False

    @property
    def least_margin(self) -> tuple[Quantity, RefugeMargin | None]:
        """The margin if nobody leaves, of all refuges together, and the refuge that binds."""
        if not self.margin:
            return self.margin_unless or NotKnown(missing=("nobody is known to wait",)), None
        parts = [one.if_nobody_leaves_h for one in self.margin.values()]
        joined = first_of(parts)
        return joined, next(iter(self.margin.values()))

    @property
    def alarms_untaken(self) -> tuple[AlarmNow, ...]:
        """The alarms that nobody has acknowledged."""
        return tuple(alarm for alarm in self.alarms if not alarm.taken_by)


def answers(picture: Picture, watch: WatchState) -> Answers:
    """Return the answers of a picture; what is cut from the picture is withheld here too."""
    told = LayersTold(picture, watch)
    margin, unless = _margin(told)
    found = Answers(
        moment=picture.moment,
        persons=told.first("persons", f"nobody is counted yet: {ON_BOARD}"),
        position=told.first("position", "a last known position"),
        margin=margin,
        margin_unless=unless,
        all_out=told.first("all_out", "the air of each refuge, and a plan of lifts"),
        dive=_dive(told),
        sortie=told.first("sortie", "a sortie's phases"),
        next_decision=_next_decision(told, watch),
        first_out=told.first("first_out", "a response that can be worked out"),
        search_next=told.first("search_next", "a searcher"),
        oldest_input=_oldest(told, picture.moment),
        way_home=told.first("way_home", "who has the vehicle, the gear and the people"),
        alarms_withheld=told.guarded,
        alarms=() if picture.moment.view is View.EXPECTED else _alarms(watch),
    )
    return at_rest(found, watch)


class LayersTold:
    """What each layer of a picture says to a question."""

    def __init__(self, picture: Picture, watch: WatchState | None = None) -> None:
        self.picture, self._watch = picture, watch

    @property
    def guarded(self) -> bool:
        """Whether this was read for a release that withholds more than names."""
        reading = self.picture.reading
        return reading is not None and reading.release.guarded

    def _words(self, question: str) -> str:
        """Return what the watch has told of it to those who read this release, with its time."""
        if self._watch is None:
            return ""
        entry = self._watch.told.get(question.replace("_", " "))
        return "" if entry is None else told_words(entry, self.picture.moment)

    def all(self, question: str) -> Iterator[Any]:
        """Yield what each layer that declares the question answers, in the catalogue's order."""
        for layer in LAYERS:
            answering = layer.answers.get(question)
            if answering is None:
                continue
            shown = self.picture.layers.get(layer.key)
            reading = self.picture.reading
            if reading is not None and any(map(reading.gone, answering.without)):
                yield Withheld(told=self._words(question))
            elif isinstance(shown, Shown) and not shown.closed:
                yield answering(shown.result, self.picture.moment)
            elif isinstance(shown, Shown) or (shown is not None and shown.withheld):
                yield Withheld(told=self._words(question))
            elif isinstance(shown, Unavailable):
                yield NotKnown(missing=(shown.headline,))

    def owed(self, question: str) -> tuple[str, ...]:
        """Return why layers that would answer say nothing yet: worked out still, or failed."""
        found = (self.picture.owed(layer.key, short=True) for layer in LAYERS
                 if question in layer.answers)  # fmt: skip
        return tuple(filter(None, found))

    def first(self, question: str, wanted: str) -> Any:
        """Return the first answer that knows something; else what would have to be known."""
        found = list(self.all(question))
        for one in found:
            if not isinstance(one, NotKnown | Withheld):
                return one
        return found[0] if found else NotKnown(missing=(wanted,))


def _margin(told: LayersTold) -> tuple[Margins, NotKnown | Withheld | None]:
    found: list[RefugeMargin] = []
    unless: NotKnown | Withheld | None = None
    for said in told.all("margin"):
        if isinstance(said, NotKnown | Withheld):
            unless = unless or said
        else:
            found += said
    found.sort(key=_ends_first)
    return {one.refuge: one for one in found}, None if found else (unless or NotKnown())


def _ends_first(one: RefugeMargin) -> tuple[bool, float]:
    """Sort by what is least; what is not known stands behind, it may be anything."""
    value = getattr(one.if_nobody_leaves_h, "value", None)
    if value is None:
        value = getattr(one.if_nobody_leaves_h, "at_most", None)
    return value is None, value if value is not None else 0.0


def _dive(told: LayersTold) -> Dive:
    """Join what forbids a dive: one *no* is enough, and what is not known is never a *yes*."""
    parts = list(told.all("dive"))
    if any(isinstance(part, Withheld) for part in parts):
        return next(part for part in parts if isinstance(part, Withheld))
    stated = [part for part in parts if isinstance(part, Stated)]
    unknown = [part for part in parts if isinstance(part, NotKnown)]
    if not stated:
        return unknown[0] if unknown else NotKnown(missing=("limits, a forecast, a vehicle",))
    shut = [part for part in stated if part.value.may is False]
    doubt = [part for part in stated if part.value.may is None]
    rests = _joined(stated)
    where = next((part.value.where for part in stated if part.value.where), "")
    read = min((part.value.read_at for part in stated if part.value.read_at), default=None)
    chance = min((c for part in stated if (c := part.value.chance) is not None), default=None)
    if shut:
        opens = [part.value.opens for part in shut]
        known = [at for at in opens if at is not None]
        last = max(known) if known and len(known) == len(opens) else None
        ends = [part.value.until for part in stated if part.value.may and part.value.until]
        if last is not None and any(end <= last for end in ends):
            last = None  # what is open now will have shut by then
        because = "; ".join(part.value.because for part in shut)
        then = shut[0].value.chance if last == shut[0].value.opens else None
        cause = replace(
            shut[0].value, because=because, opens=last, where=where, read_at=read, chance=then
        )
        return Stated(value=cause, **rests)
    if doubt:
        return Stated(value=replace(doubt[0].value, where=where, read_at=read), **rests)
    if unknown:
        verdict = DiveVerdict(may=None, because=", ".join(unknown[0].missing), where=where)
        return Stated(value=verdict, **rests)
    ends = [part.value.until for part in stated if part.value.until is not None]
    decide = [part.value.decide_by for part in stated if part.value.decide_by is not None]
    return Stated(
        value=replace(
            stated[0].value,
            until=min(ends) if ends else None,
            decide_by=min(decide) if decide else None,
            where=where,
            read_at=read,
            chance=chance,
        ),
        **rests,
    )


def _joined(parts: list[Stated[Any]]) -> dict[str, Any]:
    ids = tuple(dict.fromkeys(id_ for part in parts for id_ in part.rests_on))
    times = [part.at for part in parts if part.at is not None]
    return {"at": max(times) if times else None, "rests_on": ids}


def _next_decision(told: LayersTold, watch: WatchState) -> Decision:
    """Return what must be decided first, of the layers' hours and the watch's questions."""
    found: list[NextDecision] = [
        one for said in told.all("next_decision") if isinstance(said, tuple) for one in said
    ]
    found += [
        NextDecision(what=point.entry.value.what, by=point.until)
        for point in watch.questions
        if point.until is not None and not point.past
    ]
    if told.guarded:  # the watch's own questions are not read here
        return next((s for s in told.all("next_decision") if isinstance(s, Withheld)), Withheld())
    timed = sorted((one for one in found if one.by is not None), key=lambda one: str(one.by))
    if not timed:
        return NotKnown(missing=told.owed("next_decision") or (NOTHING_WAITS,))
    return Stated(value=timed[0], at=watch.at)


def inputs(picture: Picture) -> tuple[InputAge, ...]:
    """Return the readings that the answers rest on, the oldest first."""
    said = LayersTold(picture).all("inputs")
    found = [one for told in said if isinstance(told, tuple) for one in told]
    return tuple(sorted(found, key=lambda one: one.at))


def _oldest(told: LayersTold, moment: Moment) -> Oldest:
    """Return the oldest reading among those that grow old."""
    hidden = [one for one in told.all("inputs") if isinstance(one, Withheld)]
    if told.guarded and hidden:
        return hidden[0]  # an older one may be among what is withheld
    found = inputs(told.picture)
    aging = [one for one in found if one.ages and one.at <= moment.at]
    if not aging:
        return NotKnown(missing=told.owed("inputs") or ("no input yet",))
    oldest = min(aging, key=lambda one: one.at)
    # what a layer rests on that is not worked out yet, or failed, may be older
    return Stated(value=replace(oldest, at_least=bool(told.owed("inputs"))), at=moment.at)


def _alarms(watch: WatchState) -> tuple[AlarmNow, ...]:
    return tuple(
        AlarmNow(
            about=state.alarm.value.about,
            said=state.words(watch.at),
            since=state.alarm.record.valid_at,
            ended=None if state.ended is None else state.ended.record.valid_at,
            taken_by="" if state.taken is None else state.taken.value.by,
            record_id=state.alarm.id,
        )
        for state in most_pressing(watch.alarms, watch.at)
    )


def _rests(persons: object, watch: WatchState) -> bool:
    """Whether the operation is at its end: told so, and nobody is left to be brought out.

    Somebody in the hull, in a vehicle, adrift or not heard of keeps everything running, whatever
    was told.
    """
    if watch.stages or (watch.ended_at is None and watch.closed is None):
        return False
    return isinstance(persons, PersonsNow) and not (
        persons.in_hull or persons.in_vehicle or persons.adrift or persons.not_heard_of
    )


def at_rest(found: Answers, watch: WatchState) -> Answers:
    """Return the answers; at the end with windows, margins and what would come next at rest."""
    if not _rests(found.persons, watch):
        return found
    quiet = NotKnown(missing=(f"rests, {watch.stage_words()}",))
    return replace(
        found,
        margin={},
        margin_unless=quiet,
        all_out=quiet,
        dive=quiet,
        sortie=found.sortie if isinstance(found.sortie, Stated) else quiet,
        next_decision=quiet,
        first_out=quiet,
        search_next=quiet,
    )
