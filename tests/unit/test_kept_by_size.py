"""What is kept for viewers is bounded by its size, not by its number alone: a night is long."""

from __future__ import annotations

import numpy as np

from dashboard.cache.kept import LEAST, KeptResults
from dashboard.cache.lately import Lately
from dashboard.chart import shared
from layers.contract import Unavailable
from layers.earth.chart.marks import LineMark, Style


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


def test_a_long_track_counts_with_its_places() -> None:
    def track(fixes: int) -> LineMark:
        places = np.zeros(fixes)
        return LineMark(key="k", style=Style.ROUTE, tooltip="", source="",
                        latitudes_deg=places, longitudes_deg=places)  # fmt: skip

    short, long = (shared._size((b"", (track(n),))) for n in (2, 10_002))
    assert long - short == 2 * 8 * 10_000


def test_what_is_let_go_is_told_and_pictures_can_follow() -> None:
    kept = KeptResults(most=3)
    values = [Unavailable(reason=str(number)) for number in range(5)]
    for number, value in enumerate(values):
        kept[str(number)] = value
    assert kept.let_go == 2
    assert kept.holds() == {id(value) for value in values[2:]}
    made = Lately(lambda key: [key], 10)
    first = made(1)
    made(2)
    made.let_go(lambda key: key == 1)
    assert made.newest() == [2]
    assert made(1) is not first
