"""Windows against closed forms: certain, independent and wholly alike errors."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from layers.earth.clock import to_us
from layers.weather.model import Limit
from layers.weather.sea.expected import STEP_US, Expected
from layers.weather.sea.windows import Draws, chance_of_each_start, correlated, outlook, spans

NOW = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)


def ahead(hs: np.ndarray, sigma: float = 0.0, **more: Any) -> Expected:
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
    }
    names = Expected.__slots__
    return Expected(**{name: more.get(name, values.get(name, nothing)) for name in names})


def limit(**more: Any) -> Limit:
    return Limit(**{"operation": "launch", "duration_h": 1.0, "set_by": "test", **more})


def windows(expected: Expected, limits: Limit, at: datetime = NOW) -> Any:
    return outlook(limits, expected, at, Draws(expected))


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


def test_wholly_alike_errors_hold_with_the_probability_of_the_worst_hour() -> None:
    """Closed form: correlation 1 makes P = Phi((limit - Hs)/sigma) at the greatest Hs."""
    expected = ahead(np.full(13, 2.5), 0.5)
    rng = np.random.default_rng(1)
    errors = correlated(rng, 40_000, 13, correlation_h=1e9)
    kept = (2.5 + 0.5 * errors) <= 3.0
    assert kept.all(axis=1).mean() == pytest.approx(norm.cdf(1.0), abs=0.01)
    assert expected.hs_m.shape == (13,)


def test_independent_errors_hold_with_the_product_of_the_hours() -> None:
    """Closed form: correlation 0 makes P = Phi(z)^n."""
    errors = correlated(np.random.default_rng(2), 40_000, 6, correlation_h=1e-9)
    assert (errors <= 1.0).all(axis=1).mean() == pytest.approx(norm.cdf(1.0) ** 6, abs=0.01)


def test_errors_keep_their_size_and_fade_as_stated() -> None:
    errors = correlated(np.random.default_rng(3), 20_000, 145)
    assert errors.std(axis=0) == pytest.approx(np.ones(145), abs=0.03)
    apart_12_h = np.corrcoef(errors[:, 0], errors[:, 72])[0, 1]
    assert apart_12_h == pytest.approx(np.exp(-1.0), abs=0.03)


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
