"""The way home in words: a sentence, two tables, an answer, a line for the wall."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from layers.contract import Moment
from layers.earth.clock import clock_words, dtg
from layers.earth.table import Column, Table
from layers.earth.told import Hour, PlaceToTell, ThingHome, WayHome
from layers.earth.uncertain import NotKnown, Stated
from layers.forward_port.result import ForwardPortResult, Home

WHO_HAS = "who has the vehicle, the gear and the people"


def answer(result: ForwardPortResult, moment: Moment) -> Stated[WayHome] | NotKnown:
    """Return the way home of each thing; not known while nobody has told who has what."""
    home = result.home
    if home is None or not home.things:
        return NotKnown(missing=(WHO_HAS,))
    return Stated(
        value=WayHome(things=home.things, places=home.places),
        at=max(one.since for one in home.things),
        rests_on=home.rests_on,
    )


def hour_words(hour: Hour, now: datetime, done: str = "done") -> str:
    """Return an hour in any form: done, with its P10 and P90, not before, not known."""
    if hour.done is not None:
        return f"{done} {clock_words(hour.done, now)}"
    if hour.p50 is not None and hour.p10 is not None and hour.p90 is not None:
        if hour.p10 == hour.p90:
            return clock_words(hour.p50, now)
        spread = f"P10 {clock_words(hour.p10, now)}, P90 {clock_words(hour.p90, now)}"
        return f"P50 {clock_words(hour.p50, now)} ({spread})"
    lacks = f"not known: {hour.missing[0]}" if hour.missing else "not known"
    more = f" and {len(hour.missing) - 1} more" if len(hour.missing) > 1 else ""
    if hour.at_least is not None:
        return f"not before {clock_words(hour.at_least, now)}, {lacks}{more}"
    return lacks + more


def where_words(thing: ThingHome, now: datetime) -> str:
    """Return who has it, where, and since when."""
    place = f" at {thing.kept_at}" if thing.kept_at else ""
    return f"{thing.held_by}{place} since {clock_words(thing.since, now)}"


def sentence(home: Home, now: datetime) -> str:
    """Return who has what, when it is home and ready again, and who is still to be told."""
    said = [_thing_said(one, now) for one in home.things]
    if not home.things:
        said.append(f"Way home: not known: {WHO_HAS}.")
    to_do = [f"{one.place} ({one.to_do})" for one in home.places if one.to_do]
    if to_do:
        said.append(f"To be told of the way home: {', '.join(to_do)}.")
    return " ".join(said)


def _thing_said(one: ThingHome, now: datetime) -> str:
    text = f"{one.what}: with {where_words(one, now)}"
    if one.persons is not None:
        text = f"{one.what} ({one.persons} persons): with {where_words(one, now)}"
    if one.step:
        text += f"; {one.step}"
    text += f"; home {hour_words(one.home, now, 'since')}"
    return f"{text}; ready again {hour_words(one.ready, now, 'since')}."


def things_table(home: Home, now: datetime) -> Table:
    """Return one row a thing."""
    return Table.of(
        home.things,
        Column("What", lambda one: _what(one)),
        Column("Who has it", lambda one: one.held_by),
        Column("Where", lambda one: one.kept_at or "not told"),
        Column("Since (Z)", lambda one: dtg(one.since)),
        Column("Way", lambda one: one.way or "not known"),
        Column("Under way", lambda one: one.step or ("home" if one.home.done else "not known")),
        Column("Home (Z)", lambda one: hour_words(one.home, now)),
        Column("Ready again (Z)", lambda one: hour_words(one.ready, now, "since")),
    )


def _what(one: ThingHome) -> str:
    count = "" if one.persons is None else f", {one.persons}"
    return f"{one.what} ({one.sort or 'vehicle, gear or people: not told'}{count})"


def places_table(home: Home, now: datetime) -> Table:
    """Return one row a port, airfield or hospital."""
    return Table.of(
        home.places,
        Column("Port, airfield or hospital", lambda one: one.place),
        Column("What comes", lambda one: one.coming or "not told"),
        Column("Expected there (Z)", lambda one: hour_words(one.expected, now, "since")),
        Column("Told", _told_words),
        Column("To be done", lambda one: one.to_do or "nothing"),
    )


def _told_words(one: PlaceToTell) -> str:
    if one.told_at is None:
        return "no"
    whom = f" {one.to_whom}" if one.to_whom else ""
    hour = f" for {dtg(one.told_expected)}" if one.told_expected else ", no hour"
    return f"{dtg(one.told_at)}{whom}{hour}: {one.accepted}"


def tables(result: ForwardPortResult) -> dict[str, Table]:
    """Return both tables, empty while nothing of a way home is told."""
    if result.home is None:
        return {}
    return {
        "The way home": things_table(result.home, result.now),
        "Told of the way home": places_table(result.home, result.now),
    }


def wall_line(result: ForwardPortResult) -> str:
    """Return the first vehicle that is not ready again, who has it and when it is home."""
    home: Any = result.home
    for one in home.things if home is not None else ():
        if one.sort == "vehicle" and one.ready.done is None:
            return f"{one.what} with {one.held_by}, home {_short(one.home, result.now)}"
    return ""


def _short(hour: Hour, now: datetime) -> str:
    if hour.done is not None:
        return f"since {clock_words(hour.done, now)}"
    if hour.p50 is not None:
        return clock_words(hour.p50, now)
    if hour.at_least is not None:
        return f"not before {clock_words(hour.at_least, now)}"
    return "not known"


def left_open(found: object) -> tuple[str, ...]:
    """Return what of the way home nobody has brought to an end, for whoever closes."""
    if not isinstance(found, Stated) or not isinstance(found.value, WayHome):
        return ()
    way: WayHome = found.value
    said = [f"{one.what} is not home: with {one.held_by}" for one in way.things
            if one.home.done is None]  # fmt: skip
    said += [f"{one.what} is not ready again" for one in way.things
             if one.home.done is not None and one.ready.done is None]  # fmt: skip
    said += [f"{one.place}, told of the way home: {one.to_do}" for one in way.places if one.to_do]
    return tuple(said)
