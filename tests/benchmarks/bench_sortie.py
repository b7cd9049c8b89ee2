"""The windows of a whole sortie against the bare draws, and how often what was said came true."""

from __future__ import annotations

import numpy as np

from layers.earth.sea.draws import sea_draws
from layers.weather.model import Limit
from layers.weather.sea.dive import may_dive
from layers.weather.sea.sortie import SortiePart, SortieWeather
from tests.benchmarks.figure import Figure, seconds
from tests.simulated_weeks import tenths, told, week
from tests.unit.test_weather_windows import NOW, ahead

DRAWS, HOURS, WEEKS = 10_000, 120, 500
STEPS_H, SEED = 6, 20_270_502


def figures() -> list[Figure]:
    """Return the cost of the windows and the greatest gap of their reliability."""
    return [_cost(), _reliability()]


def _part(name: str, begin: float, end: float, **most: float) -> SortiePart:
    limit = Limit.model_validate(
        {"operation": name, "duration_h": 1.0, "set_by": "benchmark", **most}
    )
    return SortiePart(name=name, from_h=begin, until_h=end, limit=limit)


def _sortie(*parts: SortiePart) -> SortieWeather:
    return SortieWeather(
        parts=parts, whole_h=5.0, notice_h=0.0, timed_by="benchmark", missing=(), rests_on=()
    )


def _cost() -> Figure:
    n = (HOURS + 1) * STEPS_H
    sigmas = {"tp": ("tp_s", 8.0, 1.0), "wind": ("wind_kn", 15.0, 3.0)}
    more = {}
    for name, (field, value, sigma) in sigmas.items():
        more[field] = np.full(n, value)
        more[f"{name}_sigma_{field.rsplit('_', 1)[1]}"] = np.full(n, sigma)
    for place in ("surface", "seat"):
        more[f"current_{place}_kn"] = np.full(n, 0.5)
        more[f"current_{place}_sigma_kn"] = np.full(n, 0.2)
    expected = ahead(1.5 + np.sin(np.arange(n) / 100.0), 0.4, **more)
    sortie = _sortie(
        _part("launch", 0.0, 1.0, hs_max_m=3.0, wind_max_kn=30.0, tp_max_s=14.0),
        _part("dive", 1.0, 4.0, current_surface_max_kn=1.2),
        _part("mating", 2.0, 3.0, current_seat_max_kn=0.8),
        _part("recovery", 4.0, 5.0, hs_max_m=2.5, wind_max_kn=30.0),
    )

    def bare() -> None:
        for seed in range(5):
            np.random.default_rng(seed).standard_normal((DRAWS, n), dtype=np.float32)

    ours = seconds(lambda: may_dive(sortie, expected, sea_draws(expected, DRAWS), {}, NOW), 3)
    theirs = seconds(bare, 3)
    return Figure(
        issue=20, name=f"sortie windows over {HOURS} h, {DRAWS:,} draws".replace(",", ""),
        ratio=ours / theirs, target=10.0, direction="at most",
        reference="the same count of normal numbers alone",
        note=f"ours {ours:.2f} s, bare {theirs:.2f} s",
    )  # fmt: skip


def _reliability() -> Figure:
    """Hold said chances against what the sea of simulated weeks did, in ten bins."""
    found = [week(SEED, number) for number in range(WEEKS)]
    table, wide = tenths(found, measured=True), tenths(found, measured=False)
    return Figure(
        issue=20, name=f"reliability of sortie chances over {WEEKS} simulated weeks",
        ratio=max(abs(row.came - row.said) for row in table), target=0.1, direction="at most",
        reference="the share that came true, worst tenth", unit="of chance",
        note=f"{told(table)}; in weeks without a buoy: {told(wide)}",
    )  # fmt: skip
