"""The muster against a tired hand: bodies, slips, corrections, retractions, several vehicles."""

from datetime import UTC, timedelta
from pathlib import Path

import pytest

from layers.contract import Moment
from layers.earth.errors import RecordRefused
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.survivors.muster.muster import muster, place_sorts
from layers.survivors.muster.persons import counts, persons_of
from tests.survivors_journal import AT, CATALOGUE, Told

HOUR = timedelta(hours=1)


def aboard(persons: int = 52) -> Told:
    told = Told()
    told.complement("sailing list", persons)
    return told


def who(told: Told, hours: float = 10.0):
    at = AT + hours * HOUR
    return muster(told.known(), Moment(at, at))


def test_before_anyone_is_heard_of_all_on_board_are_not_heard_of():
    found = counts(who(aboard(52)))
    assert found["not_heard_of"] == 52
    assert sum(found.values()) == 52


def test_a_body_brought_ashore_is_never_a_survivor():
    told = aboard()
    told.move("not accounted for", "forward", 10)
    told.move("forward", "dead", 1, hours=1.0)
    told.move("dead", "hospital", 1, hours=2.0)  # the mortuary of the hospital
    found = persons_of(who(told))
    assert (found.dead, found.out, found.in_hull) == (1, 0, 9)
    assert found.counted == 52
    told.move("hospital", "mortuary", [(1, "dead")], hours=3.0)
    assert persons_of(who(told)).dead == 1


def test_a_body_is_not_taken_for_somebody_who_walks():
    told = aboard()
    told.move("not accounted for", "dead", 1)
    with pytest.raises(RecordRefused, match="1 walking cannot leave 'dead'"):
        told.move("dead", "deck", [(1, "walking")])
    with pytest.raises(RecordRefused, match="booked as dead and would be alive"):
        told.move("dead", "deck", [(1, "walking", "dead")])
    read_back(told, "dead", "deck", {"persons": 1, "fitness": "walking", "was": "dead"})
    assert persons_of(who(told)).out == 1


def read_back(told: Told, origin: str, to: str, group: dict[str, object]) -> str:
    payload = {"from_place": origin, "to_place": to, "groups": [group], "reason": "as told"}
    return told.add("survivors.move", {**payload, "read_back": True})


def test_somebody_who_dies_in_the_refuge_is_dead_there():
    told = aboard()
    told.move("not accounted for", "forward", [(10, "walking")])
    told.move("forward", "forward", [(1, "dead", "walking")], hours=1.0)
    found = persons_of(who(told))
    assert (found.in_hull, found.dead, found.counted) == (9, 1, 52)


def test_named_as_missing_is_neither_dead_nor_not_heard_of():
    told = aboard(20)
    told.move("not accounted for", "deck", 18)
    told.move("not accounted for", "missing", 2, hours=1.0)
    found = persons_of(who(told))
    assert (found.missing, found.not_heard_of, found.dead, found.out) == (2, 0, 0, 18)


def vehicle(told: Told, name: str, seats: int) -> None:
    told.add("survivors.vehicle", {"name": name, "seats": seats, "cycle_h": 6.0})


def test_several_vehicles_and_the_chambers_of_the_plan_are_places():
    told = aboard()
    told.move("not accounted for", "forward", 30)
    vehicle(told, "LIMPET", 16)
    vehicle(told, "WHELK", 6)
    told.add("survivors.chamber", {"name": "chamber 3", "places": 12})
    told.move("forward", "LIMPET", 10, hours=1.0)
    told.move("forward", "WHELK", 5, hours=1.0)
    told.move("LIMPET", "chamber 3", 10, hours=2.0)
    found = persons_of(who(told))
    assert (found.in_vehicle, found.out, found.in_hull) == (5, 10, 15)
    assert found.by_place["chamber 3"] == 10


def test_twenty_five_into_sixteen_seats_is_asked_and_taken_when_read_back():
    told = aboard()
    told.move("not accounted for", "forward", 30)
    vehicle(told, "LIMPET", 16)
    for place in ("LIMPET", "vehicle"):
        with pytest.raises(RecordRefused, match="makes 25, and it has 16 places"):
            told.move("forward", place, 25, hours=1.0)
    read_back(told, "forward", "LIMPET", {"persons": 25})
    assert persons_of(who(told)).in_vehicle == 25


@pytest.mark.parametrize("place", ["hospital"])
def test_straight_from_the_refuge_to_hospital_is_asked(place: str):
    told = aboard()
    told.move("not accounted for", "forward", 30)
    with pytest.raises(RecordRefused, match="straight from 'forward' to 'hospital'"):
        told.move("forward", place, 2, hours=1.0)


def test_the_same_move_told_twice_by_two_rooms_is_asked():
    told = aboard()
    told.move("not accounted for", "forward", 30)
    told.move("forward", "vehicle", [(5, "unknown")], hours=1.0)
    with pytest.raises(RecordRefused, match="are booked already at"):
        told.move("forward", "vehicle", [(5, "unknown")], hours=1.05)


def test_a_list_told_twice_under_two_names_is_asked():
    told = aboard(60)
    with pytest.raises(RecordRefused, match="is it not the same part"):
        told.complement("the list", 60)
    told.complement("rider, observer", 1)
    told.complement("rider, engineer", 1)
    assert who(told).pob == 62


# Corrections and retractions, in a real journal ----------------------------------------------

WATCH = Actor(name="watch officer 1", role=Role.WATCH)


class Book:
    """A journal of its own file, through the writer's lock."""

    def __init__(self, folder: Path) -> None:
        now = (AT + 20 * HOUR).astimezone(UTC)
        self.journal: Journal = open_journal(str(folder / "j.sqlite"), CATALOGUE, clock=lambda: now)
        self.count = 0

    def add(self, kind: str, payload: dict[str, object], hours: float = 0.0) -> str:
        self.count += 1
        at = AT + hours * HOUR
        draft = Draft(
            kind=kind, payload=payload, valid_at=at, heard_at=at, source="telephone",
            identity=form_identity(str(self.count)),
        )  # fmt: skip
        self.journal.append(WATCH, [draft])
        return draft.id

    def move(self, origin: str, to: str, persons: int, hours: float) -> str:
        payload = {
            "from_place": origin, "to_place": to, "reason": "as told",
            "groups": [{"persons": persons}],
        }  # fmt: skip
        return self.add("survivors.move", payload, hours)

    def opinion(self, kind: str, target: str, **more: object) -> str:
        return self.add(kind, {"target": target, "reason": "as told", **more}, 19.0)

    def counts(self) -> dict[str, int]:
        at = AT + 20 * HOUR
        return counts(muster(self.known(), Moment(at, at)))

    def known(self) -> Known:
        at = AT + 20 * HOUR
        return Known(self.journal, CATALOGUE, self.journal.seq_at(at), at)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    found = Book(tmp_path)
    found.add("survivors.complement", {"part": "sailing list", "persons": 60})
    return found


def test_a_correction_passes_the_refusals_of_a_record(book: Book):
    first = book.move("not accounted for", "forward", 16, 1.0)
    book.move("forward", "vehicle", 16, 2.0)
    with pytest.raises(RecordRefused, match="160 cannot leave"):
        book.opinion("journal.correct", first, fields={"groups": [{"persons": 160}]})
    with pytest.raises(RecordRefused, match="'moon' is not a place"):
        book.opinion("journal.correct", first, fields={"to_place": "moon"})
    with pytest.raises(RecordRefused, match="would make the later move"):
        book.opinion("journal.correct", first, fields={"groups": [{"persons": 6}]})
    assert book.counts()["in_vehicle"] == 16


def test_a_correction_of_those_on_board_below_the_accounted_is_refused(book: Book):
    listed = book.known().entries("survivors.complement")[0].id
    book.move("not accounted for", "forward", 16, 1.0)
    with pytest.raises(RecordRefused, match="makes 5 on board, but 16 are accounted for"):
        book.opinion("journal.correct", listed, fields={"persons": 5})
    book.opinion("journal.correct", listed, fields={"persons": 59})
    assert sum(book.counts().values()) == 59


def test_what_a_retraction_takes_with_it_is_told_before(book: Book):
    first = book.move("not accounted for", "forward", 16, 1.0)
    book.move("forward", "vehicle", 10, 2.0)
    with pytest.raises(RecordRefused, match=r"1 others cannot stand.*10 from 'forward'"):
        book.opinion("journal.retract", first)
    assert book.counts()["in_vehicle"] == 10
    book.opinion("journal.retract", first, read_back=True)
    assert book.counts()["not_heard_of"] == 60


def test_a_retraction_that_takes_nothing_is_taken_at_once(book: Book):
    first = book.move("not accounted for", "forward", 16, 1.0)
    last = book.move("forward", "vehicle", 10, 2.0)
    book.opinion("journal.retract", last)
    assert book.counts()["in_hull"] == 16
    book.opinion("journal.retract", first)
    assert book.counts()["not_heard_of"] == 60


def test_a_move_that_cannot_stand_any_more_is_not_brought_back(book: Book):
    first = book.move("not accounted for", "forward", 60, 1.0)
    gone = book.opinion("journal.retract", first)
    book.move("not accounted for", "after", 30, 1.5)
    with pytest.raises(RecordRefused):
        book.opinion("journal.retract", gone)
    assert book.counts()["in_hull"] == 30


def test_places_of_the_plan_do_not_take_the_place_of_told_ones():
    told = aboard()
    vehicle(told, "LIMPET", 16)
    sorts = place_sorts(told.known())
    assert sorts["LIMPET"].value == "vehicle"
    assert sorts["deck"].value == "deck"
