"""Daylight at a place, by astral; polar day and polar night are said, not raised."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import numpy.typing as npt
from astral import Depression, Observer, sun as astral_sun

from layers.earth.arrays import Ints
from layers.earth.clock import from_us
from layers.earth.position import Position

HORIZON_DEG = -50.0 / 60.0  # upper limb on the horizon with mean refraction: 50 arcminutes


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """The sun on one day (UTC date at the place's own noon); None where there is no event.

    ``words`` says polar day or night where the sun does not cross the horizon.
    """

    day: date
    nautical_dawn: datetime | None
    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    nautical_dusk: datetime | None
    words: str


def sun_up(position: Position, at_us: Ints) -> npt.NDArray[np.bool_]:
    """Return whether the sun is above the horizon at each time."""
    observer = Observer(position.latitude_deg, position.longitude_deg)
    return np.array(
        [
            astral_sun.elevation(observer, from_us(at), with_refraction=False) > HORIZON_DEG
            for at in at_us
        ],
        dtype=np.bool_,
    )


def sun_day(position: Position, day: date) -> SunDay:
    """Return the sun's times on one day at a place."""
    observer = Observer(position.latitude_deg, position.longitude_deg)
    noon = astral_sun.noon(observer, day, tzinfo=UTC)

    def event(depression: float | None, rising: bool) -> datetime | None:
        try:
            if depression is None:
                turn = astral_sun.sunrise if rising else astral_sun.sunset
                return turn(observer, day, tzinfo=UTC)
            twilight = astral_sun.dawn if rising else astral_sun.dusk
            return twilight(observer, day, depression, tzinfo=UTC)
        except ValueError:  # astral's way of saying that the sun does not get there
            return None

    civil, nautical = float(Depression.CIVIL.value), float(Depression.NAUTICAL.value)
    sunrise, sunset = event(None, True), event(None, False)
    words = ""
    if sunrise is None and sunset is None:
        high = astral_sun.elevation(observer, noon, with_refraction=False)
        words = "sun up all day" if high > HORIZON_DEG else "sun down all day"
    return SunDay(
        day=day,
        nautical_dawn=event(nautical, True),
        civil_dawn=event(civil, True),
        sunrise=sunrise,
        sunset=sunset,
        civil_dusk=event(civil, False),
        nautical_dusk=event(nautical, False),
        words=words,
    )


def sun_days(position: Position, start: datetime, days: int) -> tuple[SunDay, ...]:
    """Return the sun's times on several days from one on."""
    return tuple(sun_day(position, (start + timedelta(days=n)).date()) for n in range(days))
