"""What the muster will not take, each with its sentence; run inside the writer's lock."""

from __future__ import annotations

from difflib import SequenceMatcher

from layers.earth.clock import clock_words, dtg
from layers.earth.errors import InputError, RecordRefused
from layers.journal.known import Known
from layers.journal.record import Draft, Record
from layers.journal.side_by_side import by_others, the_same
from layers.survivors.muster.asked import ask_again, asked
from layers.survivors.muster.ledger import moved
from layers.survivors.muster.model import UNACCOUNTED, Complement, Move, PlaceOfPeople, Report
from layers.survivors.muster.muster import Booked, book, place_sorts, told
from layers.survivors.muster.on_board import in_order, persons_on_board

MANY = 5  # two parts of so many alike are asked about; riders come one by one


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
    if not value.read_back:
        ask_again(value, draft, known, entries)
    accounts = told(known)
    earlier = [e for e in accounts if e.record.valid_at <= draft.valid_at]
    # what stands now must stand afterwards, where a move is corrected too
    here, whole = {e.id for e in accounts}, known.whole
    stands = book(persons_on_board(whole, None).pob, sorts, told(whole)).stood
    later = [e for e in stands if e.record.valid_at > draft.valid_at and e.id in here]
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


def ask_move(value: Move, draft: Draft, known: Known, author: str) -> None:
    """Ask when another hand has booked people on the same way a short while ago.

    Raises
    ------
    AskedFirst
        Says who booked how many, when.
    """
    if value.read_back:
        return
    for entry in by_others(known.entries("survivors.move"), draft, known, author):
        other: Move = entry.value
        if (other.from_place, other.to_place) == (value.from_place, value.to_place):
            at = clock_words(entry.record.valid_at, known.as_of)
            said = f"{other.persons} from {other.from_place} to {other.to_place} at {at}"
            raise the_same(said, entry.record, known)


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
    """Refuse a part that leaves fewer on board than are accounted for; ask about one told twice."""
    part, persons = value.part, value.persons
    parts: dict[str, dict[str, int]] = {}
    for entry in in_order(known.entries("survivors.complement")):
        parts.setdefault(entry.value.part, {})[entry.record.source] = entry.value.persons
    told = parts.setdefault(part, {})
    new = not told
    told[draft.source] = persons
    pob = sum(max(sources.values()) for sources in parts.values())
    accounted = _accounted(known)
    if pob < accounted:
        raise RecordRefused(
            f"{persons} in {part!r} makes {pob} on board, but {accounted} are accounted for",
            where="persons",
            accepted=f"at least {persons + accounted - pob}",
        )
    twin = next((p for p in parts if new and p != part and _alike(p, part, parts, persons)), None)
    if twin is not None and not value.read_back:
        raise asked(
            f"{persons} in {part!r} would be counted beside {max(parts[twin].values())} in "
            f"{twin!r}, {pob} on board in all: is it not the same part?",
            f"the part under its name {twin!r}",
        )


def _alike(other: str, part: str, parts: dict[str, dict[str, int]], persons: int) -> bool:
    """Whether two parts may be one under two names."""
    a, b = other.casefold(), part.casefold()
    likeness = SequenceMatcher(None, a, b).ratio()
    same = persons >= MANY and persons in parts[other].values()
    return same or likeness > 0.8 or (min(len(a), len(b)) > 3 and (a in b or b in a))


def _accounted(known: Known) -> int:
    """Return how many the moves have placed anywhere, whatever was said to be on board."""
    everybody = 100_000
    booked = book(everybody, place_sorts(known), told(known))
    return everybody - booked.ledger.persons(UNACCOUNTED)


def refuse_place(value: PlaceOfPeople, draft: Draft, known: Known) -> None:
    """Refuse a place that is already there as something else."""
    held = place_sorts(known).get(value.name)
    if held is not None and held is not value.sort:
        raise RecordRefused(
            f"{value.name!r} is already a place ({held})", where="name", accepted="another name"
        )


def moves_taken_with(record: Record, known: Known) -> str:
    """Return which moves would fall if one were retracted, empty when none."""
    pob, sorts = persons_on_board(known, None).pob, place_sorts(known)
    now, without = book(pob, sorts, told(known)), told(known.without(record.id))
    return _fallen(now, book(pob, sorts, without), "without this move")


def complement_taken_with(record: Record, known: Known) -> str:
    """Return which moves would fall if a part of those on board were retracted."""
    sorts, moves = place_sorts(known), told(known)
    now = persons_on_board(known, None).pob
    then = persons_on_board(known.without(record.id), None).pob
    said = f"without this part {then} instead of {now} are on board"
    return _fallen(book(now, sorts, moves), book(then, sorts, moves), said)


def place_taken_with(record: Record, known: Known) -> str:
    """Return which moves would fall if a place were retracted."""
    pob, moves = persons_on_board(known, None).pob, told(known)
    then = place_sorts(known.without(record.id))
    return _fallen(
        book(pob, place_sorts(known), moves), book(pob, then, moves), "without this place"
    )


def _fallen(now: Booked, then: Booked, said: str) -> str:
    stands = {entry.id for entry in then.stood}
    gone = {entry.id for entry, _ in then.set_aside}
    fallen = [e for e in now.stood if e.id not in stands and e.id in gone]
    if not fallen:
        return ""
    named = "; ".join(
        f"{e.value.persons} from {e.value.from_place!r} to {e.value.to_place!r} at "
        f"{dtg(e.record.valid_at)}"
        for e in fallen[:4]
    )
    more = f" and {len(fallen) - 4} more" if len(fallen) > 4 else ""
    return f"{said} {len(fallen)} others cannot stand and are set aside: {named}{more}"
