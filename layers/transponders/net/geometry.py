"""How well the net fixes a place over the working area, as a grid, and how to better it."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from layers.earth.geodesy import between
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.transponders.net.net import hdop, one_more
from layers.transponders.result import Baseline, Fixed, Geometry, Transponder

CELLS = 48
WORST = 10.0  # beyond it the net is no use and the grid is left blank


def geometry(found: tuple[Transponder, ...], fixes: tuple[Fixed, ...]) -> Geometry | None:
    """Return the map of HDOP round the net; None with fewer than two that answer."""
    mine = [one for one in found if one.answers]
    if len(mine) < 2:
        return None
    seat = next((fix for fix in fixes if fix.is_dissub), None)
    lat = [one.position.latitude_deg for one in mine]
    lon = [one.position.longitude_deg for one in mine]
    plane = Plane.about(mine[0].position)
    east, north = plane.project(lat, lon)
    centre = (float(np.mean(east)), float(np.mean(north)))
    if seat is not None:
        at = plane.project(seat.position.latitude_deg, seat.position.longitude_deg)
        centre = (float(at[0]), float(at[1]))
    net_m = np.column_stack((east, north, [one.depth_m for one in mine]))
    reach = 1.6 * float(np.max(np.hypot(east - centre[0], north - centre[1])))
    edges = np.linspace(-reach, reach, CELLS + 1)
    middles = 0.5 * (edges[1:] + edges[:-1])
    depth = seat.depth_m if seat else float(np.median(net_m[:, 2]))
    grid_e, grid_n = np.meshgrid(centre[0] + middles, centre[1] + middles)
    values = hdop(net_m, grid_e, grid_n, depth)
    corner_e, corner_n = np.meshgrid(centre[0] + edges, centre[1] + edges)
    lats, lons = plane.unproject(corner_e, corner_n)
    better = one_more(net_m, depth, centre, 0.6 * reach, reach)
    return Geometry(
        latitudes_deg=lats,
        longitudes_deg=lons,
        hdop=np.where(values <= WORST, values, np.nan),
        depth_m=depth,
        centre=plane.position(*centre),
        best=plane.position(better.east_m, better.north_m),
        mean_before=better.mean_before,
        mean_after=better.mean_after,
        area_radius_m=0.6 * reach,
        records=tuple(i for one in mine for i in one.records),
    )


def baselines(found: tuple[Transponder, ...]) -> tuple[Baseline, ...]:
    """Return the range between every two transponders, with one sigma."""
    made = []
    for one, other in combinations(found, 2):
        range_m, _, _ = between(one.position, other.position)
        variance = _along(one, other.position) + _along(other, one.position)
        made.append(
            Baseline(
                one=one.name, other=other.name, range_m=range_m, sigma_m=float(np.sqrt(variance))
            )
        )
    return tuple(made)


def _along(one: Transponder, towards: Position) -> float:
    """Return the variance of a transponder's place towards another, m²."""
    if one.boxed is None:
        return one.expected.sigma_m**2
    _, bearing, _ = between(one.position, towards)
    unit = np.array([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])
    # her common position error moves both ends alike: a baseline has none of it
    return float(unit @ one.boxed.own_covariance[:2, :2] @ unit)
