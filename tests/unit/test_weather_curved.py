"""Fields on curved grids: a plane stays that plane, and beyond the points nothing is known."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from layers.contract import Origin
from layers.weather.feeds import netcdf_feed
from layers.weather.forecast.curved import straightened
from layers.weather.forecast.fields import unpacked


def turned(count: int = 12) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes and longitudes of a grid turned by fifteen degrees."""
    y, x = np.mgrid[0:count, 0 : count + 2]
    angle = np.radians(15.0)
    north = 49.0 + 0.1 * (y * np.cos(angle) + x * np.sin(angle))
    east = -9.0 + 0.15 * (x * np.cos(angle) - y * np.sin(angle))
    return north, east


def plane(latitudes: np.ndarray, longitudes: np.ndarray) -> np.ndarray:
    return 2.0 + 0.5 * (latitudes - 49.0) - 0.2 * (longitudes + 9.0)


def test_a_plane_is_brought_over_exactly_and_the_corners_outside_are_not_known():
    lat, lon = turned()
    made = straightened(lat, lon)
    (values,) = made.apply(plane(lat, lon)[None])
    wanted = plane(made.latitudes_deg[:, None], made.longitudes_deg[None, :])
    inside = ~np.isnan(values)
    assert 0.4 < inside.mean() < 0.95
    assert not inside[0, -1]
    assert values[inside] == pytest.approx(wanted[inside], abs=1e-5)


def test_a_grid_over_the_date_line_stays_one_piece():
    lat, lon = turned()
    made = straightened(lat, (lon + 189.0 + 180.0) % 360.0 - 180.0)
    assert np.all(np.diff(made.longitudes_deg) > 0)
    assert np.ptp(made.longitudes_deg) < 3.0


def test_a_file_with_coordinates_point_by_point_is_read(tmp_path: Path):
    lat, lon = turned()
    with netCDF4.Dataset(tmp_path / "c.nc", "w") as file:
        for name, size in (("time", 2), ("y", lat.shape[0]), ("x", lat.shape[1])):
            file.createDimension(name, size)
        time = file.createVariable("time", "f8", ("time",))
        time.units, time[:] = "hours since 2026-11-28T00:00:00Z", [0.0, 6.0]
        for name, unit, values in (("lat", "degrees_north", lat), ("lon", "degrees_east", lon)):
            held = file.createVariable(name, "f8", ("y", "x"))
            held.units, held[:] = unit, values
        for name, standard in (
            ("hs", "sea_surface_wave_significant_height"), ("u", "x_sea_water_velocity"),
            ("ue", "eastward_sea_water_velocity"), ("vn", "northward_sea_water_velocity"),
        ):  # fmt: skip
            held = file.createVariable(name, "f4", ("time", "y", "x"))
            held.standard_name, held.units = standard, "m" if name == "hs" else "m/s"
            held[:] = np.broadcast_to(plane(lat, lon), (2, *lat.shape))
    origin = Origin(source="c.nc", received_at=datetime(2026, 11, 28, tzinfo=UTC), digest="0" * 64)
    reading = netcdf_feed.read((tmp_path / "c.nc").read_bytes(), origin)
    (blob,) = reading.blobs.values()
    grid = unpacked(blob)
    assert set(grid.names) == {"hs_m", "current_east_m_s", "current_north_m_s"}
    heights = grid.values[1, :, :, grid.names.index("hs_m")]
    wanted = plane(grid.latitudes_deg[:, None], grid.longitudes_deg[None, :])
    inside = ~np.isnan(heights)
    assert heights[inside] == pytest.approx(wanted[inside], abs=1e-3)
