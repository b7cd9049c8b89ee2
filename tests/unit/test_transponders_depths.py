"""Depth grids and chart cells: the real files in full, and what is refused with a sentence."""

from __future__ import annotations

import hashlib
import io
import zipfile
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
import pytest
from affine import Affine
from netCDF4 import Dataset
from rasterio.io import MemoryFile

from layers.contract import Moment, Origin
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.journal.known import Known, ListShelf
from layers.journal.record import as_record
from layers.transponders import LAYER
from layers.transponders.model import ChartCell, DepthGridRecord
from layers.transponders.seabed import chart_feed, depth_netcdf_feed, depth_raster_feed, seabed
from layers.transponders.seabed.chart_cell import unpack as unpack_cell
from layers.transponders.seabed.depth_grid import Raster, Seabed, unpack
from tests.samples import sample

HEARD = datetime(2027, 3, 12, 15, 0, tzinfo=UTC)


def read(feed, data: bytes, source: str = "x"):
    digest = hashlib.sha256(data).hexdigest()
    return feed.read(data, Origin(source=source, received_at=HEARD, digest=digest))


@lru_cache(maxsize=1)
def base_cell():
    return read(chart_feed, sample("US4MD81M.000").read_bytes(), "US4MD81M.000")


def grid_of(reading) -> tuple[DepthGridRecord, Seabed]:
    record = DepthGridRecord.model_validate(reading.drafts[0].payload)
    return record, Seabed(((record, unpack(reading.blobs[record.blob])),))


def made_netcdf(tmp_path, lon, *, units="m", positive="up", name="elevation", slope=None) -> bytes:
    path = tmp_path / "grid.nc"
    lat = np.arange(49.0, 50.01, 0.1)
    with Dataset(path, "w", format="NETCDF3_CLASSIC") as file:
        file.createDimension("lat", len(lat))
        file.createDimension("lon", len(lon))
        for axis, values, unit in (("lat", lat, "degrees_north"), ("lon", lon, "degrees_east")):
            held = file.createVariable(axis, "f8", (axis,))
            held.units = unit
            held[:] = values
        depth = file.createVariable(name, "f4", ("lat", "lon"))
        if units:
            depth.units = units
        if positive:
            depth.positive = positive
        depth[:] = -100.0 - 10.0 * (lat[:, None] - 49.0) + 0.0 * lon if slope is None else slope
    return path.read_bytes()


def test_the_real_30_second_grid_reads_in_full():
    data = sample("bathy_30arcsec_southern_northsea.nc").read_bytes()
    assert depth_netcdf_feed.recognise(data[:65536], "upload") > 0.5
    record, floor = grid_of(read(depth_netcdf_feed, data))
    assert (record.columns, record.rows) == (120, 240)
    assert record.vertical_datum == "EGM2008"
    # 1/120 degree of latitude is 927 m
    assert record.cell_y_m == pytest.approx(926.6, abs=1.0)
    with Dataset("grid", memory=data) as file:
        row, column = 100, 60
        lat, lon = float(file["latitude"][row]), float(file["longitude"][column])
        expected = -float(file["z"][row, column])
    assert floor.depth_m(np.array([lat]), np.array([lon]))[0] == pytest.approx(expected, abs=1e-4)


def test_the_real_coarse_grid_with_longitudes_to_360_is_turned():
    data = sample("etopo5_nw_atlantic.nc").read_bytes()
    reading = read(depth_netcdf_feed, data)
    record, floor = grid_of(reading)
    assert record.west_deg == pytest.approx(-75.0, abs=0.01)
    assert "longitudes 0 to 360 turned to -180 to 180" in record.notes
    # The deep western Atlantic at 35 N 65 W lies near 5 km
    assert 4_000 < floor.depth_m(np.array([35.0]), np.array([-65.0]))[0] < 6_000
    assert np.isnan(floor.depth_m(np.array([35.0]), np.array([-80.0]))[0])


def test_the_real_geotiff_reads_with_its_uncertainty_datum_and_warning():
    data = sample("bluetopo_gulf.tif").read_bytes()
    record, floor = grid_of(read(depth_raster_feed, data))
    assert record.crs == "EPSG:26915"
    assert record.vertical_datum.lower() == "navd88"
    assert record.has_uncertainty
    assert record.not_for_navigation
    at = floor.at(25.8, -95.4)
    assert 800 < at.depth_m < 3_500
    assert at.uncertainty_m > 0
    assert at.spread_m > 0


def test_a_geotiff_cell_is_found_at_its_own_centre():
    rasterio = pytest.importorskip("rasterio", reason="not run: rasterio is absent")
    from pyproj import Transformer

    path = sample("bluetopo_gulf.tif")
    with rasterio.open(path) as file:
        x, y = file.xy(40, 60)
        expected = -float(file.read(1)[40, 60])
    lon, lat = Transformer.from_crs("EPSG:26915", "EPSG:4326", always_xy=True).transform(x, y)
    _, floor = grid_of(read(depth_raster_feed, path.read_bytes()))
    assert floor.depth_m(np.array([lat]), np.array([lon]))[0] == pytest.approx(expected, abs=1e-3)


def test_a_bag_reads_with_its_uncertainty(tmp_path):
    rasterio = pytest.importorskip("rasterio", reason="not run: rasterio is absent")
    from rasterio.shutil import copy

    depth = np.full((8, 9), -40.0, dtype=np.float32)
    depth[3, 4] = -35.0
    tif, bag = tmp_path / "a.tif", tmp_path / "a.bag"
    grid = rasterio.Affine(10.0, 0.0, 500_000.0, 0.0, -10.0, 5_520_000.0)
    with rasterio.open(tif, "w", driver="GTiff", height=8, width=9, count=2, dtype="float32",
                       crs="EPSG:32629", transform=grid) as file:  # fmt: skip
        file.write(depth, 1)
        file.write(np.full_like(depth, 0.4), 2)
    copy(tif, bag, driver="BAG")
    data = bag.read_bytes()
    assert depth_raster_feed.recognise(data[:65536], "upload.bag") > 0.9
    record, floor = grid_of(read(depth_raster_feed, data))
    assert (record.columns, record.rows) == (9, 8)
    lat, lon = (
        0.5 * (record.south_deg + record.north_deg),
        0.5 * (record.west_deg + record.east_deg),
    )
    at = floor.at(lat, lon)
    assert 35.0 <= at.depth_m <= 40.0
    assert at.uncertainty_m == pytest.approx(0.4, abs=1e-3)


def test_the_finest_grid_speaks_first(tmp_path):
    coarse = read(depth_netcdf_feed, made_netcdf(tmp_path, np.arange(-9.0, -7.0, 0.5)))
    fine = read(depth_netcdf_feed, made_netcdf(tmp_path, np.arange(-8.6, -8.4, 0.02), slope=-77.0))
    records = [DepthGridRecord.model_validate(r.drafts[0].payload) for r in (coarse, fine)]
    pairs = tuple((rec, unpack(r.blobs[rec.blob])) for rec, r in zip(records, (coarse, fine),
                                                                      strict=True))  # fmt: skip
    floor = Seabed(pairs)
    depth = floor.depth_m(np.array([49.5, 49.5, 60.0]), np.array([-8.5, -7.8, -8.5]))
    assert depth[:2] == pytest.approx([77.0, 105.0], abs=1e-3)
    assert np.isnan(depth[2])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"units": ""}, "has no units"),
        ({"units": "ft"}, "units 'ft'"),
        ({"positive": "", "name": "z1"}, "does not say whether it counts up or down"),
    ],
)
def test_a_grid_that_does_not_say_is_refused(tmp_path, change, words):
    data = made_netcdf(tmp_path, np.arange(-9.0, -8.0, 0.1), **change)
    assert words in read(depth_netcdf_feed, data).rejects[0].reason


def test_a_grid_across_the_date_line_is_read_on_both_sides(tmp_path):
    data = made_netcdf(tmp_path, np.arange(179.0, 181.01, 0.1))
    _, floor = grid_of(read(depth_netcdf_feed, data))
    depth = floor.depth_m(np.array([49.5, 49.5]), np.array([179.5, -179.5]))
    assert depth == pytest.approx([105.0, 105.0], abs=1e-3)


def made_tiff(
    values, *, unit: str = "", crs: str = "EPSG:4326", called: str = "elevation", packed=(1.0, 0.0)
) -> bytes:
    with MemoryFile() as held:
        with held.open(
            driver="GTiff",
            width=values.shape[1],
            height=values.shape[0],
            count=1,
            dtype="float32",
            crs=crs,
            transform=Affine(0.01, 0.0, -9.0, 0.0, -0.01, 50.0),
        ) as file:
            file.write(values.astype("float32"), 1)
            file.set_band_description(1, called)
            file.scales, file.offsets = packed[:1], packed[1:]
            if unit:
                file.set_band_unit(1, unit)
        return held.read()  # fmt: skip


SLOPE = np.linspace(-150.0, -20.0, 400).reshape(20, 20)


@pytest.mark.parametrize("mark", [-9999.0, 9999.0, -32768.0, 1e6, 3.4e38, -1e5])
def test_a_mark_for_no_data_that_the_file_does_not_declare_is_no_depth(mark):
    reading = read(depth_raster_feed, made_tiff(np.where(SLOPE < -100.0, mark, SLOPE)))
    depth = unpack(next(iter(reading.blobs.values()))).depth_m
    assert (np.nanmax(depth) <= 100.0, np.nanmin(depth) >= 19.9) == (True, True)
    assert int(np.isnan(depth).sum()) == int((SLOPE < -100.0).sum())
    assert "a mark for no data" in next(iter(reading.doubts))


def test_a_trench_of_9999_m_stays_what_it_is():
    trench = np.linspace(-10_800.0, -9_200.0, 400).reshape(20, 20)  # Tonga's reaches 10,800 m
    trench[3, 3] = -9999.0
    reading = read(depth_raster_feed, made_tiff(trench))
    assert not reading.doubts
    assert not np.isnan(unpack(next(iter(reading.blobs.values()))).depth_m).any()


@pytest.mark.parametrize(
    ("unit", "crs", "metres"),
    [("ft", "EPSG:4326", 0.3048), ("fathom", "EPSG:4326", 1.8288), ("metre", "EPSG:4326", 1.0),
     ("", "EPSG:4326+6360", 0.3048006), ("", "EPSG:4326+5703", 1.0)],
)  # fmt: skip
def test_depths_are_in_the_unit_of_their_band_or_of_their_vertical_system(unit, crs, metres):
    # EPSG 6360 is NAVD88 height in US survey feet, 5703 the same in metres
    reading = read(depth_raster_feed, made_tiff(SLOPE, unit=unit, crs=crs))
    depth = unpack(next(iter(reading.blobs.values()))).depth_m
    assert float(depth.max()) == pytest.approx(150.0 * metres, rel=1e-5)


def test_a_bands_scale_and_offset_are_honoured():
    # a band of tenths of a metre from 5 m up: value = stored * 0.1 - 5
    reading = read(depth_raster_feed, made_tiff((SLOPE + 5.0) * 10.0, packed=(0.1, -5.0)))
    depth = unpack(next(iter(reading.blobs.values()))).depth_m
    assert (float(depth.max()), float(depth.min())) == pytest.approx((150.0, 20.0), abs=1e-4)


@pytest.mark.parametrize("called", ["slope", "Temperature", "vertical uncertainty"])
def test_a_band_that_says_it_is_something_else_is_no_depth(called):
    reading = read(depth_raster_feed, made_tiff(SLOPE, called=called))
    assert reading.drafts == []
    assert called.lower() in reading.rejects[0].reason


@pytest.mark.parametrize(("called", "sign"), [("depth", 1.0), ("elevation", -1.0)])
def test_a_sea_that_is_land_from_edge_to_edge_is_refused(called, sign):
    # depths written below zero under the name depth would stand as hills
    (reject,) = read(depth_raster_feed, made_tiff(SLOPE * sign, called=called)).rejects
    assert "is its sign right" in reject.reason
    assert read(depth_raster_feed, made_tiff(-SLOPE * sign, called=called)).drafts


def test_depths_that_no_sea_has_and_units_that_are_none_are_refused():
    for content, words in ((made_tiff(SLOPE * 190.0), "which no sea is"),
                           (made_tiff(SLOPE, unit="furlong"), "furlong")):  # fmt: skip
        (reject,) = read(depth_raster_feed, content).rejects
        assert words in reject.reason


@pytest.mark.parametrize("name", ["bathy_30arcsec_southern_northsea.nc", "bluetopo_gulf.tif"])
def test_a_truncated_grid_is_one_reject(name):
    data = sample(name).read_bytes()
    feed = depth_raster_feed if name.endswith("tif") else depth_netcdf_feed
    reading = read(feed, data[: len(data) // 3])
    assert reading.drafts == []
    assert "damaged or cut short" in reading.rejects[0].reason


def zipped(*names: str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as packed:
        for name in names:
            packed.write(sample(name), f"ENC_ROOT/{name}")
    return held.getvalue()


def test_the_real_chart_cell_reads_with_its_updates_applied():
    data = zipped("US4MD81M.000", "US4MD81M.001", "US4MD81M.002")
    assert chart_feed.recognise(data[:65536], "upload") > 0.5
    reading = read(chart_feed, data)
    cell = ChartCell.model_validate(reading.drafts[0].payload)
    assert cell.updates_applied == 2
    assert cell.scale == 80_000
    # The two updates bring eight soundings and one wreck to the base's 3,318 and 110
    assert cell.features["sounding"] == 3326
    assert cell.features["wreck"] == 111
    assert cell.features["contour"] == 566
    assert cell.features["obstruction"] == 219
    features = unpack_cell(reading.blobs[cell.blob])
    assert len(features.sounding_m) == 3326
    assert -2.0 < float(np.min(features.sounding_m)) < float(np.max(features.sounding_m)) < 60.0


def test_a_base_cell_alone_says_that_updates_are_missing_and_an_update_alone_is_refused():
    base = base_cell()
    cell = ChartCell.model_validate(base.drafts[0].payload)
    assert cell.features["sounding"] == 3318
    assert "no updates applied" in cell.notes[0]
    alone = read(chart_feed, sample("US4MD81M.001").read_bytes(), "US4MD81M.001")
    assert "update 001 of cell US4MD81M alone" in alone.rejects[0].reason


def test_a_damaged_cell_is_one_reject():
    data = sample("US4MD81M.000").read_bytes()[:5000]
    reading = read(chart_feed, data, "US4MD81M.000")
    assert reading.drafts == []
    assert len(reading.rejects) == 1


def test_a_chart_is_drawn_with_the_shoalest_soundings_and_its_caution():
    reading = base_cell()
    records = [as_record(d, seq=1, recorded_at=HEARD, author="a") for d in reading.drafts]
    known = Known(ListShelf(records, reading.blobs), {k.name: k for k in LAYER.kinds}, 1, HEARD)
    result = LAYER.compute(known, {}, Moment(HEARD, HEARD))
    drawn = LAYER.marks(result)
    assert all("not for navigation" in mark.tooltip for mark in drawn)
    soundings = [mark for mark in drawn if "sounding" in mark.key]
    assert 50 < len(soundings) <= 240
    shallowest = min(float(mark.label) for mark in soundings)
    cell = ChartCell.model_validate(reading.drafts[0].payload)
    assert shallowest == pytest.approx(
        float(np.min(unpack_cell(reading.blobs[cell.blob]).sounding_m)), abs=0.05
    )
    assert len(drawn) < 700


def test_a_damaged_blob_is_told_and_the_rest_goes_on():
    with pytest.raises(InputError, match="damaged"):
        unpack(b"PK not a grid")
    with pytest.raises(InputError, match="damaged"):
        unpack_cell(b"no")


@pytest.mark.parametrize("longitude", [179.5, -179.5])
def test_a_grid_across_the_date_line_is_cut_about_the_work_on_both_sides(longitude):
    """The same distance from the line, the same number of cells drawn, about the work."""
    x = np.arange(179.0, 181.0001, 0.02)
    y = np.arange(49.0, 50.0001, 0.02)
    raster = Raster(
        x=x, y=y, depth_m=np.full((len(y), len(x)), 100.0, dtype=np.float32), uncertainty_m=None,
        crs="EPSG:4326",
    )  # fmt: skip
    record = DepthGridRecord(
        blob="0" * 64, title="t", crs="EPSG:4326", west_deg=179.0, east_deg=180.0, south_deg=49.0,
        north_deg=50.0, cell_x_m=1400.0, cell_y_m=2200.0, columns=len(x), rows=len(y),
    )  # fmt: skip
    cut = seabed._cut(raster, record, Position(49.5, longitude))
    assert cut is not None
    east = longitude % 360.0
    assert np.max(np.abs(cut[0] - east)) <= 0.61
    assert len(cut[0]) >= 50


def flat_grid(title, depth_m, cell_m, doubt_m=None, datum="chart datum"):
    """Return a flat grid of one depth about 49.5 N 8.5 W."""
    x, y = np.arange(-8.6, -8.4, cell_m / 72_000.0), np.arange(49.4, 49.6, cell_m / 111_000.0)
    shape = (len(y), len(x))
    raster = Raster(
        x=x, y=y, depth_m=np.full(shape, depth_m, dtype=np.float32), crs="EPSG:4326",
        uncertainty_m=None if doubt_m is None else np.full(shape, doubt_m, dtype=np.float32),
    )  # fmt: skip
    record = DepthGridRecord(
        blob="0" * 64, title=title, crs="EPSG:4326", west_deg=-8.6, east_deg=-8.4, south_deg=49.4,
        north_deg=49.6, cell_x_m=cell_m, cell_y_m=cell_m, columns=len(x), rows=len(y),
        vertical_datum=datum, has_uncertainty=doubt_m is not None,
    )  # fmt: skip
    return record, raster


@pytest.mark.parametrize(
    ("fine", "coarse", "depth"), [(1.0, 5.0, 100.0), (5.0, 1.0, 110.0), (None, 1.0, 100.0)]
)
def test_of_two_grids_the_one_with_less_uncertainty_counts_else_the_finer(fine, coarse, depth):
    both = Seabed((flat_grid("fine", 100.0, 50.0, fine), flat_grid("coarse", 110.0, 400.0, coarse)))
    assert both.depth_m(np.array([49.5]), np.array([-8.5]))[0] == pytest.approx(depth)
    assert both.at(49.5, -8.5).depth_m == pytest.approx(depth)


def test_depths_below_different_datums_are_not_joined_and_it_is_said():
    notes = []
    pairs = [flat_grid("fine", 100.0, 50.0), flat_grid("other", 90.0, 400.0, datum="NAVD88")]
    one = seabed._of_one_datum(pairs, notes)
    assert [record.title for record, _ in one.grids] == ["fine"]
    assert "NAVD88" in notes[0]
    quiet = []
    same = seabed._of_one_datum([pairs[0], flat_grid("b", 90.0, 400.0, datum="not stated")], quiet)
    assert len(same.grids) == 2
    assert "not stated" in quiet[0]
