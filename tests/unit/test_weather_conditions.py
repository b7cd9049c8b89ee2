"""Interpolation, the newest issue, the past, stand-ins, tide and running error."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from layers.earth.clock import to_us
from layers.weather.forecast.conditions import WeatherField, who_speaks
from layers.weather.forecast.fields import FieldGrid, field_grid
from layers.weather.forecast.issues import Issue, joined
from layers.weather.forecast.running_error import (
    ASSUMED,
    FLOOR,
    RunningError,
    independent_of,
    running_errors,
)
from layers.weather.observed import ObservedSea

NOW = datetime(2027, 3, 16, 6, tzinfo=UTC)
H = 3_600_000_000


def grid(start: datetime, hs: float, hours: int = 72, **extra: float) -> FieldGrid:
    times = to_us(start) + np.arange(0, hours + 1, 3) * H
    lats, lons = np.arange(48.0, 52.0), np.arange(-11.0, -4.0)
    shape = (len(times), len(lats), len(lons))
    names = {"hs_m": hs, "tp_s": 9.0, "wind_east_m_s": 5.0, "wind_north_m_s": 0.0, **extra}
    return field_grid(times, lats, lons, {n: np.full(shape, v) for n, v in names.items()})


def issue(start: datetime, hs: float, model: str = "m", hours: int = 72) -> Issue:
    return Issue(
        model=model,
        issued_at_us=to_us(start),
        pieces=(grid(start, hs, hours),),
        adopted=False,
        rests_on=("r",),
    )


def seen(
    at: list[datetime],
    hs: list[float],
    lat: float = 50.0,
    lon: float = -8.0,
    *,
    at_sea: bool = True,
) -> ObservedSea:
    n = len(at)
    nothing = np.full(n, np.nan)
    return ObservedSea(
        at_us=np.array([to_us(t) for t in at], dtype=np.int64),
        latitude_deg=np.full(n, lat),
        longitude_deg=np.full(n, lon),
        hs_m=np.array(hs, dtype=float),
        tp_s=nothing,
        wind_kn=nothing,
        wind_east_m_s=nothing,
        wind_north_m_s=nothing,
        current_east_m_s=nothing,
        current_north_m_s=nothing,
        visibility_nmi=nothing,
        station=np.array(["S"] * n, dtype=object),
        at_sea=np.full(n, at_sea),
    )


def field(*issues: Issue, observed: ObservedSea | None = None) -> WeatherField:
    by_model: dict[str, tuple[Issue, ...]] = {}
    for each in issues:
        by_model[each.model] = (*by_model.get(each.model, ()), each)
    return WeatherField(
        by_model=by_model,
        speaks=who_speaks(by_model, {}, None),
        errors={},
        seen=observed if observed is not None else seen([], []),
        tides=(),
    )


def hs_at(
    weather: WeatherField, *times: datetime, lat: float = 50.0, lon: float = -8.0
) -> list[float]:
    n = len(times)
    at = np.array([to_us(t) for t in times], dtype=np.int64)
    return weather.conditions(np.full(n, lat), np.full(n, lon), at).hs_m.tolist()


def test_interpolation_is_that_of_the_reference_library() -> None:
    """Against scipy's RegularGridInterpolator, at random places and on the nodes and edges."""
    rng = np.random.default_rng(5)
    times = np.arange(0, 8) * 3 * H
    lats, lons = np.sort(rng.uniform(40, 60, 6)), np.linspace(-20.0, 5.0, 11)
    values = rng.normal(size=(8, 6, 11))
    held = field_grid(times, lats, lons, {"hs_m": values})
    t = np.concatenate((rng.uniform(0, times[-1], 500), times[[0, -1]])).astype(np.int64)
    lat = np.concatenate((rng.uniform(lats[0], lats[-1], 500), lats[[0, -1]]))
    lon = np.concatenate((rng.uniform(-20, 5, 500), lons[[0, -1]]))
    wanted = RegularGridInterpolator((times.astype(float), lats, lons), values)(
        np.column_stack((t.astype(float), lat, lon))
    )
    assert np.allclose(held.at(lat, lon, t)[:, 0], wanted, atol=1e-6)


@pytest.mark.parametrize("shift", [-360.0, 0.0, 360.0])
def test_a_place_is_the_same_place_a_turn_round_the_earth(shift: float) -> None:
    held = field_grid(
        np.array([0]), np.array([0.0, 1.0]), np.array([170.0, 180.0, 190.0]),
        {"hs_m": np.array([[[1.0, 2.0, 3.0], [1.0, 2.0, 3.0]]])},
    )  # fmt: skip
    found = held.at(np.array([0.5]), np.array([-175.0 + shift]), np.array([0]))
    assert found[0, 0] == pytest.approx(2.5)


def test_outside_the_grid_and_its_span_nothing_is_known() -> None:
    weather = field(issue(NOW, 2.0))
    assert np.isnan(hs_at(weather, NOW, lat=60.0)).all()
    assert np.isnan(hs_at(weather, NOW + timedelta(hours=73))).all()
    assert np.isfinite(hs_at(weather, NOW + timedelta(hours=72))).all()


def test_land_beside_the_sea_does_not_blank_the_sea() -> None:
    values = np.array([[[1.0, np.nan], [1.0, np.nan]]])
    held = field_grid(np.array([0]), np.array([0.0, 1.0]), np.array([0.0, 1.0]), {"hs_m": values})
    near, far = held.at(np.array([0.5, 0.5]), np.array([0.3, 0.7]), np.array([0, 0]))[:, 0]
    assert near == pytest.approx(1.0)
    assert np.isnan(far)


def test_only_the_newest_issue_speaks_for_the_future_and_ends_where_it_ends() -> None:
    earlier = issue(NOW - timedelta(hours=6), 1.0)
    newest = issue(NOW, 2.0, hours=24)
    weather = field(earlier, newest)
    in_24, in_30 = hs_at(weather, NOW + timedelta(hours=24), NOW + timedelta(hours=30))
    assert in_24 == pytest.approx(2.0)
    assert np.isnan(in_30)  # the earlier issue reaches so far, and is not spliced on


def test_the_past_is_read_from_the_issue_newest_then() -> None:
    weather = field(issue(NOW - timedelta(hours=6), 1.0), issue(NOW, 2.0))
    found = hs_at(weather, NOW - timedelta(hours=1), NOW, NOW + timedelta(hours=1))
    assert found == pytest.approx([1.0, 2.0, 2.0])


def test_where_no_forecast_reaches_the_nearest_observation_stands_in() -> None:
    weather = field(observed=seen([NOW - timedelta(hours=2)], [3.0]))
    at = np.array([to_us(NOW)], dtype=np.int64)
    near = weather.conditions(np.array([50.2]), np.array([-8.0]), at)
    assert near.hs_m[0] == 3.0
    farther = weather.conditions(np.array([50.9]), np.array([-8.0]), at)
    assert farther.hs_sigma_m[0] > near.hs_sigma_m[0] > ASSUMED["hs_m"][0]
    assert np.isnan(weather.conditions(np.array([58.0]), np.array([-8.0]), at).hs_m[0])
    where = weather.provenance("hs_m", np.array([50.2]), np.array([-8.0]), at)
    assert where.origin[0] == "S"
    assert where.distance_nmi[0] == pytest.approx(12.0, abs=0.1)
    assert where.age_h[0] == pytest.approx(2.0)


def test_a_forecast_says_its_model_its_cell_and_its_age() -> None:
    weather = field(issue(NOW, 2.0))
    at = np.array([to_us(NOW + timedelta(hours=5))], dtype=np.int64)
    where = weather.provenance("hs_m", np.array([50.25]), np.array([-8.0]), at)
    assert (where.origin[0], where.age_h[0]) == ("m", 5.0)
    assert where.distance_nmi[0] == pytest.approx(15.0, abs=0.1)


def test_steps_sent_one_file_each_are_joined() -> None:
    first, second = grid(NOW, 1.0, 3), grid(NOW + timedelta(hours=6), 2.0, 3)
    (whole,) = joined([second, first])
    assert len(whole.times_us) == 4
    assert np.all(np.diff(whole.times_us) > 0)


def test_the_running_error_is_forecast_less_observed_by_lead() -> None:
    """A forecast 0.5 m high at every lead: bias 0.5 m, root mean square 0.5 m in each bin."""
    at = [NOW + timedelta(hours=h) for h in range(1, 24)]
    errors = running_errors({"m": (issue(NOW, 2.5),)}, seen(at, [2.0] * 23), to_us(at[-1]))
    error = errors["m", "hs_m"]
    assert [(b.from_h, b.pairs) for b in error.bins] == [(0, 5), (6, 6), (12, 12)]
    assert all(b.bias == pytest.approx(0.5, abs=1e-3) for b in error.bins)
    assert all(b.rms == pytest.approx(0.5, abs=1e-3) for b in error.bins)
    assert error.bias(np.array([9.0]))[0] == pytest.approx(0.5, abs=1e-3)
    assert error.sigma(np.array([9.0]))[0] == FLOOR["hs_m"]  # the bias is no error once taken out


def test_the_bias_is_taken_out_and_the_scatter_left_in() -> None:
    """Forty independent pairs, bias -0.4 m, scatter 0.2 m: sigma 0.2 m and a little."""
    at = [NOW + timedelta(minutes=30 * k) for k in range(1, 41)]
    hs = (2.6 + 0.2 * np.random.default_rng(5).standard_normal(40)).tolist()
    error = running_errors({"m": (issue(NOW, 2.2),)}, seen(at, hs), to_us(at[-1]))["m", "hs_m"]
    assert error.bias(np.array([15.0]))[0] == pytest.approx(-0.4, abs=0.1)
    assert error.sigma(np.array([3.0]))[0] == pytest.approx(0.21, abs=0.07)


def test_errors_that_resemble_each_other_leave_the_bias_in_doubt() -> None:
    """n (1 - r) / (1 + r): of a first-order process with r = 0.9 a nineteenth counts."""
    rng = np.random.default_rng(6)
    alike = np.zeros(4_000)
    for step in range(1, len(alike)):
        alike[step] = 0.9 * alike[step - 1] + rng.standard_normal()
    assert independent_of(alike) == pytest.approx(4_000 / 19.0, rel=0.25)
    assert independent_of(rng.standard_normal(4_000)) == pytest.approx(4_000, rel=0.1)


def test_without_pairs_the_assumption_is_used_and_known_as_one() -> None:
    error = RunningError(model="m", quantity="hs_m", bins=())
    assert not error.measured
    assert error.sigma(np.array([24.0]))[0] == pytest.approx(sum(ASSUMED["hs_m"]))


def test_sigma_never_falls_with_lead() -> None:
    at = [NOW + timedelta(hours=h) for h in range(1, 48)]
    hs = [1.0 if h < 12 else 2.0 for h in range(1, 48)]
    error = running_errors({"m": (issue(NOW, 2.0),)}, seen(at, hs), to_us(at[-1]))["m", "hs_m"]
    sigma = error.sigma(np.linspace(0, 100, 50))
    assert np.all(np.diff(sigma) >= 0)


def test_the_model_with_the_smaller_error_speaks() -> None:
    at = [NOW + timedelta(hours=h) for h in range(1, 24)]
    by_model = {"good": (issue(NOW, 2.0, "good"),), "bad": (issue(NOW, 4.0, "bad"),)}
    errors = running_errors(by_model, seen(at, [2.0] * 23), to_us(at[-1]))
    assert who_speaks(by_model, errors, None)["hs_m"] == "good"


def test_a_station_ashore_says_nothing_of_the_error_at_sea() -> None:
    at = [NOW + timedelta(hours=h) for h in range(1, 24)]
    ashore = seen(at, [2.0] * 23, at_sea=False)
    assert not running_errors({"m": (issue(NOW, 2.5),)}, ashore, to_us(at[-1]))["m", "hs_m"].bins


def test_no_places_at_all_are_no_fault() -> None:
    weather = field(issue(NOW - timedelta(hours=6), 1.0), issue(NOW, 2.0))
    nothing = np.empty(0)
    assert weather.conditions(nothing, nothing, nothing.astype(np.int64)).hs_m.shape == (0,)
