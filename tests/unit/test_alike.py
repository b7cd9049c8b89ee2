"""Names that look alike are told apart, and nothing unseen stays unseen, on screen and in files."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from xml.etree import ElementTree

import gpxpy
import pytest
from fastkml.validator import validate
from geojson_pydantic import FeatureCollection
from lxml import etree

from dashboard.panels.text import words
from layers.earth.chart.marks import PointMark, Style
from layers.earth.position import Position
from layers.earth.said.alike import shown, skeleton, told_apart, visible
from layers.earth.table import Column, Table
from layers.journal.record import Draft
from layers.scene.geojson import geojson
from layers.scene.ink import DAY
from layers.scene.kml import gpx, kml
from layers.scene.spread import rows_csv, table_csv
from layers.tracks import LAYER
from tests.unit.test_exports import AT, STAMP, marks
from tests.unit.test_tracks_ships import DATUM, NOW, fix, result, vessel

TRUE = "NORTHERN LANTERN"
# Unicode 16: U+0410 and U+041E look like A and O, U+200B has no width, U+FEFF neither, U+202E
# turns the reading, U+00AD shows at a line's end only, U+FF2E is a wide N, U+0301 an accent apart
FALSE = {
    "Cyrillic": "NORTHERN L\u0410NTERN",
    "Cyrillic, two": "N\u041eRTHERN L\u0410NTERN",
    "Greek": "NORTHER\u039d LANTERN",
    "zero width": "NORTHERN\u200b LANTERN",
    "no-break mark": "\ufeffNORTHERN LANTERN",
    "turned": "\u202eNRETNAL NREHTRON\u202c",
    "soft hyphen": "NORTH\u00adERN LANTERN",
    "wide": "\uff2eORTHERN LANTERN",
    "no-break space": "NORTHERN\u00a0LANTERN",
    "two blanks": "NORTHERN  LANTERN",
    "escape": "NORTHERN\x1b LANTERN",
    "new line": "NORTHERN\nLANTERN",
    "figure": "N0RTHERN LANTERN",
    "small L": "NORTHERN lANTERN",
    "I for L": "NORTHERN IANTERN",
    "small": "Northern Lantern",
    "the same": "NORTHERN LANTERN",
}


@pytest.mark.parametrize("what", FALSE)
def test_a_name_that_looks_like_another_has_the_same_skeleton(what: str) -> None:
    assert skeleton(FALSE[what]) == skeleton(TRUE)


def test_other_names_have_other_skeletons() -> None:
    names = ["NORTHERN LANTERN", "SOUTHERN LANTERN", "CAPE ARDIS", "Ж-7", "ΣΩ 4", "АРКТИКА", "晴風"]
    assert len({skeleton(name) for name in names}) == len(names)


@pytest.mark.parametrize("what", ["zero width", "no-break mark", "turned", "soft hyphen", "escape"])
def test_what_can_not_be_seen_is_written_out(what: str) -> None:
    told = visible(FALSE[what])
    assert "‹U+" in told
    assert visible(told) == told
    assert "‹U+" in words(FALSE[what])


def test_letters_of_another_script_within_a_word_are_marked_and_a_whole_name_is_not() -> None:
    assert "Cyrillic" in shown(FALSE["Cyrillic"])
    assert "Greek" in shown(FALSE["Greek"])
    for name in ("АРКТИКА", "ΠΟΣΕΙΔΩΝ", "晴風", "ÅLESUND", "Çeşme", "NORTHERN LANTERN"):
        assert shown(name) == name


# a refuge, a port, an aircraft, a vehicle, an office, a transponder, whole in Cyrillic letters
TWINS = {"forward": "f\u043erward", "PORT TRESSICK": "PORT TRESSI\u0421K", "LIMPET": "LI\u041cPET",
         "REAPER 7": "RE\u0410PER 7", "SMER": "SM\u0415R", "T1 COMPASS": "T1 C\u041eMPASS",
         "CAPE": "\u0421\u0410\u0420\u0415"}  # fmt: skip


@pytest.mark.parametrize("name", TWINS)
def test_any_name_with_letters_that_look_like_others_is_marked_on_screen_and_in_files(
    name: str,
) -> None:
    told = f"{TWINS[name]} at 0410Z"
    mark = PointMark(key="k", style=Style.SHIP, tooltip=told, source=told, label=told,
                     position=Position(49.8, -8.5), at=AT)  # fmt: skip
    table = Table.of([told], Column("Name", lambda text: text))
    seen = (words(told), mark.label, mark.tooltip, str(table.rows), table_csv(table, STAMP),
            rows_csv([("tracks", mark)], STAMP), kml([("tracks", mark)], STAMP, DAY))  # fmt: skip
    for text in seen:
        assert "‹with Cyrillic letters›" in text
    assert visible(f"{name} at 0410Z") == f"{name} at 0410Z"
    assert visible(visible(told)) == visible(told)


@pytest.mark.parametrize(
    ("name", "told"),
    [("0RION at 0410Z", "0RION ‹with figure 0› at 0410Z"),
     ("P0RT TRESSICK", "P0RT ‹with figure 0› TRESSICK"), ("LlMPET", "LlMPET ‹with small L›"),
     ("N0rthern L1ght", "N0rthern ‹with figure 0› L1ght ‹with figure 1›"),
     ("L0\u0421KER", "L0\u0421KER ‹with Cyrillic letters›")],
)  # fmt: skip
def test_a_figure_in_the_place_of_a_letter_is_marked(name: str, told: str) -> None:
    assert visible(name) == told
    assert visible(told) == told


# position, call sign, grid, digest, formula, pressure, unit, compartment, hull, height: no slips
@pytest.mark.parametrize(
    "text",
    ["50°10.0'N 008°30.0'W", "0410Z", "CO2", "31UDT0101", "V7AB1", "log1p(x)", "a1b2c3d4e5f6",
     "T1", "FR 40", "REAPER 10", "H1/3", "C1 and D2", "Hull 01A", "MacAldermouth", "McLlyr"],
)  # fmt: skip
def test_what_has_figures_by_right_stands_as_it_is(text: str) -> None:
    assert visible(text) == text


@pytest.mark.parametrize(
    "text", ["Санкт-Петербург", "σ 0.3, Δt, kΩ, 5 µm, ρ_w, ν = 2", "Αθήνα", "ЗИМА", "Þórr", "ПОРТ"]
)
def test_what_is_foreign_as_a_whole_or_a_sign_of_a_formula_stands_as_it_is(text: str) -> None:
    assert visible(text) == text


@pytest.mark.parametrize("what", FALSE)
def test_two_ships_that_look_the_same_are_told_apart_and_the_entered_one_keeps_hers(
    what: str,
) -> None:
    static = Draft(
        kind="tracks.static",
        payload={"subject": "mmsi:299000777", "name": FALSE[what]},
        valid_at=NOW,
        heard_at=NOW,
        source="ais",
        identity="static",
    )
    near = Position(49.85, -8.45)
    found = result(
        [vessel("support ship"), static, fix(5, DATUM.where), fix(4, near, "mmsi:299000777")]
    )
    names = {ship.subject: ship.name for ship in found.ships}
    assert names["mmsi:299000101"] == TRUE
    assert "MMSI 299000777, not the one entered" in names["mmsi:299000777"]
    labels = [mark.label for mark in LAYER.marks(found) if mark.label]
    tables = [
        str(cell) for table in LAYER.tables(found).values() for row in table.rows for cell in row
    ]
    for text in (*labels, *tables):
        if skeleton(text).startswith(skeleton(TRUE)) and text != TRUE:
            assert "299000777" in text or not text.startswith("‹"), text


def test_two_that_nobody_entered_both_carry_their_number() -> None:
    names = told_apart({"a": "MARIA", "b": "M\u0410RIA", "c": "ANNA"}, (), {"a": "MMSI 1"})
    assert names["a"] == "MARIA (MMSI 1)"
    assert names["b"].endswith("(b)")
    assert names["c"] == "ANNA"


HOSTILE = "\x1b[31m\x00\x07\u202e\ufeff</name>]]>&<!--\ud800 " + "x" * 3000


def test_every_export_is_well_formed_whatever_the_text() -> None:
    mark = PointMark(key="k", style=Style.SHIP, tooltip=HOSTILE, source=HOSTILE, label=HOSTILE,
                     position=Position(49.8, -8.5), at=AT)  # fmt: skip
    stamp = replace(STAMP, exercise=HOSTILE, marking=HOSTILE, releasable_to=HOSTILE, title=HOSTILE)
    marks = [("tracks", mark)]
    written = kml(marks, stamp, DAY)
    assert validate(element=etree.fromstring(written.encode()))
    tree = ElementTree.fromstring(gpx(marks, stamp).encode())
    assert tree.tag.endswith("gpx")
    assert len(gpxpy.parse(gpx(marks, stamp)).waypoints) == 1
    FeatureCollection.model_validate_json(geojson(marks, stamp).encode())
    for text in (rows_csv(marks, stamp), written, geojson(marks, stamp)):
        text.encode()
        assert "\x1b" not in text
        assert "\u202e" not in text
    rows = list(csv.reader(io.StringIO(rows_csv(marks, stamp))))
    body = [row for row in rows if row and not row[0].startswith("#")]
    assert {len(row) for row in body} == {len(body[0])}


@pytest.mark.parametrize(
    "cell", ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", " =1", "\u00a0=1", "\uff1d1+1", "\uff20A1"]
)
def test_no_cell_is_a_formula(cell: str) -> None:
    table = Table(heads=("A",), rows=((cell,),))
    last = table_csv(table, STAMP).splitlines()[-1]
    assert next(csv.reader([last]))[0].startswith("'")


def test_names_in_files_are_those_a_person_reads() -> None:
    mark = PointMark(key="position-mmsi:299000101 fix", style=Style.SHIP, source="r",
                     tooltip="NORTHERN LANTERN, 12 kn: fix 5 min old",
                     position=Position(49.8, -8.5), at=AT)  # fmt: skip
    assert gpxpy.parse(gpx([("tracks", mark)], STAMP)).waypoints[0].name == TRUE
    root = etree.fromstring(kml([("tracks", mark)], STAMP, DAY).encode())
    assert TRUE in [name.text for name in root.iter("{*}name")]
    assert json.loads(geojson([("tracks", mark)], STAMP))["features"]


# GPX 1.1, the order that its schema's sequences ask for (topografix.com/GPX/1/1; from memory, for
# no package carries the schema)
GPX_ORDER = {
    "gpx": "metadata wpt rte trk extensions",
    "metadata": "name desc author copyright link time keywords bounds extensions",
    "wpt": "ele time magvar geoidheight name cmt desc src link sym type fix sat hdop vdop pdop "
           "ageofdgpsdata dgpsid extensions",
    "rte": "name cmt desc src link number type extensions rtept",
    "trk": "name cmt desc src link number type extensions trkseg",
    "trkseg": "trkpt extensions",
}  # fmt: skip
GPX_ORDER |= {"rtept": GPX_ORDER["wpt"], "trkpt": GPX_ORDER["wpt"]}
MANY = frozenset({"wpt", "rte", "trk", "rtept", "trkseg", "trkpt", "link"})


@pytest.mark.parametrize("told", ["ORION", HOSTILE], ids=["plain", "hostile"])
def test_gpx_has_only_elements_of_its_schema_in_their_order(told: str) -> None:
    placed = [
        (name, replace(mark, label=told, tooltip=told, source=told)) for name, mark in marks()
    ]
    stamp = replace(STAMP, exercise=told, marking=told, releasable_to=told, title=told)
    root = etree.fromstring(gpx(placed, stamp).encode())
    assert root.get("version") == "1.1"
    assert root.get("creator")
    seen = set()
    for one in root.iter(etree.Element):
        name = etree.QName(one).localname
        seen.add(name)
        order = GPX_ORDER.get(name, "").split()
        inside = [etree.QName(child).localname for child in one]
        if name in ("extensions", "author"):
            continue
        assert inside == sorted(inside, key=order.index), (name, inside)
        assert not [n for n in set(inside) - MANY if inside.count(n) > 1], (name, inside)
        if name in ("wpt", "rtept", "trkpt"):
            assert -90 <= float(one.get("lat")) <= 90
            assert -180 <= float(one.get("lon")) < 180
    assert {"wpt", "trk"} <= seen
