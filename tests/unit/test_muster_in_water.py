"""People told to be in the water are adrift in every count, before and after a move is booked.

Written from the text: everybody on board is in exactly one count, and who is adrift is read from
the wall alone.
"""

from __future__ import annotations

from datetime import timedelta

from layers.contract import Moment
from layers.survivors.muster.muster import Muster, muster
from layers.survivors.muster.persons import counts, persons_of
from tests.survivors_journal import AT, Told


def begun(on_board: int = 45) -> Told:
    told = Told()
    told.complement("sailing list", on_board)
    told.add("survivors.report", {"place": "forward", "persons": 12}, 0.5)
    return told


def water(told: Told, group: str, persons: int, hours: float, *, recovered: bool = False) -> None:
    told.add("survivors.in_water", {
        "group": group, "persons": persons, "since": AT.isoformat(), "clothing": "not known",
        "recovered": recovered,
    }, hours)  # fmt: skip


def who(told: Told, hours: float = 9.0) -> Muster:
    at = AT + timedelta(hours=hours)
    return muster(told.known(), Moment(at, at))


def held(told: Told) -> tuple[int, int, int, int]:
    found = counts(who(told))
    assert sum(found.values()) == who(told).pob
    return found["in_hull"], found["adrift"], found["not_heard_of"], found["out"]


def test_who_is_told_to_be_in_the_water_is_adrift_and_not_unheard_of() -> None:
    told = begun()
    water(told, "three", 3, 1.0)
    assert held(told) == (12, 3, 30, 0)
    water(told, "two more", 2, 2.0)
    assert held(told) == (12, 5, 28, 0)
    water(told, "three", 4, 3.0)  # told again, with another count
    assert held(told) == (12, 6, 27, 0)


def test_a_move_that_says_where_they_came_from_counts_nobody_twice() -> None:
    told = begun()
    water(told, "three", 3, 1.0)
    told.move("forward", "on the surface", [(3, "unknown")], 2.0)
    assert held(told) == (9, 3, 33, 0)


def test_who_is_picked_up_is_out_and_not_adrift_again() -> None:
    told = begun()
    water(told, "three", 3, 1.0)
    told.move("on the surface", "picked up", [(3, "unknown")], 2.0)
    assert held(told) == (12, 0, 30, 3)
    water(told, "three", 3, 2.5, recovered=True)
    assert held(told) == (12, 0, 30, 3)


def test_more_in_the_water_than_are_not_heard_of_is_said_to_differ() -> None:
    told = begun(on_board=12)
    water(told, "three", 3, 1.0)
    found = persons_of(who(told))
    assert found.differ == 1
    assert found.between["adrift"] == (0, 3)
    assert found.between["in_hull"] == (9, 12)
