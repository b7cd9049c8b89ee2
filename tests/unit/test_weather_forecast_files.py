"""Forecast files: CF-NetCDF read here, GRIB and BUFR in a process of their own."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import netCDF4
import numpy as np
import pytest

from layers.contract import Origin, Reading
from layers.earth.clock import to_us
from layers.weather.feeds import netcdf_feed
from layers.weather.forecast.fields import field_grid, packed, unpacked
from tests.samples import sample
from tests.weather_child import in_a_child

RECEIVED = datetime(2027, 3, 16, 6, 30, tzinfo=UTC)


def origin(data: bytes) -> Origin:
    return Origin(source="f", received_at=RECEIVED, digest=hashlib.sha256(data).hexdigest())


def made(path: Path, form: str = "NETCDF4", edit: Callable[[Any], None] | None = None) -> bytes:
    """Return a small forecast; ``edit`` changes the open dataset before it is closed."""
    with netCDF4.Dataset(path, "w", format=form) as out:
        out.source = "test model"
        out.forecast_reference_time = "2027-03-16T06:00:00Z"
        for name, values, units in (
            ("time", np.arange(0.0, 25.0, 6.0), "hours since 2027-03-16T06:00:00Z"),
            ("lat", np.arange(52.0, 47.0, -1.0), "degrees_north"),
            ("lon", np.arange(350.0, 355.0), "degrees_east"),
        ):
            out.createDimension(name, len(values))
            axis = out.createVariable(name, "f8", (name,))
            axis.units, axis[:] = units, values
        for name, standard, units in (
            ("hs", "sea_surface_wave_significant_height", "m"),
            ("ff", "wind_speed", "knots"),
            ("dd", "wind_from_direction", "degree"),
        ):
            variable = out.createVariable(name, "f4", ("time", "lat", "lon"))
            variable.standard_name, variable.units = standard, units
            variable[:] = {"hs": 2.0, "ff": 20.0, "dd": 270.0}[name]
        if edit is not None:
            edit(out)
    return path.read_bytes()


def read(data: bytes) -> Reading:
    return netcdf_feed.read(data, origin(data))


@pytest.mark.parametrize("form", ["NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET", "NETCDF4"])
def test_both_netcdfs_are_read_and_longitudes_turned(tmp_path: Path, form: str) -> None:
    reading = read(made(tmp_path / "a.nc", form))
    (draft,) = reading.drafts
    assert not reading.rejects
    assert draft.payload["west_deg"] == -10.0
    assert draft.payload["issued_at"] == "2027-03-16T06:00:00Z"
    assert draft.valid_at == datetime(2027, 3, 16, 6, tzinfo=UTC)
    assert "0 to 360" in draft.payload["note"]
    grid = unpacked(reading.blobs[draft.payload["digest"]])
    east, north = (grid.names.index(n) for n in ("wind_east_m_s", "wind_north_m_s"))
    at = grid.at(np.array([50.2]), np.array([-8.5]), np.array([to_us(RECEIVED)]))[0]
    assert at[east] == pytest.approx(20 * 1852 / 3600, abs=1e-3)  # from 270 blows towards east
    assert at[north] == pytest.approx(0.0, abs=1e-3)
    assert at[grid.names.index("hs_m")] == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize(
    "since",
    ["2027-03-16 08:00:00 +02:00", "2027-03-16 08:00 +2", "2027-03-16 08:00:00.0 +0200",
     "2027-3-16 1:00:00 -5:00", "2027-03-16T00:30:00 -5:30", "2027-03-16 06:00:00 UTC",
     "2027-03-16T06:00:00Z", "2027-03-16 6:0:0"],
)  # fmt: skip
def test_times_stand_in_the_zone_that_their_unit_names(tmp_path: Path, since: str) -> None:
    """CF 1.11, 4.4, whose own example is 'seconds since 1992-10-8 15:15:42.5 -6:00'."""

    def zoned(out: Any) -> None:
        out["time"].units = f"hours since {since}"

    (draft,) = read(made(tmp_path / "z.nc", edit=zoned)).drafts
    assert draft.payload["starts_at"] == "2027-03-16T06:00:00Z"
    assert draft.payload["ends_at"] == "2027-03-17T06:00:00Z"


@pytest.mark.parametrize("since", ["2027-03-16 06:00:00 CET", "2027-03-16 06:00 local", "noon"])
def test_a_zone_that_is_not_known_is_refused(tmp_path: Path, since: str) -> None:
    def zoned(out: Any) -> None:
        out["time"].units = f"hours since {since}"

    reading = read(made(tmp_path / "z.nc", edit=zoned))
    assert not reading.drafts
    assert "its times cannot be read" in reading.rejects[0].reason


@pytest.mark.parametrize(
    ("north", "east"),
    [("degree_north", "degree_east"), ("degrees_N", "degrees_E"), ("degreeN", "degreeE"),
     ("degrees", "degrees")],
)  # fmt: skip
def test_the_axes_are_known_by_each_spelling_of_their_unit(
    tmp_path: Path, north: str, east: str
) -> None:
    """CF 1.11, 4.1 and 4.2; plain degrees by the name of the axis, and that is said."""

    def spelt(out: Any) -> None:
        out["lat"].units, out["lon"].units = north, east

    (draft,) = read(made(tmp_path / "s.nc", edit=spelt)).drafts
    assert (draft.payload["south_deg"], draft.payload["west_deg"]) == (48.0, -10.0)
    assert ("by its name" in draft.payload["note"]) is (north == "degrees")


def test_a_calendar_of_real_dates_that_is_not_read_is_said_to_be_no_other(tmp_path: Path) -> None:
    """CF 1.12, 4.4.2: utc counts leap seconds; its dates are as real as any."""

    def counted(out: Any) -> None:
        out["time"].calendar = "utc"

    reading = read(made(tmp_path / "l.nc", edit=counted))
    assert not reading.drafts
    assert "'utc', which is not read" in reading.rejects[0].reason


def test_degrees_of_a_turned_pole_are_no_latitudes(tmp_path: Path) -> None:
    def turned(out: Any) -> None:
        out["lat"].units, out["lat"].standard_name = "degrees", "grid_latitude"

    assert not read(made(tmp_path / "t.nc", edit=turned)).drafts


@pytest.mark.parametrize(("unit", "metres"), [("cm", 0.02), ("mm", 0.002), ("Meters", 2.0)])
def test_a_height_in_another_unit_of_length_is_that_height(
    tmp_path: Path, unit: str, metres: float
) -> None:
    def measured(out: Any) -> None:
        out["hs"].units = unit

    (blob,) = read(made(tmp_path / "u.nc", edit=measured)).blobs.values()
    grid = unpacked(blob)
    assert grid.values[..., grid.names.index("hs_m")] == pytest.approx(metres, rel=1e-6)


def test_a_variable_without_a_unit_is_set_aside_and_the_rest_goes_on(tmp_path: Path) -> None:
    def bare(out: Any) -> None:
        del out.variables["hs"].units

    reading = read(made(tmp_path / "a.nc", edit=bare))
    assert "hs_m" not in reading.drafts[0].payload["variables"]
    assert "wind_east_m_s" in reading.drafts[0].payload["variables"]
    (refused,) = reading.rejects
    assert "variable hs is set aside: it states no unit" in refused.reason


def test_a_unit_of_something_else_is_set_aside(tmp_path: Path) -> None:
    def wrong(out: Any) -> None:
        out.variables["hs"].units = "K"

    (refused,) = read(made(tmp_path / "a.nc", edit=wrong)).rejects
    assert "'K' is not one of this quantity" in refused.reason


def test_speed_without_direction_is_no_wind(tmp_path: Path) -> None:
    def lone(out: Any) -> None:
        out.variables["dd"].standard_name = "something_else"

    reading = read(made(tmp_path / "a.nc", edit=lone))
    assert reading.drafts[0].payload["variables"] == ["hs_m"]
    assert "without its partner" in reading.rejects[0].reason


def at_height(out: Any, metres: float) -> None:
    height = out.createVariable("height", "f4", ())
    height.standard_name, height.units, height[...] = "height", "m", metres
    for name in ("ff", "dd"):
        out[name].coordinates = "height"


@pytest.mark.parametrize(("metres", "taken"), [(10.0, True), (100.0, False)])
def test_a_wind_at_another_height_is_not_the_wind_at_ten(
    tmp_path: Path, metres: float, taken: bool
) -> None:
    """CF 1.11, 5.7: a coordinate of one value stands beside the data, not among its axes."""
    reading = read(made(tmp_path / "f.nc", edit=lambda out: at_height(out, metres)))
    assert ("wind_east_m_s" in unpacked(next(iter(reading.blobs.values()))).names) is taken
    assert any("10 m" in reject.reason for reject in reading.rejects) is not taken


@pytest.mark.parametrize(
    ("method", "taken"),
    [("time: point", True), ("time: mean", True),
     ("area: mean time: mean (interval: 1 hour)", True),
     ("time: mean (interval: 1 month)", False), ("time: maximum", False),
     ("time: standard_deviation", False), ("time: mean over years", False)],
)  # fmt: skip
def test_a_peak_or_a_mean_over_days_is_no_sea_at_a_time(
    tmp_path: Path, method: str, taken: bool
) -> None:
    """CF 1.11, 7.3: cell_methods say what a value stands for."""
    reading = read(
        made(tmp_path / "f.nc", edit=lambda out: out["hs"].setncattr("cell_methods", method))
    )
    assert ("hs_m" in unpacked(next(iter(reading.blobs.values()))).names) is taken


def test_of_an_ensemble_the_first_member_is_used_and_said(tmp_path: Path) -> None:
    def members(out: Any) -> None:
        out.createDimension("realization", 3)
        axis = out.createVariable("realization", "i4", ("realization",))
        axis.standard_name, axis[:] = "realization", [0, 1, 2]
        for name, standard in (("u", "eastward_wind"), ("v", "northward_wind")):
            wind = out.createVariable(name, "f4", ("realization", "time", "lat", "lon"))
            wind.standard_name, wind.units = standard, "m s-1"
            wind[:] = np.arange(3.0).reshape(3, 1, 1, 1) + 4.0
        for name in ("ff", "dd"):
            out[name].standard_name = ""

    reading = read(made(tmp_path / "f.nc", edit=members))
    grid = unpacked(next(iter(reading.blobs.values())))
    assert np.nanmax(grid.values[..., grid.names.index("wind_east_m_s")]) == pytest.approx(4.0)
    assert reading.passed_over["further members of an ensemble: the first is used"] == 2


def test_no_issue_time_is_said(tmp_path: Path) -> None:
    def silent(out: Any) -> None:
        del out.forecast_reference_time

    (draft,) = read(made(tmp_path / "a.nc", edit=silent)).drafts
    assert "no issue time in the file" in draft.payload["note"]


def test_a_cut_file_is_one_reject(tmp_path: Path) -> None:
    data = made(tmp_path / "a.nc")
    reading = read(data[: len(data) // 3])
    assert not reading.drafts
    assert "cut short or damaged" in reading.rejects[0].reason


def test_a_depth_file_is_no_forecast() -> None:
    reading = read(sample("etopo5_nw_atlantic.nc").read_bytes())
    assert not reading.drafts
    assert "no time axis" in reading.rejects[0].reason


def test_the_real_netcdf_is_read_in_full() -> None:
    data = sample("cmems_gfs_waves_currents_wind.nc").read_bytes()
    assert netcdf_feed.recognise(data[:65_536], "x") > 0.5
    reading = read(data)
    (draft,) = reading.drafts
    assert not reading.rejects
    assert reading.passed_over == {"variable of no use here": 1}  # the skin temperature
    assert len(draft.payload["variables"]) == 11
    grid = unpacked(reading.blobs[draft.payload["digest"]])
    with netCDF4.Dataset("x", memory=data) as raw:
        level = int(np.flatnonzero(raw["height_above_ground"][:] == 10.0)[0])
        for name, wanted in (
            ("hs_m", raw["VHM0"][:]),
            ("wind_east_m_s", raw["u-component_of_wind_height_above_ground"][:, level]),
            ("sea_c", raw["thetao"][0]),
        ):
            held = grid.values[..., grid.names.index(name)]
            assert np.allclose(held, np.ma.filled(wanted, np.nan), atol=1e-3, equal_nan=True)
            assert np.isnan(held).any() == np.ma.is_masked(wanted)


def test_the_real_grib_with_several_fields_keeps_both_winds() -> None:
    """GFS 2.5°, 4 fields in multi-field messages; the value at a node against eccodes itself."""
    data = sample("gfs_2p5deg_10u_10v_prmsl_2t.grib2").read_bytes()
    reading = in_a_child("grib_feed", data, origin(data))
    (draft,) = reading.drafts
    assert not reading.rejects
    assert draft.payload["variables"] == [
        "air_c",
        "pressure_hpa",
        "wind_east_m_s",
        "wind_north_m_s",
    ]
    assert draft.payload["issued_at"] == "2011-01-10T12:00:00Z"
    assert draft.payload["starts_at"] == "2011-01-15T12:00:00Z"
    grid = unpacked(reading.blobs[draft.payload["digest"]])
    at = np.array([to_us(datetime(2011, 1, 15, 12, tzinfo=UTC))])
    # 178.75°: between the file's last and first column once turned; must not be a hole
    seam = grid.at(np.array([50.0]), np.array([-181.0 % 360.0]), at)
    assert np.isfinite(seam).all()
    # pressure over the globe: every real value lies between 900 and 1085 hPa
    pressure = grid.values[..., grid.names.index("pressure_hpa")]
    assert 900 < float(pressure.min()) < float(pressure.max()) < 1085


def test_the_real_mercator_grib_is_read() -> None:
    data = sample("ndfd_waveheight.grib2").read_bytes()
    reading = in_a_child("grib_feed", data, origin(data))
    (draft,) = reading.drafts
    assert draft.payload["variables"] == ["hs_wind_m"]
    assert (draft.payload["rows"], draft.payload["columns"]) == (1793, 2517)


def test_a_wave_spectrum_is_set_aside_and_the_rest_goes_on() -> None:
    data = sample("gfs_2p5deg_10u_10v_prmsl_2t.grib2").read_bytes()
    reading = in_a_child("grib_feed", data, origin(data), spoil="spectrum")
    assert len(reading.drafts) == 1
    assert any("a wave spectrum" in refused.reason for refused in reading.rejects)


def test_a_cut_grib_keeps_what_came_before_the_cut() -> None:
    data = sample("gfs_2p5deg_10u_10v_prmsl_2t.grib2").read_bytes()
    reading = in_a_child("grib_feed", data[:-5_000], origin(data))
    assert any("cut short or damaged" in refused.reason for refused in reading.rejects)


def test_packing_keeps_values_to_half_a_step_and_gaps() -> None:
    rng = np.random.default_rng(1)
    values = rng.normal(5.0, 2.0, (3, 4, 5))
    values[0, 0, 0] = np.nan
    grid = field_grid(np.arange(3), np.arange(4.0), np.arange(5.0), {"hs_m": values})
    again = unpacked(packed(grid))
    step = np.nanmax(values) - np.nanmin(values)
    assert np.nanmax(np.abs(again.values[..., 0] - values)) <= step / 65_000 * 0.51 + 1e-6
    assert np.isnan(again.values[0, 0, 0, 0])
    assert packed(grid) == packed(grid)
