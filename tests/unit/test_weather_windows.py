"""Windows against closed forms: certain, independent and wholly alike errors."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from layers.earth.clock import to_us
from layers.earth.sea.draws import HOUR_US, errors, sea_draws
from layers.weather.model import Limit
from layers.weather.sea.expected import STEP_US, ExpectedSea
from layers.weather.sea.windows import DRAWS, chance_of_each_start, outlook, spans, steps_of

NOW = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)


def ahead(hs: np.ndarray, sigma: float = 0.0, **more: Any) -> ExpectedSea:
    n = len(hs)
    nothing = np.full(n, np.nan)
    values: dict[str, Any] = {
        "at_us": to_us(NOW) + np.arange(n) * STEP_US,
        "hs_m": hs,
        "hs_sigma_m": np.full(n, sigma),
        "daylight": np.ones(n, dtype=bool),
        "seat_estimated": False,
        "wind_kn": np.full(n, 10.0),
        "wind_sigma_kn": np.zeros(n),
        "waves_forecast": True,
        "wind_forecast": True,
        "current_forecast": True,
        "seen": {},
    }
    names = ExpectedSea.__slots__
    return ExpectedSea(**{name: more.get(name, values.get(name, nothing)) for name in names})


def limit(**more: Any) -> Limit:
    return Limit(**{"operation": "launch", "duration_h": 1.0, "set_by": "test", **more})


def windows(expected: ExpectedSea, limits: Limit, at: datetime = NOW) -> Any:
    return outlook(limits, expected, at, sea_draws(expected, DRAWS))


def test_a_window_closes_at_the_first_step_over_the_limit() -> None:
    hs = np.concatenate((np.full(12, 2.0), np.full(12, 4.0), np.full(24, 2.0)))
    first, second = windows(ahead(hs), limit(hs_max_m=3.0, notice_h=0.5)).windows
    assert first.open_now
    assert first.closes == NOW + timedelta(hours=2)
    assert first.decide_by == NOW + timedelta(minutes=30)  # 2 h less 1 h less 0.5 h
    assert second.opens == NOW + timedelta(hours=4)
    assert second.closes is None
    assert second.decide_by is None
    assert first.holds_probability == second.holds_probability == 1.0


def test_a_window_shorter_than_the_operation_is_no_window() -> None:
    hs = np.concatenate((np.full(5, 2.0), np.full(12, 4.0)))
    found = windows(ahead(hs), limit(hs_max_m=3.0))
    assert found.windows == ()
    assert found.within_now


def test_a_limit_moved_moves_the_window() -> None:
    hs = np.linspace(2.0, 4.0, 49)
    tight = windows(ahead(hs), limit(hs_max_m=2.5)).windows[0]
    loose = windows(ahead(hs), limit(hs_max_m=3.5)).windows[0]
    assert tight.closes < loose.closes


def test_errors_keep_their_size_and_fade_as_stated() -> None:
    """Correlation exp(-gap/12 h) of the waves' error, at whole hours and between them."""
    at_us = np.arange(145) * STEP_US
    found = errors("hs_m", at_us, 20_000)
    assert found.std(axis=0) == pytest.approx(np.ones(145), abs=0.03)
    apart_12_h = np.corrcoef(found[:, 0], found[:, 72])[0, 1]
    assert apart_12_h == pytest.approx(np.exp(-1.0), abs=0.03)


def test_wind_and_waves_err_together_and_the_seat_with_the_surface() -> None:
    at_us = np.arange(3) * HOUR_US
    hs, wind, surface, seat = (
        errors(name, at_us, 40_000)[:, 1]
        for name in ("hs_m", "wind_kn", "current_surface_kn", "current_seat_kn")
    )
    assert np.corrcoef(hs, wind)[0, 1] == pytest.approx(0.6, abs=0.02)
    assert np.corrcoef(surface, seat)[0, 1] == pytest.approx(0.9, abs=0.02)
    assert np.corrcoef(hs, surface)[0, 1] == pytest.approx(0.0, abs=0.02)


def test_the_first_draws_do_not_depend_on_how_many_or_how_long() -> None:
    few = errors("wind_kn", np.arange(24) * HOUR_US, 10)
    many = errors("wind_kn", np.arange(300) * HOUR_US, 500)
    assert np.array_equal(few, many[:10, :24])


def test_a_length_of_time_is_never_rounded_down() -> None:
    assert [steps_of(h) for h in (0.01, 1.0, 4.0, 4.08)] == [1, 6, 24, 25]
    hs = np.concatenate((np.full(24, 2.0), np.full(6, 4.0)))  # 4 h 00 within
    assert windows(ahead(hs), limit(hs_max_m=3.0, duration_h=4.0)).windows
    assert not windows(ahead(hs), limit(hs_max_m=3.0, duration_h=4.08)).windows


@pytest.mark.parametrize(
    ("variable", "sigma", "bound"),
    [
        ("current_surface_kn", "current_surface_sigma_kn", {"current_surface_max_kn": 1.0}),
        ("current_seat_kn", "current_seat_sigma_kn", {"current_seat_max_kn": 1.0}),
        ("tp_s", "tp_sigma_s", {"tp_max_s": 1.0}),
    ],
)
def test_no_limit_is_kept_for_certain_at_one_sigma(
    variable: str, sigma: str, bound: dict[str, float]
) -> None:
    """One step, 0.8 with sigma 0.2 against 1.0: P = Phi(1) = 0.841."""
    n = 12
    expected = ahead(np.full(n, 1.0), **{variable: np.full(n, 0.8), sigma: np.full(n, 0.2)})
    (only,) = windows(expected, limit(duration_h=0.1, **bound)).windows
    assert only.start_probability == pytest.approx(norm.cdf(1.0), abs=0.02)


def test_the_window_probability_lies_between_the_two_closed_forms() -> None:
    expected = ahead(np.full(25, 2.5), 0.5)
    (only,) = windows(expected, limit(hs_max_m=3.0)).windows
    assert norm.cdf(1.0) ** 25 < only.holds_probability < norm.cdf(1.0)
    assert only.start_probability > only.holds_probability


def test_nothing_known_of_a_limit_is_said_not_counted() -> None:
    found = windows(ahead(np.full(30, 2.0)), limit(hs_max_m=3.0, visibility_min_nmi=1.0))
    assert found.unchecked == ("visibility",)
    assert found.windows
    bare = windows(ahead(np.full(30, np.nan)), limit(hs_max_m=3.0))
    assert bare.windows == ()
    assert bare.unchecked == ("Hs",)


def test_an_hour_of_which_nothing_is_known_is_not_within_limits() -> None:
    hs = np.full(30, 2.0)
    hs[10:] = np.nan
    (only,) = windows(ahead(hs), limit(hs_max_m=3.0)).windows
    assert only.closes == NOW + timedelta(minutes=100)


def test_the_dark_binds_where_daylight_is_asked() -> None:
    light = np.zeros(30, dtype=bool)
    light[12:] = True
    found = windows(ahead(np.full(30, 2.0), daylight=light), limit(daylight_only=True))
    assert found.binding == ("daylight",)
    assert found.windows[0].opens == NOW + timedelta(hours=2)


def test_the_stream_at_the_seat_opens_and_shuts() -> None:
    stream = np.abs(np.sin(np.linspace(0, 2 * np.pi, 75)))
    found = windows(ahead(np.full(75, 2.0), current_seat_kn=stream), limit(
        operation="mating", current_seat_max_kn=0.8, duration_h=1.0))  # fmt: skip
    assert len(found.windows) == 3


def test_chance_of_each_start_counts_whole_operations() -> None:
    kept = np.array([[True, True, False, True, True, True]])
    assert chance_of_each_start(kept, 2)[:5].tolist() == [1.0, 0.0, 0.0, 1.0, 1.0]
    assert np.isnan(chance_of_each_start(kept, 2)[5])
    assert spans(kept[0]) == [(0, 2), (3, 6)]


def test_the_same_records_draw_the_same_probability() -> None:
    expected = ahead(np.full(25, 2.6), 0.4)
    once, again = (windows(expected, limit(hs_max_m=3.0)).windows for _ in range(2))
    assert once == again
