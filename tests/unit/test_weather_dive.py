"""May we dive: one answer for a whole sortie; what is not known, late or doubtful never says yes.

The journals are made by hand, from nothing, with records taken away one after another.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from layers.catalogue import KINDS
from layers.contract import Moment, Origin, Reading
from layers.earth.clock import to_us
from layers.earth.uncertain import NotKnown, Number, Stated
from layers.journal.known import Known, ListShelf
from layers.weather import LAYER
from layers.weather.answering import dive as answer
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issue_draft import add_forecast
from layers.weather.sea.dive import Dive
from layers.weather.sea.window_words import short_words, window_sentence
from tests.weather_records import record

NOW = datetime(2027, 5, 2, 6, 0, tzinfo=UTC)
H = timedelta(hours=1)
PLACE = {"latitude_deg": 43.25, "longitude_deg": 8.57, "water_depth_m": 180.0, "reason": "test"}
LIMITS: dict[str, dict[str, Any]] = {
    "launch": {"duration_h": 1.0, "notice_h": 2.0, "hs_max_m": 2.5, "wind_max_kn": 25.0},
    "dive": {"duration_h": 4.0},
    "mating": {"duration_h": 1.0},
    "recovery": {"duration_h": 1.0, "hs_max_m": 2.0, "wind_max_kn": 20.0},
}


class Journal:
    """Records by hand; ``without`` takes all records of a sort away."""

    def __init__(self) -> None:
        self.records: list[Any] = []
        self.blobs: dict[str, bytes] = {}

    def add(self, kind: str, payload: dict[str, Any], at: datetime = NOW - H) -> Journal:
        self.records.append(record(len(self.records) + 1, kind, at, payload))
        return self

    def limits(self, **changed: dict[str, Any] | None) -> Journal:
        for name, values in {**LIMITS, **changed}.items():
            if values is not None:
                self.add("weather.limit", {"operation": name, "set_by": "test", **values})
        return self

    def seen(self, minutes: int, **values: float) -> Journal:
        payload = {"station": "TENACE", "sort": "ship", "latitude_deg": 43.2,
                   "longitude_deg": 8.5, **values}  # fmt: skip
        return self.add("weather.observation", payload, NOW - timedelta(minutes=minutes))

    def forecast(
        self,
        hs: Any,
        *,
        wind_kn: float = 8.0,
        issued: datetime = NOW - H,
        names: tuple[str, ...] = ("hs_m", "tp_s", "wind_east_m_s", "wind_north_m_s"),
    ) -> Journal:
        """Hourly Hs from the issue on, alike over the whole grid; only what is named."""
        heights = np.asarray(hs, dtype=float)
        times = to_us(issued) + np.arange(len(heights)) * 3_600_000_000
        lats, lons = np.arange(42.0, 45.0), np.arange(7.0, 11.0)
        shape = (len(times), len(lats), len(lons))
        whole = {
            "hs_m": np.broadcast_to(heights[:, None, None], shape).copy(),
            "tp_s": np.full(shape, 7.0),
            "wind_east_m_s": np.full(shape, wind_kn * 0.514444),
            "wind_north_m_s": np.zeros(shape),
        }
        whole = {name: values for name, values in whole.items() if name in names}
        reading = Reading()
        origin = Origin(source="t", received_at=issued, digest="0" * 64)
        add_forecast(reading, origin, field_grid(times, lats, lons, whole), model="m",
                     issued_at=issued, form="NetCDF")  # fmt: skip
        self.blobs.update(reading.blobs)
        return self.add("weather.forecast", dict(reading.drafts[0].payload), issued)

    def dive(self, at: datetime = NOW) -> Dive:
        return self.result(at).dive

    def result(self, at: datetime = NOW) -> Any:
        shelf = ListShelf(self.records, self.blobs)
        return LAYER.compute(Known(shelf, KINDS, len(self.records), at), {}, Moment(at, at))


WIND_ALONE = ("wind_east_m_s", "wind_north_m_s")


def journal() -> Journal:
    return Journal().add("weather.place_of_work", PLACE)


def calm() -> Journal:
    return journal().limits().forecast(np.full(49, 1.0)).seen(10, hs_m=1.0, wind_kn=8.0)


def test_an_observation_over_the_limit_forbids_without_any_forecast() -> None:
    found = journal().limits().seen(10, hs_m=2.8, wind_kn=25.0).dive()
    assert found.open is False
    assert "Hs 2.8 m over 2.5" in found.because
    assert "TENACE" in found.because
    assert found.begins is None


@pytest.mark.parametrize("part", ["launch", "recovery"])
def test_a_limit_that_says_nothing_of_the_waves_lets_nobody_dive_in_any_sea(part: str) -> None:
    without = {key: value for key, value in LIMITS[part].items() if key != "hs_max_m"}
    found = journal().limits(**{part: without}).forecast(np.full(49, 1.0)).dive()
    assert found.open is None
    assert f"limit of Hs for {part}" in found.missing


def test_a_sortie_likelier_to_break_a_limit_than_to_keep_all_is_no_yes() -> None:
    """Sea and wind both a hair within their limits: each by itself about even, both seldom."""
    near = journal().limits().forecast(np.full(49, 1.97), wind_kn=19.7)
    found = near.dive()
    assert found.open is False
    assert "of 100 only, most often not recovery: " in found.because
    assert found.begins is None
    assert not any(state for _, _, state in found.starts)
    # the same a little calmer: likely, and how likely stands beside the yes
    likely = journal().limits().forecast(np.full(49, 1.6), wind_kn=14.0).dive()
    assert likely.open is True
    assert isinstance(likely.chance, Number)
    assert 0.5 <= likely.chance.value < 0.9


def test_a_window_opens_when_it_is_likelier_to_hold_than_not() -> None:
    falling = journal().limits().forecast(np.linspace(3.0, 0.6, 49)).dive()
    assert falling.open is False
    assert falling.begins is not None
    assert isinstance(falling.chance, Number)
    assert 0.5 <= falling.chance.value < 0.7


def test_a_doubtful_sea_forbids_where_it_is_worse_and_allows_nothing_where_it_is_better() -> None:
    """Beyond the record it may still be rough; a sea that fell 5 m in an hour is not calm yet."""
    sea = journal().limits().forecast(np.full(49, 1.0))
    wild = sea.seen(70, hs_m=1.0, wind_kn=8.0).seen(10, hs_m=21.0, wind_kn=8.0).dive()
    assert wild.open is False
    assert "doubtful" in wild.because
    sea = journal().limits().forecast(np.full(49, 1.0))
    fallen = sea.seen(70, hs_m=6.0, wind_kn=8.0).seen(10, hs_m=0.5, wind_kn=8.0).dive()
    assert fallen.open is False
    assert "Hs 6 m over 2.5" in fallen.because


def test_an_observation_within_the_limits_is_no_forecast_of_the_recovery() -> None:
    result = journal().limits().seen(10, hs_m=1.0, wind_kn=8.0).result()
    found = result.dive
    assert found.open is None
    assert isinstance(answer(result, Moment(NOW, NOW)), NotKnown)
    assert "a forecast at the place of work" in found.missing
    assert "Hs 1 m within 2.5" in found.because


def test_a_sea_only_observed_opens_no_window_ahead_of_any_operation() -> None:
    """The tide gives hours to come; the waves seen now are not the waves of those hours."""
    observed = journal().limits().forecast(np.full(49, 1.0), names=WIND_ALONE).seen(10, hs_m=1.0)
    checked = [each for each in observed.result().outlooks if each.limit.hs_max_m is not None]
    assert checked
    for each in checked:
        assert each.windows == ()
        assert each.unforecast == ("waves",)
        assert "no forecast of the waves" in window_sentence(each, NOW)
        assert "window is open" not in window_sentence(each, NOW)
    told = [each for each in calm().result().outlooks if each.limit.hs_max_m is not None]
    assert all(each.windows and each.unforecast == () for each in told)


def test_a_limit_that_nothing_is_known_of_is_said_beside_an_open_window() -> None:
    """Waves are forecast and the wind is not: the window of the waves is no word on the wind."""
    waves = journal().limits().forecast(np.full(49, 1.0), names=("hs_m", "tp_s")).result()
    wanted = [each for each in waves.outlooks if each.limit.wind_max_kn is not None]
    assert {each.operation for each in wanted} == {"launch", "recovery"}
    for each in wanted:
        assert each.windows
        assert "wind not known and not counted" in window_sentence(each, NOW)
        assert "wind not known and not counted" in short_words(each, NOW)
    assert waves.dive.open is None  # the whole sortie needs both
    both = journal().limits().forecast(np.full(49, 1.0)).result()
    assert not any("not counted" in window_sentence(each, NOW) for each in both.outlooks)


def test_a_calm_forecast_says_yes_until_its_end_is_in_sight() -> None:
    result = calm().result()
    found = result.dive
    assert found.open is True
    assert isinstance(answer(result, Moment(NOW, NOW)), Stated)
    assert isinstance(found.chance, Number)
    assert found.chance.value > 0.95
    assert found.until == NOW + 41 * H  # 47 h ahead, less six
    assert "forecast ends" in found.because


@pytest.mark.parametrize("name", ["launch", "dive", "mating", "recovery"])
def test_a_limit_taken_away_is_asked_for(name: str) -> None:
    found = (
        journal()
        .limits(**{name: None})
        .forecast(np.full(49, 1.0))
        .seen(10, hs_m=1.0, wind_kn=8.0)
        .dive()
    )
    assert found.open is None
    assert f"limits of {name}" in found.missing


def test_waves_not_known_are_not_known() -> None:
    found = journal().limits().forecast(np.full(49, np.nan)).dive()
    assert found.open is None
    assert any("Hs" in what or "waves" in what for what in found.missing)


def test_the_tide_alone_is_no_forecast_of_the_sea() -> None:
    hours = [
        {"hour": h, "set_true_deg": 90.0, "spring_kn": 0.4, "neap_kn": 0.2} for h in range(-6, 7)
    ]
    waters = [{"at": (NOW + k * 12.4 * H).isoformat(), "range_m": 2.0} for k in range(-1, 6)]
    stream = {
        "place": "t", "level": "surface", "latitude_deg": 43.25, "longitude_deg": 8.57,
        "radius_nmi": 10.0, "hours": hours, "high_waters": waters, "spring_range_m": 4.0,
        "neap_range_m": 2.0, "reported_by": "t",
    }  # fmt: skip
    found = journal().limits().seen(10, hs_m=1.0, wind_kn=8.0)
    result = found.add("weather.tidal_stream", stream).result()
    assert result.dive.open is None
    assert result.ahead is not None
    told = result.ahead.hourly()  # as the margin and the response chain get it
    assert (told.waves_forecast, told.wind_forecast) == (False, False)
    assert told.current_forecast


@pytest.mark.parametrize("level", ["surface", "seat"])
def test_a_stream_without_one_of_its_constants_lets_nobody_dive_and_says_which(level: str) -> None:
    """The same twice: M2, K1 and O1 at half the limit, then with S2 entered as nothing."""

    def stream(*names: str) -> dict[str, Any]:
        return {
            "place": "the narrows", "level": level, "latitude_deg": 43.25, "longitude_deg": 8.57,
            "radius_nmi": 10.0, "reported_by": "t", "constants": [
                {"name": name, "east_kn": 0.2 if name == "M2" else 0.0, "east_phase_deg": 10.0,
                 "north_kn": 0.0, "north_phase_deg": 0.0} for name in names
            ],
        }  # fmt: skip

    limit = "current_seat_max_kn" if level == "seat" else "current_surface_max_kn"
    for names, open_, says in (
        (("M2", "K1", "O1"), None, "the stream of the narrows has no S2 in its list"),
        (("M2", "S2", "K1", "O1"), True, ""),
    ):
        found = journal().limits(dive={"duration_h": 4.0, limit: 0.7}).forecast(np.full(73, 1.0))
        result = found.add("weather.tidal_stream", stream(*names)).result()
        assert result.dive.open is open_, result.dive
        assert says in "; ".join(result.dive.missing)


def test_a_wind_observed_and_held_on_is_no_forecast_of_it() -> None:
    found = (
        journal()
        .limits()
        .forecast(np.full(49, 1.0), names=("hs_m", "tp_s"))
        .seen(10, hs_m=1.0, wind_kn=8.0)
    )
    assert found.dive().open is None
    assert "no forecast of the wind" in found.dive().missing


def test_a_recovery_that_shuts_forbids_the_launch_and_the_next_window_is_told() -> None:
    """Hs 1 m, 2.3 m from 4 h to 20 h ahead: launch (2.5 m) stays open, recovery (2.0) shuts."""
    hs = np.full(73, 1.0)
    hs[5:21] = 2.3
    found = journal().limits().forecast(hs).dive()
    assert found.open is False
    assert "recovery" in found.because
    assert "Hs" in found.because
    assert found.begins is not None
    assert NOW + 14 * H < found.begins < NOW + 17 * H  # five hours on, recovery begins at 20 h
    launch = next(o for o in journal().limits().forecast(hs).result().outlooks)
    assert launch.operation == "launch"
    assert launch.within_now


def test_when_recovery_shuts_is_the_same_hour_whenever_the_sortie_would_come_to_it() -> None:
    """Hs from 1 m to 3.2 m between 1800Z and 1900Z, limit 2 m: shut from 1827Z till it falls."""
    rough = np.full(60, 1.0)
    rough[14:22] = 3.2
    sea = journal().limits().forecast(rough)
    for hours in (7, 8, 10):  # its hour of recovery, after five, begins at 1800Z, 1900Z, 2100Z
        found = sea.seen(-60 * hours + 10, hs_m=1.0, wind_kn=8.0).dive(NOW + hours * H)
        assert found.open is False
        assert "recovery shuts at 1830Z: Hs 2." in found.because, found.because


def test_decide_by_is_the_notice_before_the_last_start() -> None:
    hs = np.full(73, 1.0)
    hs[30:] = 3.5
    found = journal().limits().forecast(hs).dive()
    assert found.open is True
    assert found.until is not None
    assert found.decide_by == found.until - 2 * H
    # recovery is done before Hs passes 2.0 m, 0.4 of the hour from 28 h to 29 h ahead
    assert NOW + 22 * H < found.until <= NOW + 28.4 * H - 6 * H


def test_the_sortie_is_timed_by_the_vehicle_where_one_is_recorded() -> None:
    spread = {"low": 10.0, "likely": 20.0, "high": 40.0}
    vehicle = {
        "name": "V", "seats": 10, "attendants": 2, "stretcher_places": 2, "stretcher_seats": 3,
        "battery_kwh": 100.0, "reserve_kwh": 20.0, "charge_kw": 20.0, "transit_kw": 10.0,
        "seat_kw": 5.0, "speed_down_m_min": 10.0, "speed_up_m_min": 10.0,
        **{name: spread for name in ("launch", "search", "mate", "away", "recover",
                                     "into_chamber", "turn_round", "repair")},
        "transfer_walking": {"low": 1.0, "likely": 2.0, "high": 3.0},
        "transfer_stretcher": {"low": 5.0, "likely": 6.0, "high": 7.0},
        "failure_chance": 0.0, "failed_mating_chance": 0.0, "max_pressure_bar_abs": 5.0,
        "person_kg": 80.0, "ballast_kg": 100.0, "life_support_h": 20.0,
        "report_every_min": 20.0, "crews": 2, "crew_rest_h": 8.0, "source": "t",
    }  # fmt: skip
    assert calm().add("survivors.vehicle", vehicle).dive().sortie.timed_by == "the limits"
    untimed = journal().limits(dive=None).add("survivors.vehicle", vehicle)
    found = untimed.forecast(np.full(49, 1.0)).dive()
    assert found.open is None
    assert found.sortie.missing == (
        "limits of dive",
        "depth of the seat (how long the way down and up takes)",
    )
    lift_limits = {"launch_hs_m": 3.0, "recovery_hs_m": 1.5, "through_water_kn": 1.0,
                   "mating_kn": 0.8, "seat_depth_m": 150.0, "source": "t"}  # fmt: skip
    held = calm().add("survivors.vehicle", vehicle).add("survivors.lift_limits", lift_limits)
    sortie = held.dive().sortie
    # most likely: five parts of 20 min, 15 min each way, 20 min of transfer: 2 h 30
    assert sortie.timed_by == "V"
    assert sortie.whole_h is not None
    assert 2.5 < sortie.whole_h < 3.5
    assert {p.name: p.limit.hs_max_m for p in sortie.parts}["launch"] == 2.5  # the stricter
    assert {p.name: p.limit.hs_max_m for p in sortie.parts}["recovery"] == 1.5
    assert held.dive().open is None  # the current is limited, and nobody has told it
    assert any("current" in what for what in held.dive().missing)


def test_a_known_bias_is_taken_out() -> None:
    """Forty pairs, forecast 0.4 m too low, scatter 0.2 m; 2.2 m forecast, limit 2.5 m.

    Worked by hand: P = Phi((2.5 - 2.6) / 0.2) = 0.31; with the bias left in it would be 0.93.
    """
    # observed 10 nmi off for 40 h, the last one four hours ago so that it pulls nothing
    rng = np.random.default_rng(11)
    held = journal().limits(launch={**LIMITS["launch"], "duration_h": 0.1})
    held.forecast(np.full(97, 2.2), issued=NOW - 48 * H)
    for k in range(40):
        held.seen(240 + 60 * k, hs_m=float(2.6 + 0.2 * rng.standard_normal()))
    launch = next(o for o in held.result().outlooks if o.operation == "launch")
    first = held.result().ahead.at(NOW)
    assert launch.chance[first] == pytest.approx(norm.cdf(-0.5), abs=0.13)
    assert held.dive().open is False


def test_an_observation_now_pulls_the_near_hours_and_lets_go() -> None:
    held = journal().limits().forecast(np.full(97, 2.2)).seen(5, hs_m=3.0)
    ahead = held.result().ahead
    first = ahead.at(NOW)
    assert ahead.hs_m[first] > 2.5
    assert 2.2 < ahead.hs_m[first + 12 * 6] < ahead.hs_m[first]
    assert ahead.hs_m[first + 72 * 6] == pytest.approx(2.2, abs=0.01)
    assert ahead.hs_sigma_m[first] < ahead.hs_sigma_m[first + 72 * 6]


def test_an_old_or_distant_observation_pulls_nothing() -> None:
    held = journal().limits().forecast(np.full(97, 2.2)).seen(200, hs_m=3.0)
    assert held.result().ahead.hs_m[0] == pytest.approx(2.2, abs=1e-3)


def test_a_forecast_that_lies_at_a_limit_is_no_yes():
    """Hs 1.95 m for a limit of 2 m, its error not measured: about as likely over as under.

    What lies a metre under it is a yes. The one figure that is read across the room says so.
    """
    near = Journal().add("weather.place_of_work", PLACE).limits().forecast(np.full(72, 1.95))
    verdict = answer(near.result(NOW), Moment(NOW, NOW))
    assert isinstance(verdict, Stated)
    assert verdict.value.may is False
    assert verdict.value.because.startswith("all limits hold in ")
    calm = Journal().add("weather.place_of_work", PLACE).limits().forecast(np.full(72, 0.5))
    sure = answer(calm.result(NOW), Moment(NOW, NOW))
    assert isinstance(sure, Stated)
    assert sure.value.may is True
    assert sure.value.chance > 0.9


def test_a_forecast_that_is_over_is_said_to_have_ended_when_it_did():
    """It ran to 0600Z of the second day; asked at 0930Z it did not end at 0930Z."""
    journal = Journal().add("weather.place_of_work", PLACE).limits()
    journal.forecast(np.full(26, 0.8))  # hourly from 0500Z
    over = NOW + timedelta(days=1)
    for later in (timedelta(minutes=40), timedelta(hours=3.5)):
        words = journal.dive(over + later).words
        assert "forecast ended 0600Z" in words, words
