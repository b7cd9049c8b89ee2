"""Two small rules of the search: what half a weight is worth, and where a fix starts."""

from __future__ import annotations

import numpy as np
import pytest

from layers.datum.lines.crossings import MOST_PAIRS, crossed, crossings
from layers.datum.lines.line import LineOfPosition
from layers.earth.geodesy import between
from layers.earth.plane import Plane
from layers.earth.position import Position
from tests.unit.test_datum_reports import answer

PLANE = Plane(50.0, -8.0)
SHE = Position(50.02, -7.95)


@pytest.mark.parametrize("weight", [1.0, 0.5, 0.25])
def test_a_search_of_half_weight_has_seen_what_half_its_coverage_would(weight):
    """Random search over all she can be in, coverage 1 (Koopman): 1 - exp(-weight)."""
    search = {
        "searcher": "A", "area": [{"latitude_deg": 49.8, "longitude_deg": -8.4}],
        "radius_m": 300_000.0, "spacing_m": 2_000.0, "sweep_width_m": 2_000.0,
        "pod_curve": "random", "started_at": "2027-03-13T08:00:00Z",
    }  # fmt: skip
    facts = [("datum.negative_search", 16.0, search)]
    _, records = answer(*facts)
    searched = next(r for r in records if r.kind == "datum.negative_search")
    told = {"target": searched.id, "weight": weight, "reason": "fog for half of it"}
    result, _ = answer(*facts, ("datum.weighting", 17.0, told))
    assert result.searched.probability_seen == pytest.approx(1.0 - np.exp(-weight), abs=0.02)


def bearing(name, latitude, longitude):
    here = Position(latitude, longitude)
    towards = between(here, SHE)[1]
    return LineOfPosition(
        name=name, latitude_deg=latitude, longitude_deg=longitude, sigma=1.0,
        bearing_true_deg=towards,
    )  # fmt: skip


def test_a_fix_starts_at_the_squarest_crossings_whatever_order_they_came_in():
    """Eight ships in a row to the west all but look along each other; one lies to the south.

    Their own 28 pairs come first and cross at a degree or two: any of them would be chosen before
    the eight pairs with the ship to the south, which cross at right angles.
    """
    row = [bearing(f"W{n}", 50.02 + 0.0004 * n, -8.6 + 0.002 * n) for n in range(8)]
    south = bearing("S", 49.6, -7.95)
    found = crossed([*row, south], PLANE, MOST_PAIRS)
    assert all(south in pair[1:] for pair in found[:8])
    angles = []
    for _, one, two in found:
        apart = abs(one.bearing_true_deg - two.bearing_true_deg) % 180.0
        angles.append(min(apart, 180.0 - apart))
    assert np.all(np.diff(angles) < 0.5)  # squarest first, but for the meridians' convergence
    x, y = PLANE.point(SHE.latitude_deg, SHE.longitude_deg)
    start = crossings([*row, south], PLANE)[0]
    assert np.hypot(start[0] - x, start[1] - y) < 100.0


def test_of_two_rings_and_a_bearing_the_square_one_leads():
    def ring(name, latitude, longitude):
        here = Position(latitude, longitude)
        return LineOfPosition(
            name=name, latitude_deg=latitude, longitude_deg=longitude, sigma=50.0,
            range_m=between(here, SHE)[0],
        )  # fmt: skip

    # north and north-north-east of her: these rings all but touch; a bearing from the north
    # crosses a ring about the north at right angles
    one, two = ring("N", 50.3, -7.95), ring("NNE", 50.3, -7.93)
    line = bearing("B", 50.5, -7.95)
    found = crossed([one, two, line], PLANE, MOST_PAIRS)
    assert line in found[0][1:]
