"""What the muster will not take, each with its sentence; run inside the writer's lock."""

from __future__ import annotations

from layers.earth.clock import dtg
from layers.earth.errors import InputError, RecordRefused
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.survivors.muster.ledger import moved
from layers.survivors.muster.model import UNACCOUNTED, Complement, Move, Place, Report
from layers.survivors.muster.muster import book, in_order, persons_on_board, place_sorts


def refuse_move(value: Move, draft: Draft, known: Known) -> None:
    """Refuse a move that cannot stand, or that would make a later one impossible.

    Raises
    ------
    RecordRefused
        With how many there are and what is accepted; the ledger is unchanged.
    """
    complement = persons_on_board(known, None)
    if not complement.rests_on:
        raise RecordRefused(
            "nobody has said how many were on board",
            where="survivors.move",
            accepted="first the complement",
        )
    entries = in_order(known.entries("survivors.move"))
    sorts = place_sorts(known)
    before = book(complement.pob, sorts, entries)
    earlier = [e for e in before.stood if e.record.valid_at <= draft.valid_at]
    later = [e for e in before.stood if e.record.valid_at > draft.valid_at]
    try:
        ledger = moved(book(complement.pob, sorts, earlier).ledger, value)
    except InputError as reason:
        raise RecordRefused(
            reason.what, where=f"move at {dtg(draft.valid_at)}", accepted=reason.accepted
        ) from None
    for entry in later:
        try:
            ledger = moved(ledger, entry.value)
        except InputError as reason:
            raise RecordRefused(
                f"it would make the later move at {dtg(entry.record.valid_at)} impossible: "
                f"{reason.what}",
                where=f"move at {dtg(draft.valid_at)}",
                accepted="a time after that move, or first its retraction",
            ) from None


def refuse_report(value: Report, draft: Draft, known: Known) -> None:
    """Refuse a headcount above POB or at a place that is not there."""
    place, persons = value.place, value.persons
    sorts = place_sorts(known)
    if place not in sorts:
        raise RecordRefused(
            f"{place!r} is not a place in the muster", where="place", accepted=", ".join(sorts)
        )
    complement = persons_on_board(known, None)
    if complement.rests_on and persons > complement.pob:
        raise RecordRefused(
            f"{persons} at {place!r} is more than the {complement.pob} persons on board",
            where="persons",
            accepted=f"0 to {complement.pob}, or first a change of the complement",
        )


def refuse_complement(value: Complement, draft: Draft, known: Known) -> None:
    """Refuse a restated part that would leave fewer on board than are already accounted for."""
    part, persons = value.part, value.persons
    held = persons_on_board(known, None)
    older = [
        e.value.persons
        for e in in_order(known.entries("survivors.complement"))
        if e.value.part == part and e.record.source == draft.source
    ]
    if not older:
        return
    pob = held.pob - older[-1] + persons
    booked = book(held.pob, place_sorts(known), in_order(known.entries("survivors.move")))
    accounted = booked.ledger.total - booked.ledger.persons(UNACCOUNTED)
    if pob < accounted:
        raise RecordRefused(
            f"{persons} in {part!r} makes {pob} on board, but {accounted} are accounted for",
            where="persons",
            accepted=f"at least {persons + accounted - pob}",
        )


def refuse_place(value: Place, draft: Draft, known: Known) -> None:
    """Refuse a place that is already there as something else."""
    held = place_sorts(known).get(value.name)
    if held is not None and held is not value.sort:
        raise RecordRefused(
            f"{value.name!r} is already a place ({held})", where="name", accepted="another name"
        )
