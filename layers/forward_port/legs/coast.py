"""Whether a passage keeps clear of the coast.

The coastline is the one that the program cuts once into the user's data folder, unless the
process names another; until it is cut every passage says that it was not tested.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from layers.earth import geodesy
from layers.earth.arrays import Floats
from layers.earth.chart.marks import Path
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.shore.land import Land
from layers.earth.units import M_PER_NMI
from layers.journal.naming import data_folder

# A berth lies inside the coastline of many charts: the first and last mile are not tested.
HARBOUR_NMI = 1.5
KEPT = 200


@dataclass(slots=True)
class _Held:
    land: Land | None = None
    named: bool = False
    answers: OrderedDict[bytes, tuple[Position, float] | None] = field(default_factory=OrderedDict)


_HELD = _Held()


def use(land: Land | None) -> None:
    """Tell this process which coastline to test passages against; None for none at all."""
    _HELD.land, _HELD.named = land, True
    _HELD.answers.clear()


def tested() -> bool:
    """Return whether there is a coastline to test against."""
    return _ready() is not None


def land() -> Land | None:
    """Return the coastline that passages are tested against, None before it is cut."""
    return _ready()


def _ready() -> Land | None:
    if _HELD.land is None and not _HELD.named:
        _HELD.land = Land(data_folder() / "land")
    return _HELD.land if _HELD.land is not None and _HELD.land.ready() else None


def first_on_land(latitudes_deg: Floats, longitudes_deg: Floats) -> tuple[Position, float] | None:
    """Return (where, nmi along) a dense line first comes on land, None when it keeps clear.

    Its first and last 1.5 nmi are left out. None also when nothing can be tested.
    """
    land = _ready()
    if land is None or len(latitudes_deg) < 2:
        return None
    key = np.stack((latitudes_deg, longitudes_deg)).tobytes()
    if key not in _HELD.answers:  # a route is tested once, not at every refresh
        _HELD.answers[key] = _tested(land, latitudes_deg, longitudes_deg)
        while len(_HELD.answers) > KEPT:
            _HELD.answers.popitem(last=False)
    return _HELD.answers[key]


def _tested(
    land: Land, latitudes_deg: Floats, longitudes_deg: Floats
) -> tuple[Position, float] | None:
    lat, lon = geodesy.densify(latitudes_deg, longitudes_deg, Path.GEODESIC, 0.5 * M_PER_NMI)
    step = geodesy.inverse(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_m
    run = np.concatenate(([0.0], np.cumsum(step))) / M_PER_NMI
    inner = (run >= HARBOUR_NMI) & (run <= run[-1] - HARBOUR_NMI)
    if inner.sum() < 2:
        return None
    crossing = land.crosses(lat[inner], lon[inner])
    if crossing is None:
        return None
    return crossing.position, crossing.distance_m / M_PER_NMI + float(run[inner][0])


def refuse_over_land(points: Sequence[Position], where: str) -> None:
    """Refuse a route that crosses land.

    Raises
    ------
    InputError
        Says where it comes on land.
    """
    found = first_on_land(
        np.array([p.latitude_deg for p in points]), np.array([p.longitude_deg for p in points])
    )
    if found is not None:
        place, along = found
        raise InputError(
            f"the route comes on land at {place}, {along:.1f} nmi along",
            where=where,
            accepted="a route clear of the coast",
        )
