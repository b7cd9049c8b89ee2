"""Moves that are possible on paper and hardly in life: asked back before they are taken.

A tired hand types 25 for 15. Such a move is refused with the question; said again with
``read_back`` it is taken as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from layers.earth.clock import dtg
from layers.earth.errors import RecordRefused
from layers.journal.known import Entry, Known
from layers.journal.record import Draft
from layers.journal.signature import read_signature
from layers.survivors.muster.model import Group, Move, PlaceSort
from layers.survivors.muster.muster import book, place_sorts, told
from layers.survivors.muster.on_board import in_order, persons_on_board

SAME_WITHIN = timedelta(minutes=10)
IN_HULL = (PlaceSort.REFUGE,)
ASHORE = (PlaceSort.HOSPITAL, PlaceSort.ASHORE)
OUT_OF_HER = (
    PlaceSort.DECK, PlaceSort.CHAMBER, PlaceSort.PICKED_UP, PlaceSort.SURFACE, *ASHORE,
)  # fmt: skip
BODIES = (PlaceSort.DEAD, PlaceSort.MORTUARY)


def asked(question: str, instead: str) -> RecordRefused:
    """Return the refusal that asks a question back."""
    return RecordRefused(
        question,
        where="asked back",
        accepted="the same with read_back when it was asked and said again (by voice: the same "
        f"line with 'confirmed' behind it); or {instead}",
    )


def ask_again(value: Move, draft: Draft, known: Known, entries: Sequence[Entry]) -> None:
    """Ask back what is hardly possible.

    Raises
    ------
    RecordRefused
        With the question; ``read_back`` answers it.
    """
    sorts = place_sorts(known)
    origin, to = sorts.get(value.from_place), sorts.get(value.to_place)
    if origin is None or to is None:
        return  # refused elsewhere, with the places there are
    alive = [g for g in value.groups if not _bodies(g, to)]
    _asked_of_the_dead(value, origin, alive)
    if alive and value.from_place != value.to_place:
        _asked_of_the_way(value, origin, to)
        _asked_of_the_room(value, to, known, draft)
    _asked_of_twins(value, draft, entries)


def _bodies(group: Group, to: PlaceSort) -> bool:
    return group.fitness == "dead" or to in BODIES


def _asked_of_the_dead(value: Move, origin: PlaceSort, alive: list[Group]) -> None:
    raised = sum(g.persons for g in alive if g.was == "dead")
    if raised:
        raise asked(
            f"{raised} in {value.from_place!r} are booked as dead and would be alive in "
            f"{value.to_place!r}: were they thought dead wrongly?",
            "fitness 'dead', and a body is moved",
        )


def _asked_of_the_way(value: Move, origin: PlaceSort, to: PlaceSort) -> None:
    if origin in IN_HULL and to in ASHORE:
        raise asked(
            f"{value.persons} straight from {value.from_place!r} to {value.to_place!r}: by which "
            "vehicle or ship?",
            "first the move into the vehicle, onto the deck or into a chamber",
        )
    if origin in OUT_OF_HER and to in IN_HULL:
        raise asked(
            f"{value.persons} from {value.from_place!r} back into {value.to_place!r}?",
            "the retraction of the move that brought them out",
        )
    if origin is PlaceSort.MISSING and to not in BODIES:
        raise asked(
            f"{value.persons} named as missing are found alive in {value.to_place!r}?",
            "fitness 'dead', for a body",
        )


def _asked_of_the_room(value: Move, to: PlaceSort, known: Known, draft: Draft) -> None:
    room = _places(value.to_place, to, known)
    if room is None:
        return
    before = told(known, draft.valid_at)
    held = book(persons_on_board(known, None).pob, place_sorts(known), before).ledger
    there = held.persons(value.to_place)
    if there + value.persons > room:
        raise asked(
            f"{value.persons} into {value.to_place!r} makes {there + value.persons}, and it has "
            f"{room} places",
            f"at most {max(room - there, 0)}",
        )


def _places(name: str, sort: PlaceSort, known: Known) -> int | None:
    """Return the places of a vehicle or chamber of the plan; None where nobody told them."""
    kind, field = {
        PlaceSort.VEHICLE: ("survivors.vehicle", "seats"),
        PlaceSort.CHAMBER: ("survivors.chamber", "places"),
    }.get(sort, ("", ""))
    if kind not in known.kinds:
        return None
    told = {e.value.name: int(getattr(e.value, field)) for e in in_order(known.entries(kind))}
    if name in told:
        return told[name]
    only = sort is PlaceSort.VEHICLE and name == "vehicle"  # the vehicle, whichever it is
    return max(told.values(), default=None) if only else None


def _asked_of_twins(value: Move, draft: Draft, entries: Sequence[Entry]) -> None:
    for entry in entries:
        other: Move = entry.value
        near = abs(entry.record.valid_at - draft.valid_at) <= SAME_WITHIN
        way = (other.from_place, other.to_place) == (value.from_place, value.to_place)
        if near and way and other.groups == value.groups:
            raise asked(
                f"{value.persons} from {value.from_place!r} to {value.to_place!r} are booked "
                f"already at {dtg(entry.record.valid_at)}, told by {entry.record.source}, recorded "
                f"by {read_signature(entry.record.author).words()}: are these others?",
                "nothing, when it is the same move told twice",
            )
