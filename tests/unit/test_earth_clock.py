"""A time of day is said with its day when that is not the day of the picture."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from layers.earth.clock import clock_words, day_hhmm
from layers.earth.errors import InputError

NOW = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (datetime(2027, 3, 16, 0, 0, tzinfo=UTC), "0000Z"),
        (datetime(2027, 3, 16, 23, 59, tzinfo=UTC), "2359Z"),
        (datetime(2027, 3, 15, 23, 59, tzinfo=UTC), "152359Z"),
        (datetime(2027, 3, 17, 6, 35, tzinfo=UTC), "170635Z"),
        (datetime(2027, 2, 16, 6, 35, tzinfo=UTC), "160635Z"),  # the same day of another month
    ],
)
def test_the_day_stands_before_the_hour_when_it_is_another(at: datetime, said: str) -> None:
    assert clock_words(at, NOW) == said


def test_a_time_without_a_zone_is_refused() -> None:
    assert day_hhmm(NOW) == "160635Z"
    with pytest.raises(InputError):
        day_hhmm(NOW.replace(tzinfo=None))
