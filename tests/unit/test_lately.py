"""What many viewers ask at once is worked out once, and only the last few answers are kept."""

from __future__ import annotations

import threading
import time

import pytest

from dashboard.cache.lately import Lately


def test_an_answer_is_worked_out_once_however_many_ask_at_once() -> None:
    made: list[int] = []

    def make(key: int) -> list[int]:
        time.sleep(0.05)
        made.append(key)
        return [key]

    lately = Lately(make, 4)
    found: list[list[int]] = []
    askers = [threading.Thread(target=lambda: found.append(lately(7))) for _ in range(20)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    assert made == [7]
    assert len(found) == 20
    assert all(one is found[0] for one in found)


def test_the_longest_unused_goes_first() -> None:
    made: list[str] = []
    lately = Lately(lambda key: made.append(key), 2)
    for key in ("a", "b", "a", "c", "a", "b"):
        lately(key)
    assert made == ["a", "b", "c", "b"]


def test_a_failure_is_not_kept() -> None:
    answers = iter((False, True))

    def make(key: str) -> str:
        if not next(answers):
            raise ValueError(key)
        return key

    lately = Lately(make, 2)
    with pytest.raises(ValueError, match="k"):
        lately("k")
    assert lately("k") == "k"
