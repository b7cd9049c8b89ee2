"""A bench of real files: what the program reads, held value by value against other decoders.

The files are public (see SOURCES.md beside them) and stay where they are; the other decoders are
pyais, pandas, eccodes, netCDF4, GDAL (through rasterio and pyogrio) and plain csv, called here by
code of its own that shares nothing with the readers. The last test prints how many values were
compared, and asks for a thousand at least.
"""

from __future__ import annotations

import csv
import io
import json
import math
import subprocess
import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import netCDF4
import numpy as np
import pandas as pd
import pyais
import pytest

from layers.contract import Reading
from layers.ingest import read_path
from layers.transponders.seabed import chart_cell, depth_grid
from layers.weather.forecast.fields import unpacked
from tests.samples import sample

AT = datetime(2026, 11, 28, 12, 0, tzinfo=UTC)
M_S_PER_KN = 1852.0 / 3600.0  # the international nautical mile
COMPARED: Counter[str] = Counter()


def drafts(name: str, kind: str) -> list[Any]:
    """Return what the program makes of a sample, the whole way that a dropped file goes."""
    got: list[Reading] = []
    read_path(sample(name), AT, got.append)
    return [draft for reading in got for draft in reading.drafts if draft.kind == kind]


def blob(name: str) -> bytes:
    got: list[Reading] = []
    read_path(sample(name), AT, got.append)
    (content,) = [content for reading in got for content in reading.blobs.values()]
    return content


def same(name: str, ours: Any, theirs: Any, within: float) -> None:
    """Hold two values, or two arrays, against each other, and count them."""
    mine, other = np.asarray(ours, dtype=np.float64), np.asarray(theirs, dtype=np.float64)
    assert mine.shape == other.shape
    assert np.array_equal(np.isnan(mine), np.isnan(other)), name
    known = ~np.isnan(mine)
    assert np.max(np.abs(mine[known] - other[known]), initial=0.0) <= within, name
    COMPARED[name] += int(known.sum())


def elsewhere(code: str, *words: str) -> Any:
    """Return what a few lines print as JSON in a process of their own: eccodes beside pyproj."""
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, check=True, timeout=120
    )
    return json.loads(done.stdout)


def nan(value: Any) -> float:
    return math.nan if value is None else float(value)


@pytest.mark.parametrize("name", ["ais_nais400.log", "ais_mixed_noisy.txt"])
def test_ais_positions_against_pyais(name: str) -> None:
    """Types 1 to 3 and 18: longitude 181, latitude 91, 102.3 kn, 360° and 511 say "not known"."""
    theirs = []
    for line in sample(name).read_bytes().splitlines():
        if line[:1] != b"!" or line[6:11] != b",1,1,":
            continue
        try:
            said = pyais.decode(line).asdict()
        except Exception:
            continue
        if said["msg_type"] in (1, 2, 3, 18) and abs(said["lat"]) <= 90 and abs(said["lon"]) <= 180:
            theirs.append(
                (
                    said["mmsi"],
                    said["lat"],
                    said["lon"],
                    said["speed"] if said["speed"] < 102.3 else math.nan,
                    said["course"] if said["course"] < 360 else math.nan,
                    said["heading"] if said["heading"] < 360 else math.nan,
                )
            )
    wanted = ("latitude_deg", "longitude_deg", "speed_kn", "course_true_deg", "heading_true_deg")
    ours = [
        (int(d.payload["subject"][5:]), *(nan(d.payload.get(field)) for field in wanted))
        for d in drafts(name, "tracks.position")
        if d.payload["said_by"] in ("AIS 1", "AIS 2", "AIS 3", "AIS 18")
    ]
    order = {"key": lambda row: tuple(-9.0 if v != v else v for v in row)}
    same(f"pyais, {name}", sorted(ours, **order), sorted(theirs, **order), 1e-6)


def test_ais_csv_against_pandas() -> None:
    table = pd.read_csv(sample("ais_solent.csv"))
    ours = drafts("ais_solent.csv", "tracks.position")
    for field, head, within in (
        ("latitude_deg", "Latitude_degrees", 1e-6),
        ("longitude_deg", "Longitude_degrees", 1e-6),
        ("speed_kn", "SOG_knots", 1e-9),
        ("course_true_deg", "COG_degrees", 1e-9),
    ):
        theirs = table[head].where(table[head] < (360 if "course" in field else 1e9))
        same("pandas, AIS in CSV", [nan(d.payload[field]) for d in ours], theirs, within)
    at = pd.to_datetime(table["Time"], utc=True)
    same("pandas, AIS in CSV", [d.valid_at.timestamp() for d in ours],
         [t.timestamp() for t in at], 1e-6)  # fmt: skip


def test_buoy_text_against_pandas() -> None:
    name = "ndbc_44013_stdmet.txt"
    table = pd.read_csv(sample(name), sep=r"\s+", skiprows=[1], na_values=["MM"])
    when = pd.to_datetime(
        table[["#YY", "MM", "DD", "hh", "mm"]].set_axis(
            ["year", "month", "day", "hour", "minute"], axis=1
        ),
        utc=True,
    )
    ours = {d.valid_at: d.payload for d in drafts(name, "weather.observation")}
    assert len(ours) == len(table)
    for field, head, scale in (
        ("wind_kn", "WSPD", 1 / M_S_PER_KN), ("gust_kn", "GST", 1 / M_S_PER_KN),
        ("hs_m", "WVHT", 1.0), ("tp_s", "DPD", 1.0), ("mean_period_s", "APD", 1.0),
        ("pressure_hpa", "PRES", 1.0), ("sea_c", "WTMP", 1.0),
        ("wind_from_true_deg", "WDIR", 1.0),
    ):  # fmt: skip
        mine = [nan(ours[at.to_pydatetime()].get(field)) for at in when]
        same("pandas, buoy text", mine, table[head] * scale, 0.006)


def test_airfield_reports_against_the_cache_own_columns() -> None:
    """The cache decoded its reports itself; tenths of its temperatures come from the remarks."""
    name = "metar_cache_2022.csv"
    rows = list(csv.DictReader(io.StringIO(sample(name).read_text("latin-1"))))
    ours = drafts(name, "weather.observation")
    by = {(d.payload["station"], d.valid_at): d.payload for d in ours}
    for row in rows:
        at = datetime.fromisoformat(row["observation_time"])
        mine = by[row["station_id"], at]
        for field, head in (("air_c", "temp_c"), ("dew_c", "dewpoint_c"),
                            ("wind_kn", "wind_speed_kt"), ("gust_kn", "wind_gust_kt")):  # fmt: skip
            if row[head] and mine.get(field) is not None:
                within = 0.51 if field.endswith("_kn") else 0.06  # metres a second, rounded there
                same("the cache, airfield reports", mine[field], float(row[head]), within)


ECCODES_BUFR = """
import eccodes, json, sys
found = []
with open(sys.argv[1], "rb") as file:
    while (message := eccodes.codes_bufr_new_from_file(file)) is not None:
        eccodes.codes_set(message, "unpack", 1)
        row = {}
        for key in ("latitude", "longitude", "airTemperature", "airTemperatureAt2M",
                    "windSpeedAt10M", "windSpeed", "windDirectionAt10M", "windDirection",
                    "pressureReducedToMeanSeaLevel", "dewpointTemperature",
                    "dewpointTemperatureAt2M"):
            try:
                value = eccodes.codes_get(message, "#1#" + key, ktype=float)
            except eccodes.CodesInternalError:
                continue
            if abs(value) < 1e50 and value != 2147483647:
                row[key] = value
        found.append(row)
print(json.dumps(found))
"""


@pytest.mark.parametrize("name", ["synop_10.bufr", "aws_wigos_0-454-2-awsnamitambo.bufr"])
def test_bufr_against_eccodes(name: str) -> None:
    theirs = elsewhere(ECCODES_BUFR, str(sample(name)))
    ours = drafts(name, "weather.observation")
    assert len(ours) == len(theirs)
    for draft, row in zip(ours, theirs, strict=True):
        for field, keys, scale, offset in (
            ("latitude_deg", ("latitude",), 1.0, 0.0),
            ("longitude_deg", ("longitude",), 1.0, 0.0),
            ("air_c", ("airTemperatureAt2M", "airTemperature"), 1.0, -273.15),
            ("dew_c", ("dewpointTemperatureAt2M", "dewpointTemperature"), 1.0, -273.15),
            ("pressure_hpa", ("pressureReducedToMeanSeaLevel",), 0.01, 0.0),
            ("wind_kn", ("windSpeedAt10M", "windSpeed"), 1 / M_S_PER_KN, 0.0),
        ):
            told = next((row[key] for key in keys if key in row), None)
            value = math.nan if told is None else told * scale + offset
            same("eccodes, BUFR", nan(draft.payload.get(field)), value, 0.0051)


ECCODES_GRIB = """
import eccodes, json, sys
eccodes.codes_grib_multi_support_on()
found = {}
with open(sys.argv[1], "rb") as file:
    while (message := eccodes.codes_grib_new_from_file(file)) is not None:
        name = eccodes.codes_get(message, "shortName")
        lat, lon = (eccodes.codes_get_array(message, k) for k in ("latitudes", "longitudes"))
        values = eccodes.codes_get_array(message, "values")
        found[name] = [[float(lat[n]), float(lon[n]), float(values[n])]
                       for n in range(0, len(values), 29)]
print(json.dumps(found))
"""


def test_grib_against_eccodes() -> None:
    name = "gfs_2p5deg_10u_10v_prmsl_2t.grib2"
    grid = unpacked(blob(name))
    theirs = elsewhere(ECCODES_GRIB, str(sample(name)))
    for short, field, scale, offset, within in (
        ("10u", "wind_east_m_s", 1.0, 0.0, 0.01), ("10v", "wind_north_m_s", 1.0, 0.0, 0.01),
        ("2t", "air_c", 1.0, -273.15, 0.02), ("prmsl", "pressure_hpa", 0.01, 0.0, 0.02),
    ):  # fmt: skip
        values = grid.values[0, :, :, grid.names.index(field)]
        mine, other = [], []
        for lat, lon, told in theirs[short]:
            turned = (lon + 180.0) % 360.0 - 180.0
            row = int(np.argmin(np.abs(grid.latitudes_deg - lat)))
            column = int(np.argmin(np.abs(grid.longitudes_deg - turned)))
            assert abs(grid.latitudes_deg[row] - lat) < 1e-6
            mine.append(values[row, column])
            other.append(told * scale + offset)
        same("eccodes, GRIB", mine, other, within)


def test_grib_with_rows_there_and_back_against_gdal() -> None:
    """GDAL decodes GRIB by a library of its own; eccodes gives these rows the wrong places."""
    import rasterio

    name = "ndfd_waveheight.grib2"
    grid = unpacked(blob(name))
    with rasterio.open(sample(name)) as file:
        band = file.read(1, masked=True).filled(np.nan)  # rows from the north
    mine = grid.values[0, ::-1, :, grid.names.index("hs_wind_m")]
    assert mine.shape == band.shape
    kept = band < 19.0  # higher than any wave that was measured is left out and told
    assert (~kept & np.isfinite(band)).sum() < 50
    rows, columns = np.nonzero(kept)
    some = slice(None, None, 997)
    same("GDAL, GRIB there and back", mine[rows[some], columns[some]],
         band[rows[some], columns[some]], 0.01)  # fmt: skip


def test_cf_netcdf_against_netcdf4() -> None:
    name = "cmems_gfs_waves_currents_wind.nc"
    grid = unpacked(blob(name))
    with netCDF4.Dataset(sample(name)) as file:
        lat, lon = (np.asarray(file[n][:], dtype=float) for n in ("latitude", "longitude"))
        heights = np.ma.filled(file["VHM0"][:].astype(float), np.nan)
    mine = grid.values[:, :, :, grid.names.index("hs_m")]
    steps = range(0, min(len(mine), len(heights)), 3)
    for step in steps:
        for row in range(0, len(lat), 5):
            for column in range(0, len(lon), 5):
                here = int(np.argmin(np.abs(grid.latitudes_deg - lat[row])))
                there = int(np.argmin(np.abs(grid.longitudes_deg - lon[column])))
                same("netCDF4, waves", mine[step, here, there], heights[step, row, column], 0.01)


def test_depth_grid_against_gdal() -> None:
    import rasterio

    raster = depth_grid.unpack(blob("bluetopo_gulf.tif"))
    with rasterio.open(sample("bluetopo_gulf.tif")) as file:
        band, to_xy = file.read(1, masked=True), file.transform
        for row in range(0, file.height, 17):
            for column in range(0, file.width, 17):
                x, y = to_xy.c + to_xy.a * (column + 0.5), to_xy.f + to_xy.e * (row + 0.5)
                here = int(np.argmin(np.abs(raster.y - y))), int(np.argmin(np.abs(raster.x - x)))
                told = math.nan if np.ma.is_masked(band[row, column]) else -band[row, column]
                same("GDAL, depth grid", raster.depth_m[here], told, 0.06)


def test_chart_cell_against_gdal(tmp_path: Path) -> None:
    from pyogrio import set_gdal_config_options
    from pyogrio.raw import read as raw

    set_gdal_config_options(
        {"OGR_S57_OPTIONS": "SPLIT_MULTIPOINT=ON,ADD_SOUNDG_DEPTH=ON,RETURN_PRIMITIVES=OFF"}
    )
    cell = tmp_path / "US4MD81M.000"  # alone: its updates beside it would be applied
    cell.write_bytes(sample("US4MD81M.000").read_bytes())
    meta, _, _, columns = raw(cell, layer="SOUNDG")
    depths = columns[[str(name) for name in meta["fields"]].index("DEPTH")]
    mine = chart_cell.unpack(blob("US4MD81M.000"))
    same("GDAL, soundings", np.sort(mine.sounding_m), np.sort(depths), 0.006)
    meta, _, _, columns = raw(cell, layer="DEPARE")
    least = columns[[str(name) for name in meta["fields"]].index("DRVAL1")].astype(float)
    found = {round(t.depth_m, 2) for t in mine.traces if t.sort == "depth area from"}
    assert found == set(np.round(least[np.isfinite(least)], 2))


def test_ctd_cast_against_pandas() -> None:
    """Depth by the UNESCO formula of 1983 at the cast's latitude, not by the routine in use."""
    name = "ctd_PIRA001.cnv"
    text = sample(name).read_bytes().decode("latin-1")
    table = pd.read_csv(io.StringIO(text[text.index("*END*") + 5 :]), sep=r"\s+", header=None)
    (draft,) = drafts(name, "transponders.profile")
    p, phi = table[3].to_numpy(), math.radians(draft.payload["latitude_deg"])
    gravity = 9.780318 * (1 + 5.2788e-3 * math.sin(phi) ** 2 + 2.36e-5 * math.sin(phi) ** 4)
    # Fofonoff and Millard, UNESCO technical papers in marine science 44 (1983), p. 28
    depth = (9.72659 * p - 2.2512e-5 * p**2 + 2.279e-10 * p**3) / (gravity + 1.092e-6 * p)
    for level, warm in zip(draft.payload["depth_m"], draft.payload["temperature_c"], strict=True):
        row = int(np.argmin(np.abs(depth - level)))
        same("pandas, CTD cast", level, depth[row], 0.02)
        assert warm in set(table[4][np.abs(depth - level) < 0.02])
        COMPARED["pandas, CTD cast"] += 1


def test_float_profile_against_netcdf4() -> None:
    name = "argo_R13857_001.nc"
    (draft,) = drafts(name, "transponders.profile")
    with netCDF4.Dataset(sample(name)) as file:
        warm = np.ma.filled(file["TEMP"][0].astype(float), np.nan)
        same("netCDF4, float", draft.payload["latitude_deg"], float(file["LATITUDE"][0]), 1e-6)
    for value in draft.payload["temperature_c"]:
        near = float(warm[np.nanargmin(np.abs(warm - value))])
        same("netCDF4, float", value, near, 1e-5)


def test_a_thousand_values_were_compared(capsys: pytest.CaptureFixture[str]) -> None:
    """Runs after the others of this file, and prints what they compared."""
    if not COMPARED:
        pytest.skip("not run: the comparisons before it were not run")
    with capsys.disabled():
        print(f"\n{sum(COMPARED.values())} values compared with other decoders:")
        for name, count in sorted(COMPARED.items()):
            print(f"  {count:6d}  {name}")
    if len(COMPARED) >= 10:
        assert sum(COMPARED.values()) >= 1_000
