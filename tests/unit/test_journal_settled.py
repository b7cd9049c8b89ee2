"""What is committed is asked once; what may still change is asked every time."""

from __future__ import annotations

from layers.journal.settled import MOST, Settled
from tests.journals import NOW


def test_what_is_settled_is_asked_once_for_each_place_and_kinds() -> None:
    settled, asked = Settled(), []
    settled.committed(10)

    def ask() -> int:
        asked.append(1)
        return 7

    assert [settled.last_seq(["b", "a"], 10, ask), settled.last_seq(["a", "b"], 10, ask)] == [7, 7]
    assert len(asked) == 1
    settled.last_seq(["a"], 10, ask)
    settled.last_seq(["a", "b"], 9, ask)
    settled.last_seq(None, 9, ask)
    assert len(asked) == 4


def test_beyond_what_is_committed_every_question_is_asked() -> None:
    settled, answers = Settled(), iter([3, 11])
    settled.committed(10)
    assert settled.last_seq(["a"], 11, lambda: next(answers)) == 3
    assert settled.last_seq(["a"], 11, lambda: next(answers)) == 11


def test_a_record_that_is_not_there_yet_is_asked_for_again() -> None:
    settled = Settled()
    assert settled.recorded_at(5, lambda: None) is None
    assert settled.recorded_at(5, lambda: NOW) == NOW
    assert settled.recorded_at(5, lambda: None) == NOW


def test_it_does_not_grow_for_ever() -> None:
    settled = Settled()
    settled.committed(3 * MOST)
    for seq in range(2 * MOST + 1):
        settled.last_seq(None, seq, lambda: 1)
        settled.recorded_at(seq, lambda: NOW)
    assert len(settled._last) <= MOST
    assert len(settled._recorded) <= MOST
