"""Patterns that a ship can steer, and the files they are sent in."""

import csv
import io
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace

import gpxpy
import numpy as np
import pytest
from defusedxml.ElementTree import fromstring

from layers.datum.search.model import Searcher
from layers.datum.search.patterns import TITLES, keep_off_land, lane_order, pattern
from layers.datum.search.plan_files import FORMATS, csv_text, gpx, plain_text, rtz
from layers.earth.errors import InputError
from layers.earth.geodesy import between, going
from layers.earth.plane import Plane
from layers.earth.position import Position

MIDDLE = Position(49.83, -8.5)
PLANE = Plane(49.5, -8.0)
START = datetime(2027, 3, 13, 22, 0, tzinfo=UTC)
NMI = 1852.0


def made(code, **other):
    settings = {
        "plane": PLANE,
        "middle": MIDDLE,
        "length_m": 6 * NMI,
        "width_m": 4 * NMI,
        "bearing_true_deg": 65.0,
        "spacing_m": 1 * NMI,
        "speed_kn": 10.0,
        "start": START,
        "searcher": "SALTMARSH",
    } | other
    return pattern(code, **settings)


def headings(found):
    return [
        between(a.position, b.position)[1]
        for a, b in zip(found.turns, found.turns[1:], strict=False)
    ]


def test_parallel_sweep_has_its_tracks_along_the_length_one_spacing_apart():
    found = made("PS")
    lengths, turns = found.lengths_m(), headings(found)
    assert len(found.turns) == 8
    assert lengths[0::2] == pytest.approx([5 * NMI] * 4, rel=1e-3)
    assert lengths[1::2] == pytest.approx([1 * NMI] * 3, rel=1e-3)
    assert turns[0] == pytest.approx(65.0, abs=0.2)
    assert turns[2] == pytest.approx(245.0, abs=0.2)


def test_creeping_line_steers_across_the_length():
    found = made("CS")
    assert headings(found)[0] == pytest.approx(155.0, abs=0.2)
    assert len(found.turns) == 12


def test_expanding_square_grows_by_one_spacing_every_second_leg():
    found = made("SS", length_m=8 * NMI, width_m=8 * NMI)
    in_spacings = np.array(found.lengths_m()) / NMI
    expected = [(leg + 2) // 2 for leg in range(len(in_spacings))]
    assert in_spacings == pytest.approx(expected, rel=1e-3)
    turned = np.diff(headings(found)) % 360.0
    assert turned == pytest.approx(np.full(len(turned), 90.0), abs=0.2)
    assert between(found.turns[0].position, MIDDLE)[0] < 0.5


def test_sector_search_has_nine_equal_legs_and_passes_the_middle_three_times():
    found = made("VS")
    assert found.lengths_m() == pytest.approx([2 * NMI] * 9, rel=1e-3)
    turned = np.diff(headings(found)) % 360.0
    # out, turn right 120, back through the middle and straight on
    assert turned == pytest.approx(
        [120.0, 120.0, 0.0, 120.0, 120.0, 0.0, 120.0, 120.0], abs=0.3
    ) or (
        np.allclose(
            np.minimum(turned, 360.0 - turned), [120, 120, 0, 120, 120, 0, 120, 120], atol=0.3
        )
    )
    home = [between(turn.position, MIDDLE)[0] < 1.0 for turn in found.turns]
    assert home == [True, False, False, True, False, False, True, False, False, True]


def test_track_line_runs_out_one_side_and_back_the_other():
    track = [MIDDLE, going(MIDDLE, 65.0, 10 * NMI)]
    found = made("TS", track=track)
    assert headings(found)[0] == pytest.approx(65.0, abs=0.3)
    assert headings(found)[2] == pytest.approx(245.0, abs=0.5)
    assert found.lengths_m()[1] == pytest.approx(1 * NMI, rel=1e-3)


def test_sonar_lanes_skip_so_that_every_turn_fits_its_radius():
    found = made("lanes", spacing_m=300.0, width_m=3_000.0, turn_radius_m=700.0, run_in_m=500.0)
    x, y = PLANE.project(
        np.array([turn.position.latitude_deg for turn in found.turns]),
        np.array([turn.position.longitude_deg for turn in found.turns]),
    )
    lanes = [n for n, searching in enumerate(found.searching) if searching]
    assert len(lanes) == 10
    offs = []
    for n in lanes:
        assert np.hypot(x[n + 1] - x[n], y[n + 1] - y[n]) == pytest.approx(6 * NMI, rel=1e-3)
        turn = np.radians(65.0 + PLANE.convergence_deg(MIDDLE.latitude_deg, MIDDLE.longitude_deg))
        offs.append(x[n] * np.cos(turn) - y[n] * np.sin(turn))
    assert np.diff(np.sort(offs)) == pytest.approx(np.full(9, 300.0), abs=1.0)
    across = np.abs(np.diff(offs))
    assert across.min() >= 2 * 700.0 - 1.0
    assert found.track_m == pytest.approx(10 * 6 * NMI, rel=1e-3)


@pytest.mark.parametrize("code", TITLES)
def test_times_follow_from_lengths_and_speed(code):
    found = made(code, track=[MIDDLE, going(MIDDLE, 65.0, 10 * NMI)])
    hours = (found.turns[-1].at - START) / timedelta(hours=1)
    assert hours == pytest.approx(sum(found.lengths_m()) / NMI / 10.0, rel=1e-6)


@pytest.mark.parametrize("field", ["spacing_m", "speed_kn", "length_m"])
def test_nothing_is_refused_with_a_sentence(field):
    with pytest.raises(InputError, match="more than 0"):
        made("PS", **{field: 0.0})


def test_a_pattern_of_too_many_legs_is_refused():
    with pytest.raises(InputError, match="legs"):
        made("PS", spacing_m=1.0)


def test_a_pattern_that_crosses_land_is_refused_naming_the_leg():
    hit = SimpleNamespace(position=MIDDLE)
    land = SimpleNamespace(ready=lambda: True, crosses=lambda lat, lon: hit)
    with pytest.raises(InputError, match="leg 1 comes on land"):
        keep_off_land(made("PS"), land)


def test_without_a_coastline_the_plan_says_it_was_not_checked():
    land = SimpleNamespace(ready=lambda: False)
    assert "not cut yet" in keep_off_land(made("PS"), land)


def test_gpx_is_read_by_a_general_library():
    found = made("PS")
    route = gpxpy.parse(gpx(found, "EXERCISE SABLE TIDE").decode()).routes[0]
    assert len(route.points) == len(found.turns)
    assert route.name.startswith("EXERCISE SABLE TIDE")
    assert route.points[3].latitude == pytest.approx(found.turns[3].position.latitude_deg, abs=1e-6)
    assert route.points[3].time.replace(microsecond=0) == found.turns[3].at.replace(microsecond=0)


def test_rtz_carries_waypoints_and_schedule():
    found = made("PS")
    root = fromstring(rtz(found))
    space = {"r": "http://www.cirm.org/RTZ/1/2"}
    assert root.tag == "{http://www.cirm.org/RTZ/1/2}route"
    assert root.get("version") == "1.2"
    points = root.findall("r:waypoints/r:waypoint", space)
    assert len(points) == len(found.turns)
    schedule = root.findall("r:schedules/r:schedule/r:calculated/r:scheduleElement", space)
    assert [element.get("waypointId") for element in schedule] == [p.get("id") for p in points]
    assert schedule[0].get("etd") == "2027-03-13T22:00:00Z"


def test_csv_and_text_hold_every_corner():
    found = made("VS")
    rows = list(csv.DictReader(io.StringIO(csv_text(found).decode())))
    assert len(rows) == len(found.turns)
    said = plain_text(found, "EXERCISE").decode()
    assert said.startswith("EXERCISE\n")
    assert "132200Z MAR 27" in said
    assert "Not for navigation" in said


def test_every_format_is_offered():
    assert set(FORMATS) == {"gpx", "rtz", "rtz 1.0", "csv", "txt"}


def searcher(**other):
    settings = {
        "name": "SALTMARSH",
        "latitude_deg": 49.83,
        "longitude_deg": -8.5,
        "search_speed_kn": 8.0,
        "transit_speed_kn": 12.0,
        "sweep_width_m": 1_500.0,
        "endurance_h": 6.0,
        "ready_at": START,
    } | other
    return Searcher(**settings)


def test_a_searcher_with_no_endurance_is_refused():
    with pytest.raises(ValueError, match="endurance cannot search"):
        searcher(endurance_h=0.0)


@pytest.mark.parametrize(("count", "skip"), [(10, 5), (11, 5), (37, 6), (24, 3), (9, 1), (1, 4)])
def test_lanes_are_each_steered_once_and_far_enough_apart(count, skip):
    order = lane_order(count, skip)
    assert sorted(order) == list(range(count))
    assert all(abs(a - b) >= skip for a, b in pairwise(order))


def test_too_few_lanes_for_the_turning_circle_are_refused():
    with pytest.raises(InputError, match="too few to turn"):
        lane_order(4, 5)
