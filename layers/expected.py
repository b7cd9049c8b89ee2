"""What is expected at a time ahead: the plan as it is known now, carried on to that time.

A picture for a time ahead knows of no lift that has run meanwhile: by itself it would show
everybody still waiting, and a margin that begins anew at that hour. So people are moved by the
plan's likeliest hours, and the margin, the chance and first out are those of now: the hours at
which they end are absolute. The sea, the drift and the ships are the picture's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from layers.answers import Answers, LayersTold, answers
from layers.contract import View
from layers.earth.clock import clock_words
from layers.earth.told import PersonsNow, PlannedLift, SortieNow
from layers.earth.uncertain import NotKnown, Stated, Withheld
from layers.picture import Picture
from layers.watch.result import WatchState

OF_NOW = ("margin", "margin_unless", "all_out", "first_out")


def answers_for(picture: Picture, watch: WatchState, now: Picture | None) -> Answers:
    """Return the answers of a picture; of one for a time ahead by the plan.

    ``now`` is the picture of what is known now, which only a time ahead needs.
    """
    found = answers(picture, watch)
    if now is None or picture.moment.view is not View.EXPECTED:
        return found
    lifts = [
        lift
        for said in LayersTold(now).all("lifts_to_come")
        if not isinstance(said, NotKnown | Withheld)
        for lift in said
    ]
    return carried_on(found, answers(now, watch), lifts, picture.moment.at)


def carried_on(then: Answers, now: Answers, lifts: Sequence[PlannedLift], at: datetime) -> Answers:
    """Return the answers for a time ahead: of that picture, but for what the plan moves."""
    kept = {name: getattr(now, name) for name in OF_NOW}
    if isinstance(now.persons, PersonsNow):
        kept["persons"] = moved(now.persons, lifts, at)
    if lifts:
        kept["sortie"] = sortie_by_plan(lifts, at)
    return replace(then, **kept)


def moved(found: PersonsNow, lifts: Iterable[PlannedLift], at: datetime) -> PersonsNow:
    """Return the counts with those moved whom the plan has lifted by a time.

    A lift takes no more than wait in its refuge; one of which nobody said how many it takes moves
    nobody: better too few out by plan than too many.
    """
    places = dict(found.by_place)
    vehicle = out = 0
    for lift in sorted(lifts, key=lambda one: one.hatch):
        if lift.hatch > at or lift.persons is None:
            continue
        place = next((p for p in places if p.casefold() == lift.refuge.casefold()), None)
        waiting = places.get(place, 0) if place is not None else 0
        many = min(lift.persons, waiting, found.in_hull - vehicle - out)
        if many <= 0:
            continue
        assert place is not None  # somebody waits there
        places[place] = waiting - many
        if lift.deck <= at:
            out += many
        else:
            vehicle += many
            places[lift.vehicle] = places.get(lift.vehicle, 0) + many
    return replace(
        found,
        in_hull=found.in_hull - vehicle - out,
        in_vehicle=found.in_vehicle + vehicle,
        out=found.out + out,
        by_place=places,
        between={},  # what is planned is one number, and is said to be planned
    )


def sortie_by_plan(lifts: Iterable[PlannedLift], at: datetime) -> Stated[SortieNow]:
    """Return the sortie that is under way by the plan at a time."""
    for lift in lifts:
        if lift.dive <= at < lift.deck:
            hatch, deck = clock_words(lift.hatch, at), clock_words(lift.deck, at)
            said = f"by plan {lift.vehicle}, lift {lift.key}: hatch shut {hatch}, on deck {deck}"
            value = SortieNow(phase="by plan", vehicle=lift.vehicle, since=lift.dive, said=said)
            return Stated(value=value, at=at)
    return Stated(value=SortieNow(phase="", said="by plan no vehicle is down"), at=at)
