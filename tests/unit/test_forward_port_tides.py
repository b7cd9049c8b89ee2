"""The water at a port from what is printed of it, and a berth by the tide of her arrival.

The secondary port is a textbook exercise with invented ports (times and heights by proportion);
the subordinate station is a published one (fixed minutes and metres).
"""

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from pydantic import ValidationError

from layers.earth.clock import to_us
from layers.forward_port.ports.tide_model import TideConstants, TideDifferences
from layers.forward_port.ports.water_level import Harmonic, Turn, moved_turn
from layers.weather.model import TidalStream
from layers.weather.sea.tidal import Stream
from tests.published.test_tides import honolulu
from tests.unit.forward_port_cases import NOW, activity, option, result, row

DAY = datetime(2027, 3, 14, tzinfo=UTC)
LITTLE = {
    "port": "L", "standard": "P", "taken_from": "textbook exercise",
    "high_minutes": [{"at_h": h, "minutes": m} for h, m in ((0, 35), (6, 23), (12, 35), (18, 23))],
    "low_minutes": [{"at_h": h, "minutes": m} for h, m in ((5, 47), (11, 4), (17, 47), (23, 4))],
    "high_m": [{"standard_m": 4.2, "metres": 1.1}, {"standard_m": 3.4, "metres": 0.8}],
    "low_m": [{"standard_m": 1.1, "metres": 0.2}, {"standard_m": 0.4, "metres": 0.1}],
}  # fmt: skip


def read(model, given):
    return model.model_validate_json(json.dumps(given))


def at(hours, minutes=0.0):
    return to_us(DAY + timedelta(hours=hours, minutes=minutes))


def test_a_secondary_high_water_by_proportion():
    value = read(TideDifferences, LITTLE)
    moved = moved_turn(value, Turn(at(6, 38), 3.8, high=True))
    assert (moved.at_us - at(6, 38)) / 60e6 == pytest.approx(24.3, abs=0.5)
    assert moved.height_m == pytest.approx(4.75, abs=0.005)


def test_a_secondary_low_water_by_proportion():
    value = read(TideDifferences, LITTLE)
    moved = moved_turn(value, Turn(at(17), 0.8, high=False))
    assert (moved.at_us - at(17)) / 60e6 == pytest.approx(47.0, abs=0.5)
    assert moved.height_m == pytest.approx(0.957, abs=0.005)


def test_a_height_beyond_the_table_goes_on_by_the_nearest_two():
    value = read(TideDifferences, LITTLE)
    moved = moved_turn(value, Turn(at(6), 5.0, high=True))
    assert moved.height_m == pytest.approx(5.0 + 1.1 + 0.8 * 0.3 / 0.8)


def test_a_subordinate_station_with_fixed_minutes_and_metres():
    """San Francisco North Point, pier 41, on Golden Gate: HW +13 min, +0.06 m; LW +11 min, 0."""
    value = read(TideDifferences, {
        "port": "N", "standard": "P", "taken_from": "US National Ocean Service, station 9414305",
        "high_minutes": [{"at_h": 0, "minutes": 13}], "low_minutes": [{"at_h": 0, "minutes": 11}],
        "high_m": [{"standard_m": 0, "metres": 0.06}],
    })  # fmt: skip
    high = moved_turn(value, Turn(at(3), 1.84, high=True))
    assert (high.at_us, high.height_m) == (at(3, 13), pytest.approx(1.90))
    assert moved_turn(value, Turn(at(9), 0.33, high=False)) == Turn(at(9, 11), 0.33, high=False)


def constants(**more):
    held = [
        {"name": c.name, "amplitude_m": c.amplitude, "phase_deg": c.phase_deg} for c in honolulu()
    ]
    given = {"port": "P", "mean_level_m": 0.249, "constants": held, "taken_from": "printed"}
    return {**given, **more}


def test_a_port_by_its_constants_is_the_published_prediction():
    level = Harmonic(read(TideConstants, constants()))
    times = np.array([to_us(datetime(2023, 8, 29, h, tzinfo=UTC)) for h in (0, 2, 4, 6, 8)])
    want = [0.761, 0.698, 0.413, 0.140, 0.063]
    assert level.heights_m(times) == pytest.approx(want, abs=0.004)


def test_another_datum_is_refused_without_its_height_above_chart_datum():
    with pytest.raises(ValidationError, match="below chart datum"):
        read(TideConstants, constants(datum="MLLW"))
    lifted = read(TideConstants, constants(datum="MLLW", datum_above_chart_datum_m=0.3))
    assert Harmonic(lifted).mean_m == pytest.approx(0.549)


def test_a_constituent_nobody_knows_or_given_twice_is_refused():
    for extra, words in (("XX9", "not known"), ("M2", "twice")):
        bad = constants()
        bad["constants"] = [*bad["constants"], {"name": extra, "amplitude_m": 1, "phase_deg": 0}]
        with pytest.raises(ValidationError, match=words):
            read(TideConstants, bad)


def berthed(arrives_h, *tides):
    """Return the depth alongside of a ship that comes so many hours from now."""
    drafts = [
        option(
            last="alongside", alongside="alongside", port="P", ship="S", berth="B", alongside_h=2.0
        ),
        activity("alongside", hours=(arrives_h, arrives_h, arrives_h)),
        row("ship", name="S", length_m=90.0, draught_m=6.0, under_keel_m=0.5),
        row("berth", port="P", name="B", length_m=120.0, depth_m=3.5),
        *tides,
    ]
    fits = result(drafts).options[0].fits
    return next(f for f in fits if f.what.startswith("depth alongside"))


S2_ONLY = [{"name": "S2", "amplitude_m": 2.0, "phase_deg": 0.0}]  # high at 0 and 12 h on Greenwich
NONE_ELSE = [{"name": name, "amplitude_m": 0.0, "phase_deg": 0.0} for name in ("M2", "K1", "O1")]
TIDE = {"port": "P", "mean_level_m": 3.0, "constants": S2_ONLY + NONE_ELSE,
        "taken_from": "invented"}  # fmt: skip


@pytest.mark.parametrize("later", range(0, 12, 2))
def test_a_berth_is_judged_by_the_tide_when_the_chain_has_her_there(later):
    """S2 alone turns with the sun, so that the level can be told by hand: 3 + 2 cos(30° t)."""
    found = berthed(float(later), row("tide_constants", **TIDE))
    stay = [NOW + timedelta(hours=later) + timedelta(minutes=10 * k) for k in range(13)]
    lowest = min(3.0 + 2.0 * np.cos(np.radians(30.0 * (t.hour + t.minute / 60.0))) for t in stay)
    assert found.limit == pytest.approx(3.5 + lowest, abs=0.02)
    assert found.verdict.value == ("fits" if 3.5 + lowest >= 6.5 else "does not fit")
    assert "harmonic constants" in found.note


def test_a_secondary_port_serves_a_berth_and_without_its_standard_port_nothing_is_known():
    differences = row(
        "tide_differences", port="P", standard="Q", taken_from="invented",
        high_minutes=[{"at_h": 0, "minutes": 0}], low_minutes=[{"at_h": 0, "minutes": 0}],
    )  # fmt: skip
    alone = berthed(2.0, differences)
    assert alone.verdict.value == "not known"
    with_it = berthed(2.0, differences, row("tide_constants", **{**TIDE, "port": "Q"}))
    assert with_it.limit is not None
    assert "differences on Q" in with_it.note
    # of its heights nobody has told anything: the depth stands there and settles nothing
    assert with_it.verdict.value == "not known"
    assert "no difference in height of high and low water" in with_it.note
    told = {"high_m": [{"standard_m": 5.0, "metres": 0.0}], "low_factor": 1.0}
    whole = row("tide_differences", **{**differences.payload, **told})
    settled = berthed(2.0, whole, row("tide_constants", **{**TIDE, "port": "Q"}))
    assert settled.verdict.value in ("fits", "does not fit")
    assert settled.limit == with_it.limit


@pytest.mark.parametrize("absent", ["M2", "S2", "K1", "O1"])
@pytest.mark.parametrize("mean_m", [0.5, 6.0])
def test_a_tide_without_a_principal_constituent_settles_nothing(absent, mean_m):
    """The constituent that nobody typed may bring or take the water that decides it."""
    some = [one for one in TIDE["constants"] if one["name"] != absent]
    found = berthed(4.0, row("tide_constants", **{**TIDE, "mean_level_m": mean_m,
                                                  "constants": some}))  # fmt: skip
    assert found.verdict.value == "not known"
    assert f"no {absent} in its list" in found.note
    drafts = [
        option(last="lift", port="P"),
        activity("lift", tide_min_m=1.0),
        row("tide_constants", **{**TIDE, "constants": some}),
    ]
    (waits,) = [w for w in result(drafts).options[0].unknowns if "the tide that lift" in w]
    assert f"no {absent}" in waits


def test_a_stream_by_constants_as_printed_needs_no_zero_and_knows_its_names():
    stream = {
        "place": "X", "level": "surface", "latitude_deg": 50, "longitude_deg": -8,
        "radius_nmi": 10, "reported_by": "atlas",
        "constants": [{"name": name, "east_kn": float(name == "S2"), "east_phase_deg": 90.0,
                       "north_kn": 0.0, "north_phase_deg": 0.0}
                      for name in ("M2", "S2", "K1", "O1")],
    }  # fmt: skip
    east, north = Stream(value=read(TidalStream, stream), rests_on="r").at(
        np.array([at(0), at(3), at(9)])
    )
    assert east / 0.514444 == pytest.approx([0.0, 1.0, -1.0], abs=1e-3)
    assert north == pytest.approx([0.0, 0.0, 0.0])
    bad = {**stream, "constants": [{**stream["constants"][0], "name": "XX9"}]}
    with pytest.raises(ValidationError, match="zero_at"):
        read(TidalStream, bad)
