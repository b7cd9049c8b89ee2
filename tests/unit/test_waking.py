"""Who is woken, when, and how many at a time."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from datetime import timedelta

import pytest

from dashboard.waking import (
    A_SECOND,
    FIRST_LOOK_GAP_S,
    GAP_S,
    HURRY_S,
    LONGEST_GAP_S,
    LOST_S,
    PATIENCE_S,
    TICK_S,
    TURN_S,
    Bell,
    News,
    Sleeper,
)
from layers.contract import Moment
from tests.journals import NOW

MINUTE = NOW.replace(second=0, microsecond=0)
SHOWN = Moment(MINUTE, MINUTE)


class Room:
    """A bell whose news and clock a test holds in its hand."""

    def __init__(self) -> None:
        self.news = News(revision=5, now=MINUTE + timedelta(seconds=20), ready=True)
        self.rung: list[str] = []
        self.gone: set[str] = set()
        self.complete = False
        self.far = 0
        self.asked = 0
        self.bell = Bell(self._ring, lambda: self.news, self._how_far)

    def _ring(self, session: str) -> bool:
        if session in self.gone:
            return False
        self.rung.append(session)
        return True

    def _how_far(self, moment: Moment, upto_seq: int) -> int:
        self.asked += 1
        return 2 if self.complete else self.far

    def enter(self, name: str, at: float = 0.0, **more: object) -> None:
        sleeper = Sleeper(session=name, moment=SHOWN, upto_seq=5,
                          revision=5, follows_now=True, incomplete=False, since=at)  # fmt: skip
        self.bell.sleep(replace(sleeper, **more))  # type: ignore[arg-type]  # fields by name


@pytest.fixture
def room() -> Room:
    return Room()


def test_who_sees_all_there_is_sleeps_on(room: Room) -> None:
    room.enter("a")
    assert room.bell.tick(100.0) == []


def test_a_new_record_wakes_once_until_the_viewer_sleeps_again(room: Room) -> None:
    room.enter("a")
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0) == ["a"]
    assert room.bell.tick(100.5) == []
    room.enter("a", at=101.0, revision=6)
    assert room.bell.tick(110.0) == []


def test_a_new_minute_wakes(room: Room) -> None:
    room.enter("a")
    room.news = replace(room.news, now=MINUTE + timedelta(seconds=60))
    assert room.bell.tick(100.0) == ["a"]


def test_who_looks_at_another_time_sleeps_through_what_is_new(room: Room) -> None:
    room.enter("a", follows_now=False)
    room.news = replace(room.news, revision=9, now=NOW + timedelta(hours=2))
    assert room.bell.tick(100.0) == []


def test_a_picture_that_is_not_ready_is_waited_for_but_not_for_ever(room: Room) -> None:
    room.enter("a")
    room.news = replace(room.news, revision=6, ready=False)
    assert room.bell.tick(100.0) == []
    assert room.bell.tick(100.0 + PATIENCE_S / 2) == []
    assert room.bell.tick(100.5 + PATIENCE_S) == ["a"]


def test_a_picture_that_is_being_worked_out_is_asked_for_often(room: Room) -> None:
    """Who waits sees it a tenth of a second after it is there, not half a second."""
    room.enter("a")
    room.news = replace(room.news, revision=6, ready=False)
    threading.Thread(target=room.bell.run, daemon=True).start()
    time.sleep(TICK_S * 1.5)
    assert room.rung == []
    room.news = replace(room.news, ready=True)
    time.sleep(3 * HURRY_S)
    assert room.rung == ["a"]


def test_a_slow_layer_that_has_come_wakes_who_waits_for_it(room: Room) -> None:
    for name in "abc":
        room.enter(name, incomplete=True, follows_now=False)
    assert room.bell.tick(100.0) == []
    assert room.asked == 1, "one question for all who look at the same moment"
    room.complete = True
    woken = [room.bell.tick(101.0 + TURN_S * turn) for turn in range(4)]
    assert woken == [["a"], ["b"], ["c"], []]


def test_a_first_look_wakes_soon_and_the_whole_wakes_again(room: Room) -> None:
    """Who watches the margin sees a rough one at once, and the refined one when it is there."""
    room.enter("a", incomplete=True, follows_now=False)
    room.far = 1
    assert room.bell.tick(FIRST_LOOK_GAP_S / 2) == []
    assert room.bell.tick(FIRST_LOOK_GAP_S) == ["a"]
    room.enter("a", at=1.0, incomplete=True, follows_now=False, rough=True)
    assert room.bell.tick(1.0 + GAP_S) == []
    room.far = 2
    assert room.bell.tick(1.5 + GAP_S) == ["a"]


def test_one_at_a_time_the_longest_asleep_first(room: Room) -> None:
    for number in range(10):
        room.enter(str(number), at=10.0 - number)
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0) == ["9"]
    assert room.bell.tick(100.1) == []
    room.enter("9", at=100.2, revision=6)
    assert room.bell.tick(100.2) == ["8"]


def test_a_page_that_takes_long_holds_up_the_next_for_one_turn_only(room: Room) -> None:
    room.enter("slow", at=0.0)
    room.enter("next", at=1.0)
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0) == ["slow"]
    assert room.bell.tick(100.0 + TURN_S / 2) == []
    assert room.bell.tick(100.0 + TURN_S) == ["next"]
    assert room.bell.tick(100.0 + 2 * TURN_S) == [], "the slow one is still at it"


def test_one_who_does_not_come_back_holds_up_nobody_and_is_woken_again(room: Room) -> None:
    room.enter("a")
    room.news = replace(room.news, revision=6)
    room.bell.tick(100.0)
    assert room.bell.tick(100.0 + LOST_S) == ["a"]


def test_nobody_is_woken_twice_within_the_gap(room: Room) -> None:
    room.enter("a", at=100.0)
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0 + GAP_S / 2) == []
    assert room.bell.tick(100.0 + GAP_S) == ["a"]


def test_the_more_there_are_the_less_often_each_is_woken_but_often_enough(room: Room) -> None:
    for number in range(A_SECOND * 10):
        room.enter(str(number), at=100.0)
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0 + LONGEST_GAP_S - 0.1) == []
    assert len(room.bell.tick(100.0 + LONGEST_GAP_S)) == 1
    assert LONGEST_GAP_S < 5.0, "what is new is seen within five seconds"


def test_the_next_is_woken_as_soon_as_one_is_through(room: Room) -> None:
    """All forty have seen it long before one a tick would have let them."""
    threading.Thread(target=room.bell.run, daemon=True).start()
    seen: set[str] = set()
    for number in range(40):
        room.enter(str(number))
    room.news = replace(room.news, revision=6)
    begun = time.monotonic()
    while len(seen) < 40 and time.monotonic() - begun < 20.0:
        for name in room.rung[len(seen) :]:
            seen.add(name)
            room.enter(name, at=time.monotonic(), revision=6)
        time.sleep(0.001)
    assert len(seen) == 40
    assert time.monotonic() - begun < 40 * TICK_S / 8


def test_who_has_left_is_forgotten(room: Room) -> None:
    room.enter("a")
    room.gone.add("a")
    room.news = replace(room.news, revision=6)
    assert room.bell.tick(100.0) == []
    assert not room.bell._sleepers


def test_a_page_that_is_swapped_in_place_is_run_for_a_loss_alone(room: Room) -> None:
    room.enter("reader", whole=True)
    room.enter("watch")
    room.news = replace(room.news, revision=6, now=NOW + timedelta(minutes=5))
    assert room.bell.tick(100.0) == ["watch"]
    assert room.bell.tick(101.0) == []
    room.news = replace(room.news, lost=True)
    assert room.bell.tick(102.0) == ["reader"]
