"""What is kept for viewers is bounded by its size, not by its number alone: a night is long."""

from __future__ import annotations

from dashboard.cache.kept import LEAST, KeptResults
from dashboard.chart import shared
from layers.contract import Unavailable


def test_large_results_are_kept_fewer_and_never_fewer_than_a_few_pictures() -> None:
    kept = KeptResults(most=400, most_bytes=1_000_000)
    for number in range(200):
        kept.keep(f"small {number}", Unavailable(reason="x"), 1_000)
    assert len(kept) == 200
    for number in range(200):
        kept.keep(f"large {number}", Unavailable(reason="x"), 100_000)
    assert len(kept) == LEAST
    assert "large 199" in kept
    for number in range(600):
        kept.keep(f"again {number}", Unavailable(reason="x"), 10)
    assert len(kept) <= 400


def test_texts_are_counted_with_the_marks_that_they_hold() -> None:
    assert shared._size((b"x" * 100, ())) == 100
    assert shared.MOST_BYTES < 40_000_000
