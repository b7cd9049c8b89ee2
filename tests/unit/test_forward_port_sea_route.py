"""Ways by sea round land: on a coastline of our own, and over the real one where it is cut."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
import shapely

from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.shore.land import Crossing, Land
from layers.forward_port.legs import coast
from layers.forward_port.legs.sea_route import clear, length_nmi, round_land


class Wall:
    """A coastline that is one polygon in longitude and latitude."""

    def __init__(self, *corners: tuple[float, float]) -> None:
        self.shape = shapely.Polygon(corners)

    def is_land(self, lat: Any, lon: Any) -> Any:
        return shapely.contains_xy(self.shape, np.asarray(lon), np.asarray(lat))

    def crosses(self, lat: Any, lon: Any) -> Crossing | None:
        met = shapely.intersection(self.shape, shapely.linestrings(np.column_stack((lon, lat))))
        if met.is_empty:
            return None
        first = shapely.get_coordinates(met)[0]
        return Crossing(Position(float(first[1]), float(first[0])), 0.0)


WALL: Any = Wall((-5.0, 49.0), (-4.8, 49.0), (-4.8, 51.0), (-5.0, 51.0))
WEST, EAST = Position(50.0, -6.0), Position(50.0, -4.0)


def test_where_nothing_is_in_the_way_the_way_is_straight() -> None:
    goal = Position(50.0, -6.5)
    assert round_land(WALL, WEST, goal) == (WEST, goal)


def test_the_way_goes_round_the_end_of_a_wall_and_is_nearly_the_shortest() -> None:
    found = round_land(WALL, WEST, EAST)
    assert found is not None
    assert clear(WALL, found, (WEST, EAST))
    # by hand: to the nearer corner pair at 49 or 51 N and back; both ends are as far
    south = [(50.0, -6.0), (49.0, -5.0), (49.0, -4.8), (50.0, -4.0)]
    by_hand = sum(between(Position(*a), Position(*b))[0] for a, b in itertools.pairwise(south))
    assert by_hand / 1852 <= length_nmi(found) <= 1.06 * by_hand / 1852


def test_a_place_shut_in_by_land_has_no_way() -> None:
    inside: Any = Wall((-7, 48), (-3, 48), (-3, 52), (-7, 52), (-7, 48))
    ring = shapely.Polygon(
        [(-7, 48), (-3, 48), (-3, 52), (-7, 52)], [[(-6.5, 49.5), (-5.5, 49.5), (-5.5, 50.5)]]
    )
    inside.shape = ring
    assert round_land(inside, Position(49.8, -5.8), Position(53.0, 2.0)) is None


REAL = coast.land()
PAIRS = {
    "Falmouth to the exercise": ((50.14, -5.03), (49.83, -8.5)),
    "Faslane to Malin": ((56.06, -4.83), (55.5, -7.5)),
    "Suva to Apia, over the date line": ((-17.0, 178.2), (-13.8, -171.7)),
}


@pytest.mark.skipif(REAL is None, reason="not run: the coastline is not cut in this data folder")
@pytest.mark.parametrize("name", list(PAIRS))
def test_no_way_crosses_the_coastline(name: str) -> None:
    start, goal = (Position(*place) for place in PAIRS[name])
    assert isinstance(REAL, Land)
    found = round_land(REAL, start, goal)
    assert found is not None
    assert clear(REAL, found, (start, goal))
    assert length_nmi(found) < 2.2 * between(start, goal)[0] / 1852


@pytest.mark.long
@pytest.mark.skipif(REAL is None, reason="not run: the coastline is not cut in this data folder")
def test_of_forty_pairs_of_coasts_none_crosses() -> None:
    """Pairs drawn along the Atlantic seaboard of Europe: found ways are clear, or none is told."""
    rng = np.random.default_rng(77)
    places = [
        *((60.4, 5.2), (57.1, -2.0), (53.3, -9.2), (50.1, -5.0), (48.4, -4.6), (43.4, -8.4)),
        *((38.7, -9.3), (36.5, -6.3), (51.9, 4.0), (54.0, 8.0), (62.0, -6.8), (64.1, -22.0)),
    ]
    none = 0
    for _ in range(40):
        a, b = rng.choice(len(places), 2, replace=False)
        start, goal = Position(*places[a]), Position(*places[b])
        found = round_land(REAL, start, goal)
        none += found is None
        assert found is None or clear(REAL, found, (start, goal))
    assert none <= 8
