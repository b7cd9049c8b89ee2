"""What is drawn on paper and put on slides holds up whatever the text: read by strict parsers."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from lxml import etree
from pptx import Presentation
from pypdf import PdfReader

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.earth.table import Table
from layers.scene.ink import DAY
from layers.scene.paper.sheet import draw
from layers.scene.paper.words import Sheet
from layers.scene.scene import scene
from layers.scene.slides import Slides
from tests.unit.test_exports import STAMP, marks

# a sign that no letter is there for is drawn as a box, said on the log
pytestmark = pytest.mark.filterwarnings("ignore:Glyph", "ignore:Matplotlib currently")
# what ends a string, a tag, a stream or a formula; what XML 1.0 (2.2) has no place for; mathematics
HOSTILE = (
    "a\x1b[31mb \x00\x07\x0c\ufffe ]]></svg><!-- & <a> &#0;&lol; \u202eturned\u202c \u200bnone",
    "(unclosed \\ ) endstream endobj %%EOF $\\frac{1}{0}$ $unclosed ^_{} line\nline\r\u2028line",
    "晴風 ЯМА ⚓ 🚢 " + "x" * 3000,
)
FRAME = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)


def drawn(told: str, form: str) -> bytes:
    placed = [(name, replace(mark, label=told, tooltip=told, source=told))
              for name, mark in marks()]  # fmt: skip
    stamp = replace(STAMP, exercise=told, marking=told, releasable_to=told, title=told)
    sheet = Sheet(stamp=stamp, notes=(told, "A last note."), ages=(told,))
    return draw(scene(placed, FRAME), sheet, DAY, None, form)  # type: ignore[arg-type]  # one of the papers' sorts


@pytest.mark.parametrize("told", HOSTILE, ids=range(len(HOSTILE)))
def test_a_drawing_is_xml_with_nothing_but_words_in_it(told: str) -> None:
    root = etree.fromstring(drawn(told, "svg"), etree.XMLParser(recover=False, huge_tree=False))
    names = {etree.QName(one).localname for one in root.iter(etree.Element)}
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert not names & {"script", "foreignObject", "a", "image", "style"} - {"style", "image"}
    said = "".join(root.itertext())
    assert not {c for c in said if c in "\x1b\x00\x07\u202e\u200b\ufffe"}


@pytest.mark.parametrize("told", HOSTILE, ids=range(len(HOSTILE)))
def test_a_sheet_is_a_pdf_of_one_page_that_does_nothing(told: str) -> None:
    held = PdfReader(io.BytesIO(drawn(told, "pdf")), strict=True)
    (page,) = held.pages
    said = page.extract_text()
    assert "last note" in said or "more in the program" in said  # what has no room is counted
    root = held.trailer["/Root"]
    assert not {"/OpenAction", "/AA", "/AcroForm", "/Names"} & set(root)
    assert not page.annotations
    for told_about in (held.metadata or {}).values():
        assert not {c for c in str(told_about) if ord(c) < 32 or c in "\u202e\u200b"}


@pytest.mark.parametrize("told", HOSTILE, ids=range(len(HOSTILE)))
def test_slides_open_and_say_what_was_said(told: str) -> None:
    stamp = replace(STAMP, exercise=told, marking=told, releasable_to=told, title=told)
    slides = Slides(stamp, [(told, told)] * 4)
    slide = slides.new(told)
    slides.text(slide, [told, "A last note."], 0.5, 1.5, 8.0, 2.0, size=14)
    table = Table(heads=("Head", "Other"), rows=((told, 1.0), ("A cell", None)))
    slides.table(slide, table, 3.6, {"Head": (told, 5.0), "Other": ("Other", 2.0)})
    (again,) = Presentation(io.BytesIO(slides.done(told))).slides
    words = "\n".join(shape.text_frame.text for shape in again.shapes if shape.has_text_frame)
    cells = [cell.text for shape in again.shapes if shape.has_table
             for row in shape.table.rows for cell in row.cells]  # fmt: skip
    assert "A last note." in words
    assert "A cell" in cells
    assert not {c for c in words + "".join(cells) if c in "\x1b\x00\x07\u202e\u200b\ufffe"}
