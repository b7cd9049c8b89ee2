"""A headcount told by voice finds people: twenty forward are forward, not *not heard of*."""

from __future__ import annotations

import pytest

from layers.earth.errors import InputError
from layers.survivors.muster.ledger import counted, moved, opened
from layers.survivors.muster.model import PLACES, UNACCOUNTED, Group, Move, Report


def move(n: int, frm: str, to: str, fitness: str = "unknown") -> Move:
    group = Group(persons=n, fitness=fitness)  # type: ignore[arg-type]  # a word of the model
    return Move(from_place=frm, to_place=to, groups=(group,), reason="told")


def start(pob: int = 52):  # type: ignore[no-untyped-def]  # a ledger
    return opened(pob, dict(PLACES))


def test_who_is_counted_in_a_refuge_is_there_and_the_sum_stays() -> None:
    ledger = counted(counted(start(), Report(place="forward", persons=20)), Report(
        place="after", persons=26))  # fmt: skip
    assert (ledger.persons("forward"), ledger.persons("after")) == (20, 26)
    assert ledger.persons(UNACCOUNTED) == 6
    assert ledger.total == 52


def test_the_same_count_from_two_observers_counts_once() -> None:
    ledger = counted(start(), Report(place="forward", persons=20))
    assert counted(ledger, Report(place="forward", persons=20)).persons("forward") == 20


def test_a_lower_count_moves_nobody() -> None:
    ledger = counted(start(), Report(place="forward", persons=20))
    again = counted(ledger, Report(place="forward", persons=18))
    assert again.persons("forward") == 20, "fewer told is a contradiction, not two dead"


def test_more_than_are_not_heard_of_can_not_be_found() -> None:
    ledger = counted(start(30), Report(place="forward", persons=20))
    more = counted(ledger, Report(place="after", persons=26))
    assert more.persons("after") == 10
    assert more.total == 30


def test_a_move_that_brings_those_counted_confirms_them() -> None:
    ledger = counted(start(), Report(place="forward", persons=20))
    confirmed = moved(ledger, move(20, UNACCOUNTED, "forward", "walking"))
    assert confirmed.persons("forward") == 20
    assert confirmed.persons("forward", "walking") == 20
    assert confirmed.persons(UNACCOUNTED) == 32


def test_fitness_told_with_the_count_is_kept() -> None:
    told = Report(place="forward", persons=20, stretcher=3, walking=10)
    ledger = counted(start(), told)
    assert ledger.persons("forward", "stretcher") == 3
    assert ledger.persons("forward", "walking") == 10
    assert ledger.persons("forward", "unknown") == 7


def test_people_counted_can_leave() -> None:
    ledger = counted(start(), Report(place="after", persons=26))
    left = moved(ledger, move(14, "after", "deck"))
    assert (left.persons("after"), left.persons("deck")) == (12, 14)
    assert counted(left, Report(place="after", persons=12)).total == 52


@pytest.mark.parametrize("place", ["vehicle", "deck", "hospital"])
def test_a_count_elsewhere_than_in_the_hull_or_the_water_finds_nobody(place: str) -> None:
    assert counted(start(), Report(place=place, persons=5)).persons(place) == 0


def test_someone_named_dead_comes_before_a_headcount() -> None:
    ledger = counted(start(20), Report(place="forward", persons=20))
    dead = moved(ledger, move(2, UNACCOUNTED, "dead"))
    assert (dead.persons("forward"), dead.persons("dead"), dead.total) == (18, 2, 20)


def out(n: int) -> Move:
    return move(n, "after", "deck").model_copy(update={"nobody_counted_before": True})


def test_who_leaves_a_refuge_that_nobody_had_counted_was_not_heard_of_until_then() -> None:
    ledger = moved(start(), out(3))
    assert (ledger.persons("deck"), ledger.persons("after")) == (3, 0)
    assert ledger.persons(UNACCOUNTED) == 49
    # those left are counted afterwards; an earlier count that comes late counts nobody twice
    assert counted(ledger, Report(place="after", persons=22)).persons(UNACCOUNTED) == 27
    first = moved(counted(start(), Report(place="after", persons=25)), out(3))
    assert (first.persons("after"), first.persons(UNACCOUNTED)) == (22, 27)
    with pytest.raises(InputError, match="the muster has 0"):
        moved(start(2), out(3))  # more than are not heard of
    with pytest.raises(InputError, match="the muster has 0"):
        moved(start(), move(3, "after", "deck"))
