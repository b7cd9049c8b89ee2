"""What goes out: GeoJSON, KML, GPX and CSV of the same marks, by validators that are not ours."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime

import gpxpy
import numpy as np
import pytest
from fastkml.validator import validate
from geojson_pydantic import FeatureCollection
from lxml import etree
from shapely.geometry import shape

from layers.contract import Moment
from layers.earth.chart.marks import AnyMark, AreaMark, GridMark, LineMark, PointMark, Style
from layers.earth.geodesy import ring
from layers.earth.position import Position
from layers.scene.geojson import geojson
from layers.scene.ink import DAY
from layers.scene.kml import gpx, kml
from layers.scene.release import Stamp
from layers.scene.spread import HEADS, rows_csv

AT = datetime(2027, 3, 15, 23, 40, tzinfo=UTC)
STAMP = Stamp(
    title="Plot",
    exercise="Exercise SABLE TIDE",
    moment=Moment(as_of=AT, at=AT),
    head_seq=7,
    head_hash="ab" * 32,
    marking="FOR TRAINING",
    attribution="coast © contributors",
)
EVIL = "<script>alert('x')</script> & ]]> \x07"


def marks(longitude: float = -8.5, latitude: float = 49.8) -> list[tuple[str, AnyMark]]:
    circle = ring(Position(latitude, longitude), 30_000.0)
    corners = np.meshgrid([latitude, latitude + 0.1], [longitude, longitude + 0.1], indexing="ij")
    return [
        ("tracks", PointMark(key="p", style=Style.SHIP, tooltip=EVIL, source="r1", label=EVIL,
                             position=Position(latitude, longitude), at=AT)),
        ("tracks", LineMark(key="l", style=Style.ROUTE, tooltip="leg", source="", label="=1+1",
                            latitudes_deg=np.array([latitude, latitude + 1.0]),
                            longitudes_deg=np.array([longitude, longitude + 3.0]))),
        ("datum", AreaMark(key="a", style=Style.DATUM, tooltip="95 %", source="",
                           latitudes_deg=circle[0], longitudes_deg=circle[1])),
        ("datum", GridMark(key="g", style=Style.PROBABILITY, tooltip="p", source="",
                           unit="per nmi²", latitudes_deg=corners[0],
                           longitudes_deg=corners[1], values=np.array([[0.5]]))),
    ]  # fmt: skip


@pytest.mark.parametrize(("longitude", "latitude"), [(-8.5, 49.8), (179.0, 10.0), (-179.9, 80.0)])
def test_geojson_is_what_rfc_7946_asks(longitude: float, latitude: float) -> None:
    text = geojson(marks(longitude, latitude), STAMP)
    collection = FeatureCollection.model_validate_json(text)  # geojson-pydantic, RFC 7946 models
    assert len(collection.features) == 4
    plain = json.loads(text)
    assert "crs" not in plain  # section 4: no other reference system
    for feature in plain["features"]:
        geometry = shape(feature["geometry"])
        assert geometry.is_valid
        for part in getattr(geometry, "geoms", [geometry]):
            west, south, east, north = part.bounds
            assert -180 <= west <= east <= 180
            assert -90 <= south <= north <= 90
            assert east - west < 10  # section 3.1.9: nothing drawn round the world
        if feature["geometry"]["type"] == "MultiPolygon":
            assert all(part.exterior.is_ccw for part in geometry.geoms)  # section 3.1.6


def test_geojson_says_exercise_time_and_head() -> None:
    stamp = json.loads(geojson(marks(), STAMP))["musterplot"]
    assert stamp["exercise"] == "EXERCISE SABLE TIDE"
    assert stamp["at"] == stamp["as_of"] == "2027-03-15T23:40:00Z"
    assert stamp["journal_head"] == "ab" * 32


@pytest.mark.parametrize("longitude", [-8.5, 179.0])
def test_kml_keeps_to_the_published_schema(longitude: float) -> None:
    text = kml(marks(longitude), STAMP, DAY)
    # the OGC schema as fastkml carries it
    assert validate(element=etree.fromstring(text.encode()))
    assert "<script" not in text
    assert "EXERCISE SABLE TIDE" in text
    # a viewer shows a balloon's words as HTML: there too they are letters
    balloons = [e.text or "" for e in etree.fromstring(text.encode()).iter("{*}description")]
    assert any("&lt;script&gt;" in said for said in balloons)
    assert not any("<" in said for said in balloons)


def test_gpx_is_read_back_by_another_reader() -> None:
    read = gpxpy.parse(gpx(marks(), STAMP))
    (point,) = read.waypoints
    assert (point.latitude, point.longitude, point.time) == (49.8, -8.5, AT)
    assert len(read.tracks) == 2


def test_csv_has_a_row_a_vertex_and_no_formula() -> None:
    text = rows_csv(marks(), STAMP)
    above = [line for line in text.splitlines() if line.startswith("#")]
    assert above[0] == "# EXERCISE SABLE TIDE"
    rows = list(csv.reader(io.StringIO("\n".join(text.splitlines()[len(above) :]))))
    assert tuple(rows[0]) == HEADS
    assert {row[1] for row in rows[1:] if row} == {"p", "l", "a", "g"}
    labels = {row[3] for row in rows[1:] if len(row) > 3}
    assert "'=1+1" in labels


def test_the_same_marks_give_the_same_bytes() -> None:
    for write in (geojson, gpx, rows_csv):
        assert write(marks(), STAMP) == write(marks(), STAMP)
    assert kml(marks(), STAMP, DAY) == kml(marks(), STAMP, DAY)
