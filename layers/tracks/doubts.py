"""Fixes that are doubtful by themselves: at 0, 0, faster than a ship goes, far inland."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from layers.earth.geodesy import forward
from layers.earth.plausible import at_null, position_doubts
from layers.earth.shore.land import Land
from layers.earth.shore.shapes import TILE_DEG
from layers.earth.units import M_PER_NMI
from layers.tracks.model import ShipTrack

INLAND_NMI = 2.0  # rivers and canals are land on a coastline; further in no ship is taken to be
MOST_TILES = 8  # of the coastline, looked at for one picture
_NEVER_AFLOAT = ("mmsi:00", "mmsi:99", "mmsi:111")  # coast stations, aids, aircraft (ITU-R M.585)


@lru_cache(maxsize=2)
def coastline(folder: Path) -> Land:
    """Return the coastline, its tiles kept from one picture to the next."""
    return Land(folder)


def doubted(ships: Sequence[ShipTrack], named: frozenset[str], land: Land) -> tuple[ShipTrack, ...]:
    """Return the ships, with a doubt where the last fix by itself gives reason for one.

    Parameters
    ----------
    ships : sequence of ShipTrack
        Those that are shown.
    named : frozenset of str
        Subjects that the watch has entered: one of them up a river is there because it was sent.
    land : Land
        The coastline; where it is not cut yet nobody is inland.
    """
    found = [_by_itself(ship) for ship in ships]
    asked = [
        place
        for place, ship in enumerate(found)
        if not ship.doubt
        and ship.role == "other"
        and ship.subject.startswith("mmsi:")
        and ship.subject not in named
        and not ship.subject.startswith(_NEVER_AFLOAT)
    ]
    for place in _inland([found[place] for place in asked], asked, land):
        said = f"she sends a place more than {INLAND_NMI:g} nmi inland of any coast"
        found[place] = replace(found[place], doubt=said, arrival=None)
    return tuple(found)


def _by_itself(ship: ShipTrack) -> ShipTrack:
    if ship.doubt:
        return ship
    place = {
        "latitude_deg": ship.position.latitude_deg,
        "longitude_deg": ship.position.longitude_deg,
        "speed_kn": ship.speed_kn,
    }
    if at_null(ship.position.latitude_deg, ship.position.longitude_deg):
        why = position_doubts(ship.subject, place)["latitude_deg"]
        return replace(ship, doubt=why, arrival=None, expected=None)
    # the watch's word that it flies goes before what its number says
    told = "" if ship.role == "aircraft" else ship.subject
    why = position_doubts(told, place).get("speed_kn", "")
    return replace(ship, doubt=why, arrival=None, expected=None) if why else ship


def _inland(ships: Sequence[ShipTrack], places: Sequence[int], land: Land) -> list[int]:
    """Return the places of those that lie inland: they and all round them are on land."""
    if not ships or not land.ready():
        return []
    tiles: dict[tuple[int, int], list[int]] = {}
    for n, ship in enumerate(ships):
        where = ship.position
        key = (int(where.latitude_deg // TILE_DEG), int(where.longitude_deg // TILE_DEG))
        tiles.setdefault(key, []).append(n)
    looked = [n for key in list(tiles)[:MOST_TILES] for n in tiles[key]]
    lat = np.array([ships[n].position.latitude_deg for n in looked])
    lon = np.array([ships[n].position.longitude_deg for n in looked])
    on_land = np.asarray(land.is_land(lat, lon))
    inner = np.flatnonzero(on_land)
    if not len(inner):
        return []
    bearings = np.tile(np.arange(0.0, 360.0, 30.0), len(inner))
    each = np.repeat(inner, 12)
    reach = np.full(len(each), INLAND_NMI * M_PER_NMI)
    ring = forward(lat[each], lon[each], bearings, reach)
    round_her = np.asarray(land.is_land(ring.latitude_deg, ring.longitude_deg))
    all_round = round_her.reshape(-1, 12).all(axis=1)
    return [places[looked[int(inner[k])]] for k in np.flatnonzero(all_round)]
