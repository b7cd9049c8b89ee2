"""Who is where at a time ahead: the marks of Survivors count as the strip above them does."""

from datetime import UTC, datetime

from layers.earth.told import PersonsNow
from layers.survivors.muster.by_plan import carried_on
from layers.survivors.muster.ledger import Lot
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState
from layers.survivors.muster.persons import counts

AT = datetime(2027, 3, 17, 7, 0, tzinfo=UTC)


def place(name: str, sort: PlaceSort, *lots: Lot) -> PlaceState:
    return PlaceState(
        name=name, sort=sort, lots=lots, changed_at=AT, disputed=False, rests_on=("x",)
    )


def lot(persons: int, fitness: str) -> Lot:
    return Lot(persons=persons, fitness=fitness)


WHO = Muster(
    at=AT, pob=71, pob_disputed=0, conflicts=(), last_report_at=AT,
    rests_on=("x",),
    places=(
        place("forward", PlaceSort.REFUGE, lot(20, "walking"), lot(4, "stretcher")),
        place("after", PlaceSort.REFUGE, lot(1, "stretcher"), lot(13, "walking"), lot(1, "dead")),
        place("adrift", PlaceSort.SURFACE, lot(2, "unknown")),
        place("not heard of", PlaceSort.UNACCOUNTED, lot(12, "unknown")),
        place("chamber 1", PlaceSort.CHAMBER, lot(18, "walking")),
    ),
)  # fmt: skip


def persons(*, in_hull: int, in_vehicle: int, out: int, **by_place: int) -> PersonsNow:
    return PersonsNow(
        on_board=71, in_hull=in_hull, in_vehicle=in_vehicle, out=out, adrift=2, not_heard_of=12,
        dead=1, by_place=by_place,
    )  # fmt: skip


def test_whom_the_plan_has_lifted_stands_in_the_vehicle_and_not_in_the_refuge() -> None:
    then = persons(in_hull=24, in_vehicle=14, out=18, forward=24, after=0, LIMPET=14)
    found = counts(carried_on(WHO, then))
    assert (found["in_hull"], found["in_vehicle"], found["out"]) == (24, 14, 18)
    assert (found["dead"], sum(found.values())) == (1, 71)


def test_those_on_deck_by_plan_are_out_and_those_who_walk_go_first() -> None:
    then = persons(in_hull=28, in_vehicle=0, out=28, forward=24, after=4)
    made = carried_on(WHO, then)
    found = counts(made)
    assert (found["in_hull"], found["in_vehicle"], found["out"]) == (28, 0, 28)
    after = next(one for one in made.places if one.name == "after")
    assert (after.of("walking"), after.of("stretcher"), after.of("dead")) == (3, 1, 1)
    assert "on deck by plan" in [one.name for one in made.places]


def test_a_plan_that_has_moved_nobody_moves_nobody() -> None:
    then = persons(in_hull=38, in_vehicle=0, out=18, forward=24, after=14)
    assert carried_on(WHO, then) == WHO
