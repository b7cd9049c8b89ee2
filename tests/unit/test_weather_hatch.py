"""Tidal stream and the seat: tables, constants, tilt, approach, closing speed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.weather import LAYER
from layers.weather.model import TidalStream
from layers.weather.sea.hatch import tilt_deg
from layers.weather.sea.tidal import Stream, carried_down
from tests.weather_records import known, record

NOW = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)
TABLE = [
    {"hour": h, "set_true_deg": 60.0 if abs(h) < 4 else 240.0, "spring_kn": 2.0, "neap_kn": 1.0}
    for h in range(-6, 7)
]


def table(**more: Any) -> dict[str, Any]:
    return {
        "place": "here", "level": "seat", "latitude_deg": 49.8, "longitude_deg": -8.5,
        "radius_nmi": 10.0, "hours": TABLE,
        "high_waters": [{"at": "2027-03-16T06:00:00Z", "range_m": 3.5}],
        "spring_range_m": 5.0, "neap_range_m": 2.0, "reported_by": "test", **more,
    }  # fmt: skip


def stream(payload: dict[str, Any]) -> Stream:
    import json

    return Stream(value=TidalStream.model_validate_json(json.dumps(payload)), rests_on="r")


def at(*hours: float) -> np.ndarray:
    return np.array([to_us(NOW + timedelta(hours=h)) for h in hours], dtype=np.int64)


def kn(parts: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    return np.hypot(*parts) / (1852 / 3600)


def test_the_rate_lies_between_neap_and_spring_as_the_range_does() -> None:
    """Range 3.5 m is half way from 2 m to 5 m: 1.5 kn, half way from 1 kn to 2 kn."""
    east, north = stream(table()).at(at(0.0))
    assert kn((east, north))[0] == pytest.approx(1.5)
    assert np.degrees(np.arctan2(east, north))[0] == pytest.approx(60.0)


def test_the_stream_turns_through_slack() -> None:
    assert kn(stream(table()).at(at(3.5)))[0] == pytest.approx(0.0, abs=1e-9)


def test_beyond_the_high_waters_entered_nothing_is_known() -> None:
    assert np.isnan(stream(table()).at(at(7.0))[0]).all()


WHOLE = ("M2", "S2", "K1", "O1")
SPEEDS = {"M2": 28.984104, "S2": 30.0, "K1": 15.041069, "O1": 13.943036}  # Schureman, SP 98


def by_constants(names: tuple[str, ...], kn: float = 1.0, *, greenwich: bool = False) -> Any:
    """Return a stream of constants of which M2 alone runs, towards east."""
    constants = [
        {"name": name, "east_kn": kn if name == "M2" else 0.0, "east_phase_deg": 0.0,
         "north_kn": 0.0, "north_phase_deg": 0.0,
         **({} if greenwich else {"speed_deg_per_h": SPEEDS[name]})}
        for name in names
    ]  # fmt: skip
    counted = {} if greenwich else {"zero_at": "2027-03-16T06:00:00Z"}
    return table(
        hours=[], high_waters=[], spring_range_m=None, neap_range_m=None,
        constants=constants, **counted,
    )  # fmt: skip


def test_harmonic_constants_repeat_with_their_period() -> None:
    east, _ = stream(by_constants(WHOLE)).at(at(0.0, 360.0 / 28.984104, 180.0 / 28.984104))
    assert east / (1852 / 3600) == pytest.approx([1.0, 1.0, -1.0], abs=1e-6)


@pytest.mark.parametrize("greenwich", [True, False])
@pytest.mark.parametrize("without", WHOLE)
def test_a_list_without_one_of_the_four_tells_no_stream_and_says_which(
    without: str, greenwich: bool
) -> None:
    """At springs M2 alone tells two thirds of what runs: a yes that nobody has the right to."""
    lists = tuple(name for name in WHOLE if name != without)
    found = stream(by_constants(lists, greenwich=greenwich))
    assert all(np.isnan(part).all() for part in found.at(at(0.0, 3.0)))
    assert found.lacks == f"the stream of {found.value.place} has no {without} in its list"
    assert stream(by_constants(WHOLE, greenwich=greenwich)).lacks == ""


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"hours": TABLE[:5]}, "each hour from -6"),
        ({"high_waters": []}, "high waters"),
        ({"spring_range_m": 1.0}, "greater than the neap"),
        ({"hours": []}, "either an hourly table or harmonic"),
    ],
)
def test_a_table_that_lacks_something_is_refused(more: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        stream(table(**more))


def test_carried_down_is_whole_above_half_depth_and_less_below() -> None:
    assert carried_down(80.0, 142.0) == 1.0
    assert 0.5 < carried_down(10.0, 142.0) < 0.85
    assert carried_down(5.0, 142.0) < carried_down(10.0, 142.0)


@pytest.mark.parametrize(
    ("list_deg", "bow_deg", "tilt"), [(12.0, 0.0, 12.0), (0.0, -4.0, 4.0), (45.0, 45.0, 60.0)]
)
def test_tilt_of_two_turns(list_deg: float, bow_deg: float, tilt: float) -> None:
    """Closed form: cos 60° = cos 45° cos 45°."""
    assert tilt_deg(list_deg, bow_deg) == pytest.approx(tilt)


def result(*more: Any) -> Any:
    before = NOW - timedelta(days=1)
    place = {"latitude_deg": 49.8, "longitude_deg": -8.5, "water_depth_m": 142.0, "reason": "x"}
    seat = {"seat": "after", "depth_m": 132.0, "water_depth_m": 142.0, "list_deg": 12.0,
            "bow_down_deg": 4.0, "reported_by": "x"}  # fmt: skip
    records = [
        record(1, "weather.place_of_work", before, place),
        record(2, "weather.seat", before, seat),
        record(3, "weather.tidal_stream", before, table()),
        record(4, "weather.tidal_stream", before, table(level="surface")),
        *more,
    ]
    return LAYER.compute(known(records, NOW), {}, Moment(NOW, NOW))


def test_the_heading_is_into_the_current() -> None:
    (hatch,) = result().hatches
    assert hatch.current_kn == pytest.approx(1.5)
    assert hatch.current_set_deg == pytest.approx(60.0)
    assert hatch.heading_true_deg == pytest.approx(240.0)


def test_without_limits_nothing_is_called_within() -> None:
    (hatch,) = result().hatches
    assert {each.within for each in hatch.compared} == {None}


def test_limits_of_the_vehicle_and_of_mating_are_held_against_the_seat() -> None:
    before = NOW - timedelta(days=1)
    (hatch,) = result(
        record(5, "weather.vehicle_limit", before, {
            "vehicle": "L", "list_max_deg": 10.0, "bow_down_max_deg": 10.0, "tilt_max_deg": 13.0,
            "closing_m_s": 0.2, "touchdown_max_m_s": 0.26, "set_by": "x"}),
        record(6, "weather.limit", before, {
            "operation": "mating", "duration_h": 2.0, "current_seat_max_kn": 0.8, "set_by": "x"}),
    ).hatches  # fmt: skip
    found = {each.name: each.within for each in hatch.compared}
    assert found == {
        "list": False,
        "bow down": True,
        "tilt of the seat": True,
        "current at the seat": False,
        # nobody has told the waves: an unknown sea is never a yes
        "current and waves at the seat": None,
        "closing speed at touchdown": None,
    }
