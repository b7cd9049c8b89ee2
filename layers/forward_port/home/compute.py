"""Where each thing is on its way home, when it is there and ready again, and who must be told.

The chain home is worked with all others (`chain/forecast.py`); here its hours are put to who has
what. Hours to make a thing ready again are added end to end: P10 and the least, P50 and the
likely, P90 and the most, so that the spread is rather too wide than too narrow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from layers.earth.clock import clock_words
from layers.earth.told import Hour, PlaceToTell, ThingHome
from layers.forward_port import model
from layers.forward_port.chain.activities import activities_of
from layers.forward_port.chain.alongside import alongside
from layers.forward_port.facts import Facts
from layers.forward_port.home.model import ReadyAgain, ToldComing, WhoHas
from layers.forward_port.result import ActivityForecast, Home, OptionForecast, Spread
from layers.journal.known import Entry, Known

TELL_AGAIN = timedelta(hours=1)  # common practice, no source
NO_WAY = "a way home: the chain back, and which of it ends here"
HOW_LONG = "how long {what} takes to be made ready"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One chain home with what it waits for, activity by activity."""

    forecast: OptionForecast
    before: Mapping[str, frozenset[str]]  # each activity and all it waits for

    @property
    def key(self) -> str:
        return self.forecast.option.key


def home_of(
    known: Known, facts: Facts, options: Sequence[OptionForecast], at: datetime
) -> Home | None:
    """Return the way home as known, None while neither who has what nor a chain home is told."""
    ways = [_way(each, facts) for each in options if each.option.purpose == "return"]
    held = _upto(known, "forward_port.held", at)
    ready = _upto(known, "forward_port.ready_again", at)
    told = _upto(known, "forward_port.told_coming", at)
    if not (ways or held or told):
        return None
    made = {_folded(e.value.what): e for e in ready}
    things = tuple(
        _thing(entries, made.get(name), ways) for name, entries in _grouped(held).items()
    )
    return Home(
        things=things,
        places=tuple(_places(things, ways, facts, told)),
        rests_on=tuple(entry.id for entry in (*held, *ready, *told)),
    )


def _upto(known: Known, kind: str, at: datetime) -> list[Entry]:
    found = [e for e in known.entries(kind) if e.record.valid_at <= at]
    return sorted(found, key=lambda e: (e.record.valid_at, e.record.seq))


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def _grouped(held: Iterable[Entry]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = {}
    for entry in held:
        found.setdefault(_folded(entry.value.what), []).append(entry)
    return found


def _way(each: OptionForecast, facts: Facts) -> _Way:
    waits: dict[str, tuple[str, ...]] = {}
    if each.activities:
        waits = {row.key: row.after for row in activities_of(each.option, facts)}
    before: dict[str, frozenset[str]] = {}

    def behind(key: str) -> frozenset[str]:
        if key not in before:
            before[key] = frozenset({key})  # a circle has no forecast: none comes here
            found = {key}
            for other in waits.get(key, ()):
                found |= behind(other)
            before[key] = frozenset(found)
        return before[key]

    for key in waits:
        behind(key)
    return _Way(forecast=each, before=before)


def _thing(entries: Sequence[Entry], made: Entry | None, ways: Sequence[_Way]) -> ThingHome:
    last: WhoHas = entries[-1].value

    def newest(of: Callable[[WhoHas], Any]) -> Any:
        return next((v for e in reversed(entries) if (v := of(e.value)) not in (None, "")), None)

    bound = newest(lambda one: one.bound_for) or ""
    key = newest(lambda one: one.by_way)
    mine = [way for way in ways if not key or way.key == key]
    way = mine[0] if len(mine) == 1 else None
    after = newest(lambda one: one.home_after) or (way.forecast.option.last if way else "")
    since = entries[-1].record.valid_at
    if bound and _folded(bound) in (_folded(last.kept_at), _folded(last.held_by)):
        home = Hour(done=_since(entries, bound))
    elif way is None:
        home = Hour(missing=(NO_WAY if not ways else f"which way {last.what} goes home",))
    else:
        home = _home(way, after)
    return ThingHome(
        what=last.what,
        sort=newest(lambda one: one.sort) or "",
        held_by=last.held_by,
        kept_at=last.kept_at,
        bound_for=bound,
        since=since,
        persons=newest(lambda one: one.persons),
        way=way.forecast.option.title if way else "",
        step="" if way is None or home.done else _step(way, after),
        home=home,
        ready=_ready(last.what, home, made, since),
        record_id=entries[-1].id,
    )


def _since(entries: Sequence[Entry], bound: str) -> datetime:
    """Return since when without a break it is where it was bound for."""
    since: datetime = entries[-1].record.valid_at
    for entry in reversed(entries):
        if _folded(bound) not in (_folded(entry.value.kept_at), _folded(entry.value.held_by)):
            break
        since = entry.record.valid_at
    return since


def _home(way: _Way, after: str) -> Hour:
    """Return when an activity of the chain home is done."""
    each = way.forecast
    if each.problem:
        return Hour(missing=(f"{each.option.title}: {each.problem}",))
    found = next((one for one in each.activities if one.key == after), None)
    if found is None:
        return Hour(missing=(f"the activity {after!r} of {each.option.title}",))
    if found.finished_at is not None:
        return Hour(done=found.finished_at)
    mine = way.before.get(after, frozenset({after}))
    open_ = [one.title for one in each.activities if one.key in mine and not one.finished_at]
    missing = tuple(said for said in each.unknowns if any(title in said for title in open_))
    return _hour(found.finish, missing)


def _hour(spread: Spread, missing: tuple[str, ...]) -> Hour:
    if missing:  # as in the chain's own table: what is not known counts as nothing
        return Hour(at_least=spread.p50, missing=missing)
    return Hour(p10=spread.p10, p50=spread.p50, p90=spread.p90)


def _step(way: _Way, after: str) -> str:
    """Return what of a chain home is under way for this thing, else what comes next."""
    mine = way.before.get(after, frozenset())
    left = [one for one in way.forecast.activities if one.key in mine and not one.finished_at]
    begun = [one for one in left if one.started_at is not None]
    if begun:
        return "; ".join(one.title for one in begun)
    following: ActivityForecast | None = min(left, key=lambda one: one.start.p50, default=None)
    return "" if following is None else f"next: {following.title}"


def _ready(what: str, home: Hour, made: Entry | None, held_since: datetime) -> Hour:
    """Return when a thing can be used again."""
    how_long = HOW_LONG.format(what=what)
    value: ReadyAgain | None = None if made is None else made.value
    if value is not None and value.is_ready and made is not None:
        # told ready and handed on since, it is on its way once more
        if home.done is not None or made.record.valid_at >= held_since:
            return Hour(done=made.record.valid_at)
        value = None
    if value is not None and value.again_at is not None:
        # an hour told, not worked out: it can not be sooner than the thing is home
        there = home.done or home.p50 or home.at_least
        if there is not None and there > value.again_at:
            return Hour(at_least=there, missing=(f"{how_long}: told for {value.again_at:%d %H%MZ}, "
                                                 "before it is home",))  # fmt: skip
        return Hour(p10=value.again_at, p50=value.again_at, p90=value.again_at)
    if value is None or value.least_h is None or value.likely_h is None or value.most_h is None:
        return Hour(
            at_least=home.done or home.p10 or home.at_least, missing=(*home.missing, how_long)
        )
    least, likely, most = (
        timedelta(hours=h) for h in (value.least_h, value.likely_h, value.most_h)
    )
    if home.done is not None:
        return Hour(p10=home.done + least, p50=home.done + likely, p90=home.done + most)
    if home.p10 is not None and home.p50 is not None and home.p90 is not None:
        return Hour(p10=home.p10 + least, p50=home.p50 + likely, p90=home.p90 + most)
    if home.at_least is not None:
        return Hour(at_least=home.at_least + least, missing=home.missing)
    return Hour(missing=home.missing)


def _places(
    things: Sequence[ThingHome], ways: Sequence[_Way], facts: Facts, told: Sequence[Entry]
) -> Iterable[PlaceToTell]:
    """Return each place that things come to, or that was told of some, with what is to be done."""
    wanted: dict[str, tuple[str, list[str], Hour]] = {}

    def want(place: str, coming: str, when: Hour) -> None:
        name, what, hour = wanted.setdefault(_folded(place), (place, [], when))
        if coming not in what:
            what.append(coming)
        wanted[_folded(place)] = (name, what, hour)

    for way in ways:
        for place, when in _touched(way, facts):
            if when.done is None:
                want(place, way.forecast.option.title, when)
    for thing in things:
        if thing.bound_for and thing.home.done is None:
            want(thing.bound_for, thing.what, thing.home)
    last = {_folded(e.value.port_or_hospital): e for e in told}
    for name, (place, what, when) in wanted.items():
        yield _to_tell(place, ", ".join(what), when, last.pop(name, None))
    for entry in last.values():
        yield _to_tell(entry.value.port_or_hospital, entry.value.coming, Hour(), entry)


def _touched(way: _Way, facts: Facts) -> Iterable[tuple[str, Hour]]:
    """Return the port and the airfield of a chain home, and when it comes there."""
    each = way.forecast
    out = facts.last("option", each.option.backwards_of) if each.option.backwards_of else None
    port = each.option.port or (out.port if out else "")
    field = each.option.airfield or (out.airfield if out else "")
    if port:
        option: model.Option = each.option.model_copy(update={"port": port})
        times = alongside(option, each.activities, facts)
        yield port, _spread_or(times, f"when it is at {port}")
    flights = [one for one in each.activities if one.leg is not None and one.leg.mode == "flight"]
    if field and flights:
        first = min(flights, key=lambda one: one.start.p50)
        if first.started_at is not None:
            yield field, Hour(done=first.started_at)
        else:
            yield field, _hour(first.start, tuple(each.unknowns) if each.at_least else ())


def _spread_or(times: Sequence[datetime], missing: str) -> Hour:
    if len(times) == 3:
        return Hour(p10=times[0], p50=times[1], p90=times[2])
    return Hour(done=times[0]) if times else Hour(missing=(missing,))


def _to_tell(place: str, coming: str, when: Hour, entry: Entry | None) -> PlaceToTell:
    value: ToldComing | None = None if entry is None else entry.value
    to_do = ""
    likely = when.p50 or when.at_least
    if value is None:
        to_do = "not told yet"
    elif value.accepted == "refuses":
        to_do = "refuses: another place is needed"
    elif likely is not None and value.expected_at is None:
        to_do = "no hour was told"
    elif likely is not None and abs(likely - (value.expected_at or likely)) > TELL_AGAIN:
        now = clock_words(likely, value.expected_at or likely)
        to_do = f"tell again: {'not before ' if when.p50 is None else ''}{now}"
    if not to_do and value is not None and value.accepted == "not answered":
        to_do = "told, not answered"
    return PlaceToTell(
        place=place,
        coming=coming or (value.coming if value else ""),
        expected=when,
        told_at=None if entry is None else entry.record.valid_at,
        told_expected=None if value is None else value.expected_at,
        to_whom="" if value is None else value.to_whom,
        accepted="" if value is None else value.accepted,
        to_do=to_do,
    )
