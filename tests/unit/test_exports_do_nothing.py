"""What goes out carries nothing that runs, fetches or hides, whatever text is in it.

Looked for over every object, element and part of a file, by the words of the formats themselves:
SVG 1.1 chapters 17 and 18, ISO 32000-1 tables 28 and 198 and 9.3.6, ECMA-376 part 2 (relations).
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from lxml import etree
from pptx import Presentation
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, StreamObject

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.scene.browser import SCRIPTS, ChartBase, feature_collection
from layers.scene.ink import DAY
from layers.scene.page import page
from layers.scene.scene import scene
from layers.scene.slides import Slides
from tests.unit.test_exports import STAMP, marks
from tests.unit.test_papers_well_formed import drawn

pytestmark = pytest.mark.filterwarnings("ignore:Glyph", "ignore:Matplotlib currently")
RUNS = "window.hurt=1"
EVIL = (
    f"</text></svg></script><script>{RUNS}</script><a href='javascript:{RUNS}' onclick='{RUNS}'>",
    f"'\"><img src=//x.example/x onerror={RUNS}><svg onload={RUNS}><!ENTITY e SYSTEM 'file:///x'>",
    "/OpenAction << /S /JavaScript /JS (x) >> (unclosed ) endobj <</URI (http://x.example)>>",
    "=cmd|'/c x'!A1 \\\\x.example\\share {{7*7}} ${x} %s @import url(//x.example)",
)


@pytest.mark.parametrize("told", EVIL, ids=range(len(EVIL)))
def test_a_drawing_runs_fetches_and_hides_nothing(told: str) -> None:
    raw = drawn(told, "svg")
    plain = drawn("A plain name", "svg")
    tree = etree.fromstring(raw, etree.XMLParser(recover=False, resolve_entities=False))
    assert not re.search(rb"<!ENTITY|<\?xml-stylesheet", raw)
    for one in tree.iter():
        if not isinstance(one.tag, str):
            assert isinstance(one, etree._Comment)
            continue
        name = etree.QName(one).localname
        assert name not in {"script", "foreignObject", "a", "iframe", "set", "animate", "handler"}
        for key, value in one.attrib.items():
            short = etree.QName(key).localname
            assert not short.startswith("on"), (name, short)
            if short in ("href", "src"):
                assert value.startswith(("#", "data:image/png;base64,")), value[:60]
            for address in re.findall(r"url\(([^)]*)\)", value):
                assert address.startswith("#")
            hidden = r"display:\s*none|visibility:\s*hidden|(^|;|\s)opacity:\s*0(;|$)"
            assert not re.search(hidden, value), (name, value)
        if name == "style":
            assert "@import" not in (one.text or "")
            assert "url(" not in (one.text or "")
    kinds = {etree.QName(one).localname for one in tree.iter(etree.Element)}
    assert kinds == {
        etree.QName(one).localname for one in etree.fromstring(plain).iter(etree.Element)
    }


def _objects(reader: PdfReader) -> Iterator[Any]:
    """Give every object of a file, those that nothing points to as well."""
    seen: set[int] = set()
    waiting: list[Any] = [reader.trailer]
    waiting += [IndirectObject(number, held, reader)
                for held, numbers in reader.xref.items() for number in numbers]  # fmt: skip
    waiting += [IndirectObject(number, 0, reader) for number in reader.xref_objStm]
    while waiting:
        one = waiting.pop()
        if isinstance(one, IndirectObject):
            if one.idnum in seen:
                continue
            seen.add(one.idnum)
            one = one.get_object()
        yield one
        if isinstance(one, DictionaryObject):
            waiting += [value for _, value in one.items()]
        elif isinstance(one, ArrayObject):
            waiting += list(one)


@pytest.mark.parametrize("told", EVIL, ids=range(len(EVIL)))
def test_a_sheet_of_paper_runs_fetches_and_hides_nothing(told: str) -> None:
    reader = PdfReader(io.BytesIO(drawn(told, "pdf")), strict=True)
    found: Counter[str] = Counter()
    for one in _objects(reader):
        if not isinstance(one, DictionaryObject):
            continue
        found.update(one.keys())
        assert one.get("/S") not in {"/JavaScript", "/Launch", "/URI", "/GoToR", "/SubmitForm"}
        if isinstance(one, StreamObject) and one.get("/Subtype") != "/Image":
            assert not re.search(rb"(?<![\d.])[37] Tr\b", one.get_data())  # text that is not drawn
    acts = {"/JS", "/JavaScript", "/AA", "/OpenAction", "/URI", "/Launch", "/EmbeddedFiles", "/EF",
            "/AcroForm", "/XFA", "/RichMedia", "/OCProperties", "/Annots", "/Author"}  # fmt: skip
    assert found["/Type"] > 3
    assert not acts & set(found) - {"/Annots"}
    assert all(not one.annotations for one in reader.pages)


@pytest.mark.parametrize("told", EVIL, ids=range(len(EVIL)))
def test_slides_run_fetch_and_hide_nothing(told: str) -> None:
    stamp = replace(STAMP, exercise=told, marking=told, releasable_to=told, title=told)
    slides = Slides(stamp, [(told, told)] * 4)
    slide = slides.new(told)
    slides.text(slide, [told, "A last note."], 0.5, 1.5, 8.0, 2.0, size=14)
    slides.picture(slide, drawn(told, "png"))
    made = slides.done(told)
    with zipfile.ZipFile(io.BytesIO(made)) as parts:
        for name in parts.namelist():
            assert not re.search(
                r"vba|macro|embeddings|activeX|notesSlides|comments|customXml|\.bin|\.exe|\.jpe?g|app\.xml",
                name, re.I,
            ), name  # fmt: skip
            content = parts.read(name)
            if name.endswith((".rels", ".xml")):
                tree = etree.fromstring(content, etree.XMLParser(resolve_entities=False))
                for one in tree.iter(etree.Element):
                    assert one.get("TargetMode") != "External", (name, dict(one.attrib))
                    assert etree.QName(one).localname not in {"hlinkClick", "hlinkHover", "control"}
                    assert "macroEnabled" not in str(one.get("ContentType", ""))
    show = Presentation(io.BytesIO(made))
    assert show.core_properties.author == "Musterplot"
    assert not show.core_properties.comments
    assert show.slide_width is not None
    for one in show.slides:
        assert one.element.get("show") != "0"
        assert not one.has_notes_slide
        for shape in one.shapes:
            assert -1 <= shape.left <= show.slide_width
            assert shape.element.xpath(".//p:cNvPr/@hidden") == []


def test_a_picture_holds_its_pixels_and_its_title_alone() -> None:
    raw = drawn("A plain name", "png")
    assert raw[:8] == b"\x89PNG\r\n\x1a\n"
    names, at = [], 8
    while at < len(raw):
        (length,) = struct.unpack(">I", raw[at : at + 4])
        names.append(raw[at + 4 : at + 8])
        at += 12 + length
    assert at == len(raw)  # nothing behind its end
    assert set(names) <= {b"IHDR", b"pHYs", b"iTXt", b"tEXt", b"IDAT", b"IEND"}
    assert sum(name in (b"iTXt", b"tEXt") for name in names) == 1
    assert names[-1] == b"IEND"


class Read(HTMLParser):
    """Counts the elements of a page, and keeps what they point to."""

    def __init__(self) -> None:
        super().__init__()
        self.count: Counter[str] = Counter()
        self.points: list[str] = []
        self.acts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.count[tag] += 1
        self.points += [value or "" for key, value in attrs if key in ("href", "src", "action")]
        self.acts += [key for key, _ in attrs if key.startswith("on")]


def _map(told: str) -> Read:
    frame = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
    placed = [(name, replace(mark, label=told, tooltip=told, source=told))
              for name, mark in marks()]  # fmt: skip
    stamp = replace(STAMP, exercise=told, marking=told, releasable_to=told, title=told)
    base = ChartBase(frame=frame, ink=DAY, land_address="", attribution=stamp.banner)
    scripts = tuple((SCRIPTS / name).read_text() for name in ("projections.js", "chart.js"))
    found = Read()
    whole = page(base.spec(), feature_collection(scene(placed, frame), DAY), scripts, stamp)
    assert "default-src 'none'" in whole
    found.feed(whole)
    found.close()
    return found


@pytest.mark.parametrize("told", EVIL, ids=range(len(EVIL)))
def test_a_map_for_a_browser_has_no_element_more_for_any_text(told: str) -> None:
    found, plain = _map(told), _map("A plain name")
    assert found.count == plain.count
    assert found.points == []
    assert found.acts == []
