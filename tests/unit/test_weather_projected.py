"""GRIB as centres lay it out: projected grids, vectors along them, rows there and back.

The messages are written by eccodes from places that PROJ worked out; what is read is compared
with the wind of the world that they were made of.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pyproj
import pytest

from layers.contract import Reading
from layers.weather.forecast.fields import FieldGrid, unpacked

ROOT = Path(__file__).resolve().parents[2]
AT = datetime(2027, 3, 16, 6, tzinfo=UTC)
RADIUS_M = 6_371_229.0  # WMO-No. 306, code table 3.2, figure 6
AT_10_M: dict[str, object] = {
    "dataDate": 20270316, "dataTime": 600, "discipline": 0, "parameterCategory": 2,
    "typeOfFirstFixedSurface": 103, "scaleFactorOfFirstFixedSurface": 0,
    "scaledValueOfFirstFixedSurface": 10,
}  # fmt: skip
MAKER = """
import eccodes, numpy as np, pickle, sys
from datetime import UTC, datetime
from layers.contract import Origin
from layers.weather.feeds import grib_feed
found = {}
for name, (keys, edition, fields) in pickle.load(sys.stdin.buffer).items():
    data = b""
    for told, values in fields:
        message = eccodes.codes_grib_new_from_samples(f"regular_ll_sfc_grib{edition}")
        for key, value in (keys | told).items():
            eccodes.codes_set(message, key, value)
        eccodes.codes_set(message, "bitsPerValue", 20)
        eccodes.codes_set_values(message, values)
        data += eccodes.codes_get_message(message)
    origin = Origin(source=name, received_at=datetime.now(UTC), digest="0" * 64)
    found[name] = grib_feed.read(data, origin)
sys.stdout.buffer.write(pickle.dumps(found))
"""


# what all messages of a file have, their edition, and of each what it alone has, with its values
Messages = tuple[dict[str, object], int, list[tuple[dict[str, object], np.ndarray]]]


@dataclass(frozen=True, slots=True)
class Layout:
    """A grid as PROJ knows it and as a GRIB 2 message tells it; ``first`` and ``step`` in x, y."""

    proj: str
    first: tuple[float, float]
    step: tuple[float, float]
    keys: dict[str, object]
    count: tuple[int, int] = (30, 40)
    scan: dict[str, int] = field(default_factory=dict)


def wind(lat: np.ndarray, lon: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a wind that no two places share: towards east and north, m/s."""
    return 8.0 + 0.3 * (lat - 50.0), -4.0 + 0.2 * (lon + 10.0)


def points(layout: Layout) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return latitude, longitude and the bearing of the grid's x, by PROJ, rows of growing y."""
    rows, columns = layout.count
    x = layout.first[0] + layout.step[0] * np.arange(columns)[None, :] + np.zeros((rows, 1))
    y = layout.first[1] + layout.step[1] * np.arange(rows)[:, None] + np.zeros((1, columns))
    back = pyproj.Transformer.from_crs(
        pyproj.CRS(layout.proj), pyproj.CRS(f"+proj=longlat +R={RADIUS_M}"), always_xy=True
    )
    lon, lat = back.transform(x, y)
    beside = back.transform(x + layout.step[0] * 1e-4, y)
    bearing, _, _ = pyproj.Geod(a=RADIUS_M, b=RADIUS_M).inv(lon, lat, *beside)
    return lat, lon, np.asarray(bearing)


def as_sent(values: np.ndarray, scan: dict[str, int]) -> np.ndarray:
    """Return values, rows of growing x and y, in the order of WMO-No. 306, flag table 3.4."""
    laid = values if scan.get("jScansPositively") else values[::-1]
    laid = laid[:, ::-1] if scan.get("iScansNegatively") else laid
    laid = laid.T if scan.get("jPointsAreConsecutive") else laid
    laid = laid.copy()
    if scan.get("alternativeRowScanning"):
        laid[1::2] = laid[1::2, ::-1]
    return laid.ravel()


def ends(layout: Layout, lat: np.ndarray, lon: np.ndarray) -> dict[str, float]:
    """Return the first and the last point as they are told: a turned grid's in its own degrees."""
    if layout.keys["gridType"] in ("rotated_ll", "regular_ll"):
        rows, columns = layout.count
        y = layout.first[1] + layout.step[1] * np.array([0.0, rows - 1.0])
        x = layout.first[0] + layout.step[0] * np.array([0.0, columns - 1.0])
    else:
        y, x = lat[[0, -1], [0, -1]], lon[[0, -1], [0, -1]]
    if layout.keys["gridType"] not in ("rotated_ll", "regular_ll", "mercator"):
        first_row = 0 if layout.scan.get("jScansPositively") else -1
        first_column = -1 if layout.scan.get("iScansNegatively") else 0
        return {
            "latitudeOfFirstGridPointInDegrees": float(lat[first_row, first_column]),
            "longitudeOfFirstGridPointInDegrees": float(lon[first_row, first_column] % 360.0),
        }
    y = y if layout.scan.get("jScansPositively") else y[::-1]
    x = x[::-1] if layout.scan.get("iScansNegatively") else x
    return {
        "latitudeOfFirstGridPointInDegrees": float(y[0]),
        "longitudeOfFirstGridPointInDegrees": float(x[0] % 360.0),
        "latitudeOfLastGridPointInDegrees": float(y[1]),
        "longitudeOfLastGridPointInDegrees": float(x[1] % 360.0),
    }


def messages(layout: Layout, along_grid: int) -> Messages:
    """Return the wind of the world on a layout, as it is sent."""
    lat, lon, bearing = points(layout)
    east, north = wind(lat, (lon + 180.0) % 360.0 - 180.0)
    if along_grid:
        turn = np.radians(90.0 - bearing)  # from east to the grid's x, against the clock
        east, north = (
            east * np.cos(turn) + north * np.sin(turn),
            north * np.cos(turn) - east * np.sin(turn),
        )
    keys = {
        "shapeOfTheEarth": 6, **layout.keys, **layout.scan,
        "Ni": layout.count[1], "Nj": layout.count[0],
        "resolutionAndComponentFlags": 48 | along_grid * 8, **ends(layout, lat, lon),
    }  # fmt: skip
    fields = [
        (AT_10_M | {"parameterNumber": number}, as_sent(values, layout.scan))
        for number, values in ((2, east), (3, north))
    ]
    return keys, 2, fields


def grid_of(reading: Reading) -> FieldGrid:
    assert not reading.rejects, reading.rejects
    (draft,) = reading.drafts
    return unpacked(reading.blobs[draft.payload["digest"]])


def assert_the_wind_of_the_world(grid: FieldGrid, least: float) -> None:
    lat = grid.latitudes_deg[:, None] + 0.0 * grid.longitudes_deg[None, :]
    lon = (grid.longitudes_deg[None, :] + 180.0) % 360.0 - 180.0 + 0.0 * lat
    for name, wanted in zip(("wind_east_m_s", "wind_north_m_s"), wind(lat, lon), strict=True):
        values = grid.values[0, :, :, grid.names.index(name)]
        inside = np.isfinite(values)
        assert inside.mean() > least
        assert values[inside] == pytest.approx(wanted[inside], abs=0.02)


LAMBERT = Layout(
    f"+proj=lcc +lat_1=47 +lat_2=53 +lat_0=50 +lon_0=-20 +R={RADIUS_M}",
    (300_000.0, -300_000.0), (20_000.0, 20_000.0),
    {"gridType": "lambert", "LaDInDegrees": 50.0, "LoVInDegrees": 340.0, "Latin1InDegrees": 47.0,
     "Latin2InDegrees": 53.0, "DxInMetres": 20_000.0, "DyInMetres": 20_000.0},
)  # fmt: skip
POLAR = Layout(
    f"+proj=stere +lat_0=90 +lat_ts=60 +lon_0=-40 +R={RADIUS_M}",
    (1_500_000.0, -3_600_000.0), (20_000.0, 20_000.0),
    {"gridType": "polar_stereographic", "LaDInDegrees": 60.0,
     "orientationOfTheGridInDegrees": 320.0, "DxInMetres": 20_000.0, "DyInMetres": 20_000.0},
)  # fmt: skip
EQUAL_AREA = Layout(
    f"+proj=laea +lat_0=52 +lon_0=10 +R={RADIUS_M}",
    (-1_600_000.0, -300_000.0), (20_000.0, 20_000.0),
    {"gridType": "lambert_azimuthal_equal_area", "standardParallelInDegrees": 52.0,
     "centralLongitudeInDegrees": 10.0, "xDirectionGridLengthInMetres": 20_000.0,
     "yDirectionGridLengthInMetres": 20_000.0},
)  # fmt: skip
ROTATED = Layout(
    f"+proj=ob_tran +o_proj=longlat +lon_0=18 +o_lon_p=0 +o_lat_p=39.25 +R={RADIUS_M}",
    (-20.0, -4.0), (0.2, 0.2),
    {"gridType": "rotated_ll", "latitudeOfSouthernPoleInDegrees": -39.25,
     "longitudeOfSouthernPoleInDegrees": 18.0, "iDirectionIncrementInDegrees": 0.2,
     "jDirectionIncrementInDegrees": 0.2},
)  # fmt: skip
UP = {"jScansPositively": 1}


MERCATOR = Layout(
    f"+proj=merc +lat_ts=20 +lon_0=0 +R={RADIUS_M}",
    (-1_300_000.0, 5_600_000.0), (20_000.0, 20_000.0),
    {"gridType": "mercator", "LaDInDegrees": 20.0, "DiInMetres": 20_000.0, "DjInMetres": 20_000.0},
)  # fmt: skip
STRAIGHT = Layout(
    f"+proj=longlat +R={RADIUS_M}", (-12.0, 48.0), (0.2, 0.2),
    {"gridType": "regular_ll", "iDirectionIncrementInDegrees": 0.2,
     "jDirectionIncrementInDegrees": 0.2},
)  # fmt: skip
LAYOUTS = {"lambert": LAMBERT, "polar": POLAR, "equal area": EQUAL_AREA, "rotated": ROTATED,
           "mercator": MERCATOR, "straight": STRAIGHT}  # fmt: skip
UP = {"jScansPositively": 1}
DOWN = {"jScansPositively": 0}
BACK = {"alternativeRowScanning": 1}
WEST = {"iScansNegatively": 1}
BY_COLUMNS = {"jPointsAreConsecutive": 1}


ORDERS = [
    ("lambert", UP | BACK), ("lambert", UP | BY_COLUMNS), ("polar", UP | BY_COLUMNS | BACK),
    ("mercator", UP), ("mercator", UP | BACK), ("mercator", UP | BY_COLUMNS),
    ("equal area", DOWN | WEST), ("equal area", DOWN | BY_COLUMNS | BACK),
    ("rotated", DOWN | WEST), ("rotated", DOWN | BACK), ("straight", DOWN),
    ("straight", UP | BACK | WEST), ("straight", DOWN | BY_COLUMNS | BACK),
]  # fmt: skip
ELSEWHERE = [
    (name, scan) for name in ("lambert", "polar", "mercator") for scan in (DOWN, UP | WEST)
]
LARGE = Layout(
    LAMBERT.proj, (-600_000.0, -600_000.0), (2_000.0, 2_000.0),
    LAMBERT.keys | {"DxInMetres": 2_000.0, "DyInMetres": 2_000.0}, (600, 650), UP,
)  # fmt: skip
SMALL: dict[str, object] = {
    "Ni": 6, "Nj": 5, "latitudeOfFirstGridPointInDegrees": 50.0,
    "latitudeOfLastGridPointInDegrees": 46.0, "longitudeOfFirstGridPointInDegrees": 0.0,
    "longitudeOfLastGridPointInDegrees": 5.0, "iDirectionIncrementInDegrees": 1.0,
    "jDirectionIncrementInDegrees": 1.0,
}  # fmt: skip
# code table 4.5: 1 the ground, 101 mean sea, 160 metres below the sea
GROUND: dict[str, object] = {"typeOfFirstFixedSurface": 1}
MEAN_SEA: dict[str, object] = {"typeOfFirstFixedSurface": 101}


def below(depth_m: int) -> dict[str, object]:
    return {"typeOfFirstFixedSurface": 160, "scaleFactorOfFirstFixedSurface": 0,
            "scaledValueOfFirstFixedSurface": depth_m}  # fmt: skip


LEVELS = [
    ((0, 3, 0), MEAN_SEA, 101_300.0, "pressure_hpa"),
    ((0, 3, 0), GROUND, 83_000.0, ""),  # of a hill, not of the sea
    ((0, 3, 1), MEAN_SEA, 101_300.0, "pressure_hpa"),
    ((10, 3, 0), GROUND, 281.0, "sea_c"),
    ((10, 3, 0), below(0), 281.0, "sea_c"),
    ((10, 3, 0), below(5), 281.0, "sea_c"),
    ((10, 3, 0), below(500), 277.0, ""),
    ((10, 4, 3), below(5), 0.0, "salinity_psu"),
]


def small(told: dict[str, object], value: float, edition: int = 2) -> Messages:
    return SMALL, edition, [(told, np.full(30, value) + np.arange(1.0, 31.0) / 1000.0)]


def wanted() -> dict[str, Messages]:
    """Return every file that is asked about below."""
    files = {
        f"{name} {along}": messages(replace(LAYOUTS[name], scan=UP), along)
        for name in ("lambert", "polar", "equal area", "rotated")
        for along in (0, 1)
    }
    for name, scan in ORDERS:
        layout = replace(LAYOUTS[name], count=(30, 30), scan=scan)
        files[f"{name} {scan}"] = messages(layout, int(name in ("equal area", "rotated")))
    for name, scan in ELSEWHERE:
        files[f"elsewhere {name} {scan}"] = messages(replace(LAYOUTS[name], scan=scan), 0)
    files["large"] = messages(LARGE, 1)
    for number, (code, level, value, _) in enumerate(LEVELS):
        keys = ("discipline", "parameterCategory", "parameterNumber")
        files[f"level {number}"] = small(dict(zip(keys, code, strict=True)) | level, value)
    for sort in ("fc", "fcmean", "em"):
        files[sort] = small({"shortName": "2t", "marsType": sort}, 281.0, edition=1)
    return files


@pytest.fixture(scope="module")
def readings() -> dict[str, Reading]:
    done = subprocess.run(
        [sys.executable, "-c", MAKER], input=pickle.dumps(wanted()),
        capture_output=True, cwd=ROOT, timeout=800, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2_000:]
    found: dict[str, Reading] = pickle.loads(done.stdout)
    return found


@pytest.mark.parametrize("along_grid", [0, 1])
@pytest.mark.parametrize("name", ["lambert", "polar", "equal area", "rotated"])
def test_a_projected_grid_gives_the_wind_of_the_world(
    readings: dict[str, Reading], name: str, along_grid: int
) -> None:
    reading = readings[f"{name} {along_grid}"]
    assert_the_wind_of_the_world(grid_of(reading), 0.5)
    assert "projected grid" in reading.drafts[0].payload["note"]


@pytest.mark.parametrize(("name", "scan"), ORDERS)
def test_points_in_any_order_lie_where_they_were_measured(
    readings: dict[str, Reading], name: str, scan: dict[str, int]
) -> None:
    """As many rows as columns, so that no shape tells which is which."""
    assert_the_wind_of_the_world(grid_of(readings[f"{name} {scan}"]), 0.4)


@pytest.mark.parametrize(("name", "scan"), ELSEWHERE)
def test_an_order_that_the_decoder_lays_elsewhere_is_refused(
    readings: dict[str, Reading], name: str, scan: dict[str, int]
) -> None:
    reading = readings[f"elsewhere {name} {scan}"]
    assert not reading.drafts
    assert ["run from the north or from the east" in one.reason for one in reading.rejects] == [
        True,
        True,
    ]


def test_of_a_large_projected_grid_some_points_are_used_and_said(
    readings: dict[str, Reading],
) -> None:
    assert_the_wind_of_the_world(grid_of(readings["large"]), 0.5)
    assert "one of 2 of its rows and columns" in readings["large"].drafts[0].payload["note"]


@pytest.mark.parametrize("number", range(len(LEVELS)))
def test_a_pressure_is_the_seas_and_a_warmth_the_surfaces(
    readings: dict[str, Reading], number: int
) -> None:
    reading, taken = readings[f"level {number}"], LEVELS[number][3]
    names = [name for draft in reading.drafts for name in draft.payload["variables"]]
    assert names == ([taken] if taken else [])
    assert bool(reading.rejects) is not bool(taken)


@pytest.mark.parametrize(("sort", "taken"), [("fc", True), ("fcmean", False), ("em", False)])
def test_a_mean_of_a_month_or_of_members_is_no_value_at_a_time(
    readings: dict[str, Reading], sort: str, taken: bool
) -> None:
    """A seasonal forecast's means say "instant" of their steps; only their type tells."""
    said = [one.reason for one in readings[sort].rejects]
    assert bool(readings[sort].drafts) is taken
    assert any("mean, extreme, spread or chance" in reason for reason in said) is not taken
