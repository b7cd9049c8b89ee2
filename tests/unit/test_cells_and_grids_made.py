"""Chart cells and forecast grids as other offices write them: what is absent costs itself.

The cells are a public one with attributes and features taken out, by the published structure of
the exchange file (IHO S-57, part 3, and ISO/IEC 8211); the grids are written by eccodes.
"""

from __future__ import annotations

import hashlib
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layers.contract import Origin, Reading
from layers.transponders.seabed import chart_cell, chart_feed, depth_raster_feed
from layers.weather.forecast.fields import unpacked
from tests.samples import sample

AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[2]
WRECKS, M_COVR = 159, 302  # codes of object classes, S-57 appendix A
CATWRK, VALSOU = 71, 179  # and of attributes
Fields = list[tuple[bytes, bytes]]


def origin(name: str, data: bytes) -> Origin:
    return Origin(source=name, received_at=AT, digest=hashlib.sha256(data).hexdigest())


def records(cell: bytes) -> Iterator[tuple[bytes, Fields]]:
    """Give each record's leader and fields: ISO/IEC 8211, leader of 24, then the directory."""
    at = 0
    while at < len(cell):
        record = cell[at : at + int(cell[at : at + 5])]
        base, length, place, tag = (int(record[12:17]), int(record[20:21]), int(record[21:22]),
                                    int(record[23:24]))  # fmt: skip
        step = tag + length + place
        heads = (record[k : k + step] for k in range(24, base - 1, step))
        yield (
            record[:24],
            [
                (h[:tag], record[base + int(h[tag + length :]) :][: int(h[tag : tag + length])])
                for h in heads
            ],
        )
        at += len(record)


def written(leader: bytes, fields: Fields) -> bytes:
    length, place = int(leader[20:21]), int(leader[21:22])
    heads, at = b"", 0
    for tag, body in fields:
        heads += tag + b"%0*d" % (length, len(body)) + b"%0*d" % (place, at)
        at += len(body)
    base = 24 + len(heads) + 1
    whole = b"%05d" % (base + at) + leader[5:12] + b"%05d" % base + leader[17:24]
    return whole + heads + b"\x1e" + b"".join(body for _, body in fields)


def changed(cell: bytes, change: Callable[[int, Fields], Fields | None]) -> bytes:
    """Return a cell whose features went through ``change(class, fields)``; None takes one out."""
    out = []
    for leader, fields in records(cell):
        found = dict(fields).get(b"FRID")
        kept = fields if found is None else change(int.from_bytes(found[7:9], "little"), fields)
        if kept is not None:
            out.append(written(leader, kept) if found is not None else written(leader, fields))
    return b"".join(out)


def without(*attributes: int) -> Callable[[int, Fields], Fields]:
    """Return a change that takes attributes from every second wreck."""
    count = [0]

    def change(sort: int, fields: Fields) -> Fields:
        if sort != WRECKS:
            return fields
        count[0] += 1
        if count[0] % 2:
            return fields
        told = []
        for tag, body in fields:
            if tag == b"ATTF":  # a number of two bytes, its value, and the unit terminator
                parts = [p for p in body.removesuffix(b"\x1e").split(b"\x1f") if len(p) >= 2]
                kept = [p for p in parts if int.from_bytes(p[:2], "little") not in attributes]
                body = b"".join(p + b"\x1f" for p in kept) + b"\x1e"
            told.append((tag, body))
        return told

    return change


def read_cell(cell: bytes) -> tuple[Reading, Any]:
    reading = chart_feed.read(cell, origin("US4MD81M.000", cell))
    (blob,) = reading.blobs.values()
    return reading, chart_cell.unpack(blob)


@pytest.fixture(scope="module")
def cell() -> bytes:
    return sample("US4MD81M.000").read_bytes()


@pytest.fixture(scope="module")
def whole(cell: bytes) -> Any:
    return read_cell(cell)[1]


def wrecks(features: Any) -> list[Any]:
    return [danger for danger in features.dangers if danger.sort == "wreck"]


def test_a_wreck_without_its_category_costs_its_category(cell: bytes, whole: Any) -> None:
    reading, found = read_cell(changed(cell, without(CATWRK)))
    assert reading.rejects == []
    before, after = wrecks(whole), wrecks(found)
    assert len(after) == len(before) == 110
    place = [(w.latitude_deg, w.longitude_deg, w.depth_m) for w in before]
    assert [(w.latitude_deg, w.longitude_deg, w.depth_m) for w in after] == place
    assert {w.words for w in after[1::2]} == {"unclassed wreck"}
    assert [w.words for w in after[::2]] == [w.words for w in before[::2]]
    assert np.array_equal(found.sounding_m, whole.sounding_m)


def test_a_wreck_without_category_and_depth_is_a_wreck_of_unknown_depth(cell: bytes) -> None:
    reading, found = read_cell(changed(cell, without(CATWRK, VALSOU)))
    assert reading.rejects == []
    assert len(wrecks(found)) == 110
    assert {w.depth_m for w in wrecks(found)[1::2]} == {None}


def test_a_cell_without_its_coverage_is_read_by_what_it_holds(cell: bytes, whole: Any) -> None:
    reading, found = read_cell(changed(cell, lambda sort, f: None if sort == M_COVR else f))
    (draft,) = reading.drafts
    assert reading.rejects == []
    assert len(found.sounding_m) == len(whole.sounding_m)
    assert draft.payload["west_deg"] <= float(found.sounding_lon.min())
    assert draft.payload["north_deg"] >= float(found.sounding_lat.max())


def test_a_cell_cut_short_is_refused_in_plain_words(cell: bytes) -> None:
    reading = chart_feed.read(cell[: len(cell) // 3], origin("US4MD81M.000", cell))
    assert reading.drafts == []
    (reject,) = reading.rejects
    assert "get the cell again" in reject.reason
    assert not {"Layer", "NaN", "convert", "OGR", "None"} & set(reject.reason.split())


GRIBS = """
import eccodes, pickle, sys
import numpy as np
from layers.contract import Origin
from layers.weather.feeds import grib_feed
wanted, at = pickle.load(sys.stdin.buffer)
found = {}
for name, fields in wanted.items():
    data = b""
    for keys, values in fields:
        sample = "regular_ll_sfc_grib1" if keys.pop("edition") == 1 else "regular_ll_sfc_grib2"
        message = eccodes.codes_grib_new_from_samples(sample)
        for key, value in keys.items():
            eccodes.codes_set(message, key, value)
        eccodes.codes_set_array(message, "values", np.asarray(values, dtype=float))
        data += eccodes.codes_get_message(message)
    found[name] = grib_feed.read(data, Origin(source=name, received_at=at, digest=name))
sys.stdout.buffer.write(pickle.dumps(found))
"""
ROWS, COLUMNS = 5, 6
GRID = {"Ni": COLUMNS, "Nj": ROWS, "latitudeOfFirstGridPointInDegrees": 52.0,
        "latitudeOfLastGridPointInDegrees": 48.0, "longitudeOfFirstGridPointInDegrees": 350.0,
        "longitudeOfLastGridPointInDegrees": 355.0, "iDirectionIncrementInDegrees": 1.0,
        "jDirectionIncrementInDegrees": 1.0, "dataDate": 20270316, "dataTime": 0}  # fmt: skip


def ramp(least: float, most: float) -> list[float]:
    return [float(v) for v in np.linspace(least, most, ROWS * COLUMNS)]


def surface(number: int, values: list[float]) -> tuple[dict[str, Any], list[float]]:
    """Return a field of edition 1 as a reanalysis writes it: table 128, surface, level 0."""
    keys = {"edition": 1, "table2Version": 128, "indicatorOfParameter": number,
            "indicatorOfTypeOfLevel": 1, "level": 0}  # fmt: skip
    return keys | GRID, values


def above(category: int, number: int, metres: int, values: list[float]) -> Any:
    """Return a field of edition 2 so many metres above the ground (level type 103)."""
    keys = {"edition": 2} | GRID | {
        "discipline": 0, "parameterCategory": category, "parameterNumber": number,
        "typeOfFirstFixedSurface": 103, "scaleFactorOfFirstFixedSurface": 0,
        "scaledValueOfFirstFixedSurface": metres}  # fmt: skip
    return keys, values


def of_member(member: int, field: Any) -> Any:
    """Return a field as one member of an ensemble (product definition template 4.1)."""
    keys, held = field
    return keys | {"productDefinitionTemplateNumber": 1, "perturbationNumber": member}, held


def chance(template: int, field: Any) -> Any:
    """Return a field that bears the quantity's name but is a chance, a spread or a percentile."""
    keys, held = field
    return keys | {"productDefinitionTemplateNumber": template}, held


EAST, NORTH, WARM = ramp(-4.0, 12.0), ramp(3.0, 9.0), ramp(280.0, 288.0)
FILES = {
    # local table 128 of one large centre: 165 and 166 are the wind at 10 m, 167 air at 2 m
    "reanalysis": [surface(165, EAST), surface(166, NORTH), surface(167, WARM)],
    "celsius": [above(0, 0, 2, ramp(7.0, 15.0)), above(2, 2, 10, EAST), above(2, 3, 10, NORTH)],
    "never filled": [above(2, 2, 10, [0.0] * 30), above(2, 3, 10, [0.0] * 30)],
    "members": [
        of_member(number, field)
        for number, more in ((2, 3.0), (1, 0.0))
        for field in (
            above(2, 2, 10, [v + more for v in EAST]),
            above(2, 3, 10, [v + more for v in NORTH]),
        )
    ],
    "mixed members": [of_member(1, above(2, 2, 10, EAST)), of_member(2, above(2, 3, 10, NORTH))],
    "twice": [
        above(2, 2, 10, EAST),
        above(2, 3, 10, NORTH),
        above(2, 2, 10, [v + 3.0 for v in EAST]),
        above(2, 3, 10, NORTH),
    ],
    "chances": [chance(template, above(2, 1, 10, ramp(0.0, 100.0))) for template in (2, 5, 6)],
    "half a wind": [above(2, 2, 10, EAST), above(0, 0, 2, WARM)],
    "aloft": [above(2, 2, 80, EAST), above(2, 3, 80, NORTH)],
}


@pytest.fixture(scope="module")
def grids() -> dict[str, Reading]:
    done = subprocess.run(
        [sys.executable, "-c", GRIBS], input=pickle.dumps((FILES, AT)), capture_output=True,
        cwd=ROOT, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-1_000:]
    found: dict[str, Reading] = pickle.loads(done.stdout)
    return found


def values(reading: Reading, name: str) -> Any:
    (blob,) = reading.blobs.values()
    grid = unpacked(blob)
    return grid.values[0, :, :, grid.names.index(name)]


def test_a_reanalysis_of_edition_one_says_surface_for_its_ten_and_two_metres(
    grids: dict[str, Reading],
) -> None:
    reading = grids["reanalysis"]
    assert reading.rejects == []
    for name, told in (("wind_east_m_s", EAST), ("wind_north_m_s", NORTH)):
        assert values(reading, name) == pytest.approx(
            np.sort(np.array(told).reshape(ROWS, COLUMNS)[::-1], axis=1), abs=0.01
        )
    warm = np.array(WARM).reshape(ROWS, COLUMNS)[::-1] - 273.15  # rows of ours from the south
    assert values(reading, "air_c") == pytest.approx(warm, abs=0.02)


def test_a_temperature_in_degrees_under_the_name_of_kelvin_is_not_used(
    grids: dict[str, Reading],
) -> None:
    """8 °C taken for kelvin is -265 °C, below what exists: told, and the wind beside it stays."""
    reading = grids["celsius"]
    assert ["temperature" in r.reason and "unit" in r.reason for r in reading.rejects] == [True]
    (blob,) = reading.blobs.values()
    assert set(unpacked(blob).names) == {"wind_east_m_s", "wind_north_m_s"}


def test_a_wind_field_of_nothing_but_zeros_is_no_calm(grids: dict[str, Reading]) -> None:
    reading = grids["never filled"]
    assert (reading.drafts, reading.blobs) == ([], {})
    assert ["never filled" in reject.reason for reject in reading.rejects] == [True]


def test_the_wind_at_eighty_metres_is_not_the_wind_at_ten(grids: dict[str, Reading]) -> None:
    reading = grids["aloft"]
    assert reading.drafts == []
    assert all("10 m above the sea" in reject.reason for reject in reading.rejects)


def test_a_depth_grid_of_nothing_but_zeros_is_refused(tmp_path: Path) -> None:
    import rasterio
    from rasterio import Affine

    path = tmp_path / "survey.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=8, width=9, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.01, 0.0, -9.0, 0.0, -0.01, 50.0),
    ) as file:  # fmt: skip
        file.write(np.zeros((1, 8, 9), dtype="float32"))
        file.set_band_description(1, "elevation")
    data = path.read_bytes()
    reading = depth_raster_feed.read(data, origin(path.name, data))
    assert reading.drafts == []
    (reject,) = reading.rejects
    assert "never filled" in reject.reason


def straightened(told: list[float]) -> Any:
    return np.array(told).reshape(ROWS, COLUMNS)[::-1]


def test_of_an_ensemble_one_member_is_used_and_never_two_in_one_wind(
    grids: dict[str, Reading],
) -> None:
    reading = grids["members"]
    assert reading.passed_over == {"field of a further member of an ensemble: member 1 is used": 2}
    for name, told in (("wind_east_m_s", EAST), ("wind_north_m_s", NORTH)):
        assert values(reading, name) == pytest.approx(straightened(told), abs=0.01)
    assert "member 1 of an ensemble" in reading.drafts[0].payload["note"]
    assert grids["mixed members"].drafts == []  # east of one, north of another: no wind


def test_the_same_field_with_other_values_does_not_replace_the_first(
    grids: dict[str, Reading],
) -> None:
    reading = grids["twice"]
    assert values(reading, "wind_east_m_s") == pytest.approx(straightened(EAST), abs=0.01)
    assert list(reading.doubts) == ["field that stands twice with other values: the first is used"]
    assert reading.passed_over == {"field that stands twice": 1}


def test_a_chance_a_spread_or_a_percentile_of_wind_is_no_wind(grids: dict[str, Reading]) -> None:
    reading = grids["chances"]
    assert reading.drafts == []
    assert ["percentile or chance" in reject.reason for reject in reading.rejects] == [True] * 3


def test_one_component_without_the_other_is_no_wind_and_is_said(grids: dict[str, Reading]) -> None:
    reading = grids["half a wind"]
    (blob,) = reading.blobs.values()
    assert unpacked(blob).names == ("air_c",)
    assert ["one component" in reject.reason for reject in reading.rejects] == [True]
