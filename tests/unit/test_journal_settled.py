"""What is committed is asked once; what may still change is asked every time."""

from __future__ import annotations

from layers.journal.settled import MOST, PLACES, STEP, Settled
from tests.journals import NOW


class Asked:
    """Answers from a list of records by kind, and notes what it was asked."""

    def __init__(self, kinds: str) -> None:
        self.kinds = kinds
        self.asked: list[tuple[int, int]] = []

    def __call__(self, after_seq: int, upto_seq: int) -> dict[str, int]:
        self.asked.append((after_seq, upto_seq))
        return {kind: seq for seq, kind in enumerate(self.kinds, 1) if after_seq < seq <= upto_seq}


def test_what_is_settled_is_asked_once_and_then_only_what_came_since() -> None:
    settled, ask = Settled(), Asked("abacab")
    settled.committed(6)
    assert settled.last_by_kind(4, ask) == {"a": 3, "b": 2, "c": 4}
    assert settled.last_by_kind(4, ask) == {"a": 3, "b": 2, "c": 4}
    assert settled.last_by_kind(6, ask) == {"a": 5, "b": 6, "c": 4}
    assert settled.last_by_kind(2, ask) == {"a": 1, "b": 2}
    assert settled.last_by_kind(5, ask) == {"a": 5, "b": 2, "c": 4}
    assert ask.asked == [(0, 4), (4, 6), (0, 2), (4, 5)]


def test_from_far_behind_it_is_asked_from_the_beginning() -> None:
    settled, ask = Settled(), Asked("ab" * STEP)
    settled.committed(2 * STEP)
    settled.last_by_kind(1, ask)
    assert settled.last_by_kind(STEP + 2, ask) == {"a": STEP + 1, "b": STEP + 2}
    assert ask.asked == [(0, 1), (0, STEP + 2)]


def test_only_what_is_committed_has_its_place_for_good() -> None:
    settled = Settled()
    settled.committed(10)
    settled.committed(7)
    assert settled.covers(10)
    assert not settled.covers(11)


def test_a_record_that_is_not_there_yet_is_asked_for_again() -> None:
    settled = Settled()
    assert settled.recorded_at(5, lambda: None) is None
    assert settled.recorded_at(5, lambda: NOW) == NOW
    assert settled.recorded_at(5, lambda: None) == NOW


def test_it_does_not_grow_for_ever() -> None:
    settled = Settled()
    settled.committed(3 * MOST)
    for seq in range(2 * MOST + 1):
        settled.last_by_kind(seq, lambda _after, upto: {"a": upto})
        settled.recorded_at(seq, lambda: NOW)
    assert len(settled._last) <= PLACES
    assert len(settled._recorded) <= MOST
