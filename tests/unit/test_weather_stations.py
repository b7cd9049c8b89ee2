"""Stations: latest per field, age, the nearest and the freshest told apart."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from layers.contract import Moment
from layers.earth.chart.marks import Freshness, PointMark, Symbol
from layers.earth.errors import InputError
from layers.weather import LAYER
from layers.weather.scales import wind_at_10_m
from tests.weather_records import known, record

NOW = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)


def place(seq: int = 1) -> object:
    return record(
        seq,
        "weather.place_of_work",
        NOW - timedelta(days=1),
        {"latitude_deg": 49.83, "longitude_deg": -8.5, "water_depth_m": 142.0, "reason": "datum"},
    )


def station(seq: int, name: str, latitude: float, longitude: float, **more: object) -> object:
    payload = {
        "station": name,
        "name": f"buoy {name}",
        "sort": "buoy",
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        **more,
    }
    return record(seq, "weather.station", NOW - timedelta(days=1), payload)


def seen(seq: int, name: str, minutes: int, **fields: object) -> object:
    return record(
        seq, "weather.observation", NOW - timedelta(minutes=minutes), {"station": name, **fields}
    )


def shown(*records: object, at: datetime = NOW) -> object:
    return LAYER.compute(known(records, NOW), {}, Moment(NOW, at))


def test_nothing_says_what_would_fill_the_place() -> None:
    with pytest.raises(InputError, match="a buoy file"):
        shown(place())


def test_the_nearest_is_stale_and_the_sentence_speaks_of_the_fresh_one() -> None:
    result = shown(
        place(),
        station(2, "62X07", 49.9, -8.6),
        station(3, "62X12", 49.67, -9.5),
        seen(4, "62X07", 165, hs_m=1.8, wind_kn=20.0, wind_from_true_deg=220.0),
        seen(5, "62X12", 45, hs_m=2.6, tp_s=11.0, wind_kn=24.0, wind_from_true_deg=230.0),
    )
    assert result.nearest.station == "62X07"
    assert result.nearest.stale
    assert result.freshest.station == "62X12"
    said = LAYER.sentence(result)
    assert said.startswith("Sea state 5 (rough), Hs 2.6 m at 11 s")
    assert "the nearest, buoy 62X07 (6 nmi on 317°T), is 2 h 45 old, stale" in said


def test_waves_of_an_earlier_row_stand_beside_the_newer_wind() -> None:
    result = shown(
        place(),
        seen(2, "62X07", 60, hs_m=2.0, wind_kn=18.0, wind_from_true_deg=200.0),
        seen(3, "62X07", 10, wind_kn=22.0),
    )
    (found,) = result.stations
    assert found.values["hs_m"] == 2.0
    assert found.age == timedelta(minutes=10)
    assert "Hs 2.0 m (of 0535Z)" in LAYER.sentence(result)
    # the newer wind came without its direction: the older direction is not lent to it
    assert "wind_from_true_deg" not in found.values


def test_a_station_of_unknown_position_is_tabled_and_not_drawn() -> None:
    result = shown(place(), seen(2, "62X99", 10, hs_m=2.0))
    assert LAYER.marks(result) == ()
    (row,) = LAYER.table(result).as_dicts()
    assert row["Position"] == "not known, not on the map"


def test_a_stale_barb_is_hollow_with_its_age() -> None:
    result = shown(
        place(),
        station(2, "62X07", 49.9, -8.6),
        seen(3, "62X07", 165, wind_kn=20.0, wind_from_true_deg=220.0, current_kn=0.6,
             current_set_true_deg=70.0, hs_m=2.0, tp_s=8.0, wave_from_true_deg=230.0),
    )  # fmt: skip
    barb, wave, current = LAYER.marks(result)
    assert isinstance(barb, PointMark)
    assert barb.symbol is Symbol.WIND_BARB
    assert barb.freshness is Freshness.STALE
    assert barb.label == "buoy 62X07 2 h 45"
    assert barb.heading_true_deg == 220.0  # wind comes from
    assert wave.heading_true_deg == pytest.approx(50.0)  # the arrow points where they go
    assert current.heading_true_deg == 70.0
    assert "kn" in barb.tooltip
    assert barb.source


def test_wind_is_brought_to_10_m_where_the_height_is_known() -> None:
    result = shown(
        place(),
        station(2, "62X07", 49.9, -8.6, anemometer_m=4.0),
        seen(3, "62X07", 5, wind_kn=20.0),
    )
    assert result.stations[0].wind_10m_kn == pytest.approx(20.0 * 2.5**0.11)
    assert wind_at_10_m(20.0, 10.0) == 20.0


def test_an_observation_after_the_time_shown_is_not_used() -> None:
    result = shown(
        place(), seen(2, "A", 60, hs_m=2.0), seen(3, "A", 10, hs_m=3.0),
        at=NOW - timedelta(minutes=30),
    )  # fmt: skip
    assert result.stations[0].values["hs_m"] == 2.0


def test_many_stations_are_told_apart() -> None:
    made = [seen(n, f"S{n % 7}", n, hs_m=1.0 + n % 7) for n in range(2, 60)]
    result = shown(place(), *made)
    found = {s.station: (s.values["hs_m"], s.age) for s in result.stations}
    assert len(found) == 7
    for name, (hs_m, age) in found.items():
        first = next(n for n in range(2, 60) if f"S{n % 7}" == name)
        assert hs_m == 1.0 + first % 7
        assert age == timedelta(minutes=first)


def of(result: object, name: str = "62X07") -> object:
    (found,) = [each for each in result.stations if each.station == name]  # type: ignore[attr-defined]  # the layer's own result
    return found


def test_what_was_never_found_is_shown_and_told_and_not_worked_with() -> None:
    """185 kn is the strongest sustained wind found at the surface (NHC, EP202015)."""
    result = shown(
        place(),
        station(2, "62X07", 49.9, -8.6),
        seen(3, "62X07", 70, hs_m=1.8, wind_kn=20.0, wind_from_true_deg=220.0),
        seen(4, "62X07", 10, hs_m=1.9, wind_kn=230.0, wind_from_true_deg=220.0),
    )
    held = of(result)
    assert (held.values["wind_kn"], held.values["hs_m"]) == (20.0, 1.9)
    assert held.doubtful["wind_kn"].value == 230.0
    assert "strongest sustained wind" in held.doubtful["wind_kn"].why
    assert "230" in str(LAYER.tables(result)["Doubtful, not worked with"].rows)


def test_a_step_no_sea_makes_waits_for_a_second_value_that_confirms_it() -> None:
    """NDBC 09-02, time continuity: 0.58 σ √τ with σ 6 m is 3.5 m in an hour."""
    first = (place(), station(2, "62X07", 49.9, -8.6), seen(3, "62X07", 120, hs_m=1.8, tp_s=11.0),
             seen(4, "62X07", 60, hs_m=9.0, tp_s=14.0))  # fmt: skip
    alone = of(shown(*first))
    assert alone.values["hs_m"] == 1.8
    assert alone.doubtful["hs_m"].value == 9.0
    confirmed = of(shown(*first, seen(5, "62X07", 5, hs_m=9.4, tp_s=14.0)))
    assert confirmed.values["hs_m"] == 9.4
    assert "hs_m" not in confirmed.doubtful
