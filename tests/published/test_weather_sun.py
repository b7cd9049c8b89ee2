"""Sun and twilight against the check rows.

London: VERIFIED, astral 3.2's own test data (timeanddate), to the minute. The other two:
VERIFIED, Skyfield 1.55 with DE421, within 60 s. 70° N: VERIFIED, no event.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest

from layers.earth.clock import to_us
from layers.earth.position import Position
from layers.weather.sea.sun import sun_day, sun_up

ROWS = [
    (51.5, -0.13, date(2015, 12, 1), "06:22:00 07:04:00 07:43:00 15:55:00 16:34:00 17:16:00", 60),
    (36.0, 15.0, date(2026, 6, 21), "02:35:40 03:13:17 03:43:34 18:20:03 18:50:20 19:27:56", 60),
    (-40.0, -60.0, date(2026, 6, 21), "10:17:24 10:51:30 11:22:05 20:41:38 21:12:13 21:46:19", 60),
]


@pytest.mark.parametrize(("latitude", "longitude", "day", "times", "tolerance_s"), ROWS)
def test_twilight_and_sun(
    latitude: float, longitude: float, day: date, times: str, tolerance_s: float
) -> None:
    found = sun_day(Position(latitude, longitude), day)
    events = (found.nautical_dawn, found.civil_dawn, found.sunrise, found.sunset,
              found.civil_dusk, found.nautical_dusk)  # fmt: skip
    for event, text in zip(events, times.split(), strict=True):
        wanted = datetime.fromisoformat(f"{day.isoformat()}T{text}+00:00")
        assert event is not None
        assert abs((event - wanted).total_seconds()) <= tolerance_s
    assert found.words == ""


def test_the_sun_stays_up_at_70_north_at_midsummer() -> None:
    found = sun_day(Position(70.0, 20.0), date(2026, 6, 21))
    assert found.sunrise is None
    assert found.words == "sun up all day"
    hours = np.arange(24) * 3_600_000_000 + to_us(datetime(2026, 6, 21, tzinfo=UTC))
    assert sun_up(Position(70.0, 20.0), hours).all()


def test_the_sun_stays_down_at_80_north_at_midwinter() -> None:
    found = sun_day(Position(80.0, 20.0), date(2026, 12, 21))
    assert found.words == "sun down all day"
    hours = np.arange(24) * 3_600_000_000 + to_us(datetime(2026, 12, 21, tzinfo=UTC))
    assert not sun_up(Position(80.0, 20.0), hours).any()


def test_sun_up_agrees_with_rise_and_set() -> None:
    """London row again: up between rise and set, down outside, to two minutes."""
    place = Position(51.5, -0.13)
    at = [
        datetime(2015, 12, 1, h, m, tzinfo=UTC) for h, m in ((7, 41), (7, 45), (15, 53), (15, 58))
    ]
    assert sun_up(place, np.array([to_us(t) for t in at])).tolist() == [False, True, True, False]
