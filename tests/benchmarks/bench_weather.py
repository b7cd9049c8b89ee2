"""Forecast interpolation against scipy's RegularGridInterpolator."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from layers.weather.forecast.conditions import NAMES, WeatherField
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issues import Issue
from layers.weather.observed import ObservedSea
from tests.benchmarks.figure import Figure, seconds

PLACES = 10_000
SHAPE = (80, 100, 100)
US_PER_H = 3_600_000_000
RUNS = 9


def figures() -> list[Figure]:
    """Return the cost of 10,000 places and times in a forecast of 100 × 100 × 80 values."""
    rng = np.random.default_rng(5)
    times = np.arange(SHAPE[0], dtype=np.int64) * US_PER_H
    latitudes, longitudes = np.linspace(45.0, 55.0, SHAPE[1]), np.linspace(-15.0, -5.0, SHAPE[2])
    values = {name: rng.normal(5.0, 1.0, SHAPE).astype(np.float32) for name in NAMES}
    at_us = rng.integers(0, times[-1], PLACES)
    lat, lon = rng.uniform(45.0, 55.0, PLACES), rng.uniform(-15.0, -5.0, PLACES)
    axes = (times.astype(np.float64), latitudes, longitudes)
    places = np.column_stack((at_us.astype(np.float64), lat, lon))

    one = field_grid(times, latitudes, longitudes, {"hs_m": values["hs_m"]})
    # in double precision, in which the reference is fastest
    reference = RegularGridInterpolator(axes, values["hs_m"].astype(np.float64))
    assert np.allclose(one.at(lat, lon, at_us)[:, 0], reference(places), atol=1e-4)
    bare = seconds(lambda: reference(places), RUNS)
    single = seconds(lambda: one.at(lat, lon, at_us), RUNS)

    field = _field(times, latitudes, longitudes, values)
    every = [RegularGridInterpolator(axes, values[name].astype(np.float64)) for name in NAMES]
    bare_all = seconds(lambda: [each(places) for each in every], RUNS)
    whole = seconds(lambda: field.conditions(lat, lon, at_us), RUNS)
    return [
        Figure(
            issue=5,
            name="one forecast variable, 100 × 100 × 80, at 10,000 places and times",
            ratio=single / bare,
            target=2.0,
            direction="at most",
            reference="scipy.interpolate.RegularGridInterpolator, same values and places",
            note=f"{single * 1e3:.1f} ms against {bare * 1e3:.1f} ms",
        ),
        Figure(
            issue=5,
            name="wind, current and waves with their uncertainty, same grid and places",
            ratio=whole / bare_all,
            target=2.0,
            direction="at most",
            reference="six calls of scipy.interpolate.RegularGridInterpolator",
            note=f"{whole * 1e3:.1f} ms against {bare_all * 1e3:.1f} ms",
        ),
    ]


def _field(
    times: np.ndarray, latitudes: np.ndarray, longitudes: np.ndarray, values: dict[str, np.ndarray]
) -> WeatherField:
    nothing = np.empty(0)
    names = [n for n in ObservedSea.__slots__ if n != "at_us"]
    return WeatherField(
        by_model={
            "m": (
                Issue(
                    model="m",
                    issued_at_us=0,
                    pieces=(field_grid(times, latitudes, longitudes, values),),
                    adopted=False,
                    rests_on=("r",),
                ),
            )
        },
        speaks={"hs_m": "m", "wind_m_s": "m", "current_m_s": "m"},
        errors={},
        seen=ObservedSea(at_us=np.empty(0, dtype=np.int64), **dict.fromkeys(names, nothing)),
        tides=(),
    )
