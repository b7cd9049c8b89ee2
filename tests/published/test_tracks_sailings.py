"""Closest approach and arrival against published values and closed forms."""

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.tracks.meeting import Moving, arrival, closest_approaches

AT = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
PLACE = Position(49.8333, -8.5)


@pytest.mark.parametrize(
    ("bearing", "range_nmi", "first", "second", "cpa", "hours"),
    [
        # Closed forms, COMPUTED. Meeting end on: CPA 0 after range / sum of speeds.
        (0.0, 20.0, (0.0, 10.0), (180.0, 10.0), 0.0, 1.0),
        # Crossing at right angles, equal speeds: the other 10 nmi north, going east;
        # relative velocity 10√2 to the south-east, so CPA = 10/√2 after 0.5 h.
        (0.0, 10.0, (0.0, 10.0), (90.0, 10.0), 10.0 / math.sqrt(2.0), 0.5),
        # Passing a stopped ship 3 nmi off the beam: √(5² − 3²) = 4 nmi along, at 8 kn.
        (math.degrees(math.asin(0.6)), 5.0, (0.0, 8.0), (0.0, 0.0), 3.0, 0.5),
        # Overtaking on the same line never comes nearer when slower.
        (0.0, 6.0, (0.0, 5.0), (0.0, 9.0), 6.0, 0.0),
        # Same course and speed: the range stays.
        (45.0, 7.0, (90.0, 12.0), (90.0, 12.0), 7.0, 0.0),
    ],
)
def test_closest_approach(bearing, range_nmi, first, second, cpa, hours):
    other = going(PLACE, bearing, range_nmi * 1852.0)
    (found,), (when,), _ = closest_approaches([Moving(PLACE, *first)], [Moving(other, *second)])
    assert found == pytest.approx(cpa, abs=0.01)
    assert when == pytest.approx(hours, abs=0.002)


def test_arrival_by_rhumb_line_and_by_great_circle():
    # check_values rows "Rhumb direct" and "Geodesic direct", 100 NM on 060 from 50N 10W;
    # VERIFIED: pygeodesy 26.10.26 rhumb.ekx and geographiclib 2.1.
    start = Position(50.0, -10.0)
    by_rhumb = arrival(start, AT, Position(50.832456, -7.743317), 10.0, "stated")
    assert by_rhumb.rhumb_nmi == pytest.approx(100.0, abs=1e-3)
    assert by_rhumb.rhumb_bearing_true_deg == pytest.approx(60.0, abs=1e-4)
    assert (by_rhumb.by_rhumb - AT).total_seconds() == pytest.approx(36_000, abs=1)
    by_great_circle = arrival(start, AT, Position(50.810432, -7.724177), 10.0, "stated")
    assert by_great_circle.great_circle_nmi == pytest.approx(100.0, abs=1e-3)
    assert by_great_circle.great_circle_bearing_true_deg == pytest.approx(60.0, abs=1e-4)


def test_great_circle_is_never_the_longer():
    # check_values: JFK to Changi by rhumb 18,523,563 m (VERIFIED, RhumbSolve manual page).
    start = Position(40 + 38 / 60 + 23 / 3600, -(73 + 46 / 60 + 44 / 3600))
    goal = Position(1 + 21 / 60 + 33 / 3600, 103 + 59 / 60 + 22 / 3600)
    found = arrival(start, AT, goal, 20.0, "stated")
    assert found.rhumb_nmi * 1852 == pytest.approx(18_523_563, abs=1)
    assert found.great_circle_nmi < found.rhumb_nmi


def _least_by_hand(first: Moving, second: Moving, hours: float, step_s: float) -> float:
    """Return the least range, nmi: both stepped along by geographiclib, course held each step."""
    ends, least = [], np.inf
    for one in (first, second):
        lat, lon = one.position.latitude_deg, one.position.longitude_deg
        line = []
        for _ in range(int(hours * 3600 / step_s)):
            line.append((lat, lon))
            # a short geodesic whose middle has the course held, so that the step is a rhumb line
            half = Geodesic.WGS84.Direct(
                lat, lon, one.course_true_deg, one.speed_kn * 1852 * step_s / 3600
            )
            turn = (half["azi2"] - half["azi1"]) / 2
            found = Geodesic.WGS84.Direct(
                lat, lon, one.course_true_deg - turn, one.speed_kn * 1852 * step_s / 3600
            )
            lat, lon = found["lat2"], found["lon2"]
        ends.append(line)
    for (a, b), (c, d) in zip(*ends, strict=True):
        least = min(least, Geodesic.WGS84.Inverse(a, b, c, d)["s12"])
    return least / 1852


@pytest.mark.parametrize("latitude", [0.0, 50.0, -65.0, 75.0, 84.0])
@pytest.mark.parametrize("apart_nmi", [60.0, 190.0])
def test_closest_approach_is_the_least_geodesic_range_of_two_rhumb_lines(
    latitude: float, apart_nmi: float
) -> None:
    """Across the date line, against small steps by geographiclib: 0.1 % or 20 m."""
    rng = np.random.default_rng(round(latitude) + round(apart_nmi) + 200)
    for _ in range(3):
        start = Position(latitude, 179.7)
        other = going(start, float(rng.uniform(30, 150)), apart_nmi * 1852)
        first = Moving(start, float(rng.uniform(40, 140)), float(rng.uniform(4, 20)))
        second = Moving(other, float(rng.uniform(220, 320)), float(rng.uniform(4, 20)))
        (cpa,), (hours,), _ = closest_approaches([first], [second])
        by_hand = _least_by_hand(first, second, hours + 1.0, 60.0)
        # a range between two steps of a minute may be less than at both by a little
        assert cpa == pytest.approx(by_hand, rel=1e-3, abs=20 / 1852 + 0.02)
        assert cpa <= by_hand + 1e-4
