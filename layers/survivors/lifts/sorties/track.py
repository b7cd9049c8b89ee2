"""Where the vehicle was seen: by the net under water, by its own satellite fixes at the surface.

A satellite fix tells that the vehicle is at the surface, and beside which ship; a fix by the net
tells its depth, with or without a gauge, and whether it lies over her. A vehicle that stays beside
a ship that has gone on is on her deck.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from layers.contract import Others
from layers.earth.clock import US_PER_MIN, to_us
from layers.earth.geodesy import between, inverse
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.values import (
    DatumValue,
    PlacedVehicle,
    TracksValue,
    TranspondersValue,
    WayOnSurface,
)
from layers.survivors.lifts.sorties.depth import Depth

ALONGSIDE_M = 150.0  # from a ship's antenna to a craft at her side or stern; our choice
SHIP_HEARD_MIN = 10.0  # a ship's place counts so long before or after it was sent; our choice
SHIP_BETWEEN_MIN = 180.0  # and between two fixes no further apart: she goes straight; our choice
# a craft that has come so far at such a pace beside a ship is carried: none swims or is towed so;
# common practice, no source
CARRIED_M, CARRIED_KN = 500.0, 3.0
M_S_PER_KN = 1852.0 / 3600.0
GAUGE_M = 3.0  # the net's own depth counts where one standard deviation is no more; our choice
HALF_HULL_M = 60.0  # where her length is not told; common practice, no source
HER_PLACE_M = 50.0  # of 95 %: known no better than this, what is over her is not known; our choice


def seen_in(others: Others) -> dict[str, tuple[Depth, ...]]:
    """Return by vehicle where it was seen, oldest first: by the net, and by its satellite fixes."""
    net, tracks = others.get("transponders"), others.get("tracks")
    datum = others.get("datum")
    found: dict[str, list[Depth]] = {}
    if isinstance(net, TranspondersValue):
        length = None if net.hull is None else net.hull.length_m
        half_m = HALF_HULL_M if length is None else length / 2.0
        her = datum if isinstance(datum, DatumValue) else None
        for fix in net.vehicles:
            if fix.depth_sigma_m <= GAUGE_M:
                found.setdefault(fix.subject, []).append(_by_net(fix, her, half_m))
    if isinstance(tracks, TracksValue):
        ships = [way for way in tracks.ways if way.role != "rescue vehicle"]
        for way in tracks.ways:
            if way.role == "rescue vehicle":
                found.setdefault(way.name, []).extend(_at_surface(way, ships))
    return {name: tuple(sorted(all_, key=lambda one: one.at_us)) for name, all_ in found.items()}


def _by_net(fix: PlacedVehicle, her: DatumValue | None, half_m: float) -> Depth:
    return Depth(
        to_us(fix.at),
        fix.depth_m,
        fix.record,
        place=fix.position,
        good_to_m=fix.good_to_m,
        over_her=_over(fix, her, half_m),
    )


def _over(fix: PlacedVehicle, her: DatumValue | None, half_m: float) -> bool | None:
    """Return whether a vehicle is within the reach of her hull; None where that is not known."""
    if her is None or not isinstance(her.where, Position) or her.radius_95_m is None:
        return None
    off_m = between(fix.position, her.where)[0]
    if off_m > half_m + her.radius_95_m + fix.good_to_m:
        return False
    return True if her.radius_95_m <= HER_PLACE_M else None


def _at_surface(way: WayOnSurface, ships: Iterable[WayOnSurface]) -> list[Depth]:
    """Return a vehicle's satellite fixes: at the surface, beside a ship, or on her deck."""
    beside = np.full(len(way.at_us), "", dtype=object)
    for ship in ships:
        beside[_apart_from(way, ship) <= ALONGSIDE_M] = ship.name
    carried = _carried(way, beside)
    return [
        Depth(int(at), 0.0, way.record, beside=str(ship), on_deck=bool(on))
        for at, ship, on in zip(way.at_us, beside, carried, strict=True)
    ]


def _apart_from(way: WayOnSurface, ship: WayOnSurface) -> np.ndarray:
    """Return metres from a ship at each fix of a way; infinity where her place is not known."""
    at, hers = way.at_us.astype(np.float64), ship.at_us.astype(np.float64)
    latitudes = np.interp(at, hers, ship.latitudes_deg)
    longitudes = np.interp(at, hers, np.unwrap(ship.longitudes_deg, period=360.0))
    apart = np.asarray(
        inverse(way.latitudes_deg, way.longitudes_deg, latitudes, longitudes).distance_m
    )
    after = np.searchsorted(hers, at).clip(0, len(hers) - 1)
    before = np.searchsorted(hers, at, side="right").clip(1, None) - 1
    nearest = np.minimum(np.abs(at - hers[before]), np.abs(hers[after] - at)) / US_PER_MIN
    within = (hers[0] <= at) & (at <= hers[-1])
    gap = (hers[after] - hers[before]) / US_PER_MIN
    known = (nearest <= SHIP_HEARD_MIN) | (within & (gap <= SHIP_BETWEEN_MIN))
    return np.where(known, apart, np.inf)


def _carried(way: WayOnSurface, beside: np.ndarray) -> np.ndarray:
    """Return at which fixes a craft has come so far and so fast beside one ship that she bears it.

    From there on it is on deck while it stays beside her.
    """
    carried = np.zeros(len(beside), dtype=bool)
    plane = Plane.about(Position(float(way.latitudes_deg[-1]), float(way.longitudes_deg[-1])))
    breaks = [n for n in range(1, len(beside)) if beside[n] != beside[n - 1]]
    for first, last in pairwise([0, *breaks, len(beside)]):
        if not beside[first]:
            continue
        run = slice(first, last)
        x_m, y_m = plane.project(way.latitudes_deg[run], way.longitudes_deg[run])
        moved = np.hypot(x_m[:, None] - x_m, y_m[:, None] - y_m)
        gone_s = np.maximum((way.at_us[run, None] - way.at_us[None, run]) / 1e6, 1.0)
        far = (moved >= CARRIED_M) & (moved / gone_s >= CARRIED_KN * M_S_PER_KN)
        if (borne := np.tril(far).any(axis=1)).any():
            carried[first + int(borne.argmax()) : last] = True
    return carried
