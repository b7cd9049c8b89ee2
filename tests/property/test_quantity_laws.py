"""What is printed reads back the same, whatever the value."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, strategies as st

from layers.earth.clock import day_hhmm, dtg
from layers.earth.said import quantity as q
from layers.earth.said.times import told_time

SORTS = [
    (sort, unit)
    for sort in (q.LENGTH, q.SPEED, q.SPAN, q.MASS, q.VOLUME, q.SHARE, q.FREQUENCY, q.ENERGY)
    for unit in sort.units
]
VALUES = st.floats(min_value=-1e9, max_value=1e9, allow_nan=False)


@pytest.mark.parametrize(("sort", "unit"), SORTS)
@given(value=VALUES)
def test_print_then_read_gives_the_same(sort: q.Sort, unit: str, value: float) -> None:
    assert q.parse(q.printed(value, unit), sort, unit) == value


@given(value=VALUES, decimals=st.integers(0, 4))
def test_a_rounded_figure_has_one_reading(value: float, decimals: int) -> None:
    shown = q.figure(value, decimals)
    assert q.readings(shown) == (round(value, decimals),)
    assert not set(shown) & {",", "e"}


@given(minutes=st.integers(-12 * 60 + 1, 12 * 60 - 1))
def test_a_time_of_day_within_half_a_day_reads_back(minutes: int) -> None:
    now = datetime(2026, 2, 28, 23, 30, tzinfo=UTC)
    at = now + timedelta(minutes=minutes)
    for said in (f"{at:%H%M}", f"{at:%H:%M}", f"{at:%H%M}Z", day_hhmm(at), dtg(at)):
        assert told_time(said, now) == at
