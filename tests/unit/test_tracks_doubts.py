"""A ship that sends a place inland, at 0, 0 or at ninety knots is in doubt; a named one is not.

The land is a disc by hand, so that what is inland of it by how much is plain arithmetic.
"""

from __future__ import annotations

import numpy as np
import pytest

from layers.earth.geodesy import going, inverse
from layers.earth.position import Position
from layers.tracks.doubts import doubted
from tests.unit.test_tracks_ships import fix, result

CENTRE = Position(52.0, -7.0)
ISLAND_NMI = 10.0
NMI_M = 1852.0


class Disc:
    """Land within 10 nmi of its centre."""

    def ready(self) -> bool:
        return True

    def is_land(self, latitudes_deg, longitudes_deg):
        lat, lon = np.asarray(latitudes_deg), np.asarray(longitudes_deg)
        away = inverse(np.full(lat.shape, 52.0), np.full(lat.shape, -7.0), lat, lon)
        return away.distance_m < ISLAND_NMI * NMI_M


def doubt_of(place: Position, subject: str = "mmsi:299000555", named: str = "", **more) -> str:
    found = result([fix(5, place, subject=subject, **more)])
    (ship,) = doubted(found.ships, frozenset({named}), Disc())
    return ship.doubt


@pytest.mark.parametrize(
    ("from_centre_nmi", "doubted_there"),
    [(0.0, True), (7.5, True), (8.5, False), (9.9, False), (10.5, False), (30.0, False)],
)
def test_more_than_two_miles_inland_is_no_place_of_a_ship(from_centre_nmi, doubted_there):
    """A quay or a river's mouth is within 2 nmi of water; the coast here lies 10 nmi off."""
    place = going(CENTRE, 40.0, from_centre_nmi * NMI_M)
    assert ("inland" in doubt_of(place)) is doubted_there


def test_a_ship_of_the_operation_and_a_station_ashore_are_never_inland():
    assert doubt_of(CENTRE, named="mmsi:299000555") == ""
    assert doubt_of(CENTRE, subject="mmsi:002990001") == ""


def test_zero_zero_and_ninety_knots_are_in_doubt_wherever_she_is():
    assert "without a fix" in doubt_of(Position(0.0, 0.0))
    assert "faster than a ship" in doubt_of(Position(49.0, -12.0), speed_kn=90.0)
    assert doubt_of(Position(49.0, -12.0), speed_kn=19.0) == ""
