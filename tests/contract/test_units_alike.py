"""Units of every sort whose names look like another's are told apart on screens and in exports.

The exercise's own units (ports, hospitals, stations, the boat) are entered a second and a third
time under a name that looks the same: with a letter of another script, and with a figure or a
small L in the place of a letter. Ships have tests of their own (`tests/unit/test_alike.py`).
"""

from __future__ import annotations

import io
import json
import re
import sys
from collections import Counter
from collections.abc import Iterator

import pytest
from lxml import etree, html
from pptx import Presentation
from pypdf import PdfReader

from demo_data.load import fill
from demo_data.scenario import DEMO_NOW
from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment, Shown
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from layers.picture import Picture, picture
from layers.scene.deck import deck
from layers.scene.ink import DAY
from layers.scene.release import Release
from layers.scene.sitrep import StaffWords, sitrep
from layers.scene.snapshot import FORMATS, About, snapshot
from layers.watch.state import state
from tests.unit.test_exports import STAMP

WATCH = Actor(name="watch officer", role=Role.WATCH, via="test")
# U+0441, U+0435, U+0420, U+0415 look like c, e, P, E (The Unicode Standard, Cyrillic block)
TWINS = {
    "Port Tressick": ("Port Tressi\u0441k", "P0rt Tressick"),
    "Aldermouth": ("Ald\u0435rmouth", "A1dermouth"),
    "Skerry Haven": ("Sk\u0435rry Haven", "Skerry Haven"),
    "PERIWINKLE": ("PERIWINKL\u0415", "PERlWINKLE"),
    "GREYWETHER": ("GR\u0415YWETHER", "GREYWETHER"),
    "Western Deep buoy": ("West\u0435rn Deep buoy", "Western Deep buoy"),
    "Tressick hospital": ("Tressick hospita\u04cf", "Tressick hospital"),
}
LAYERS = ("weather", "tracks", "transponders", "forward_port")  # not the margin, for its time
MARK = re.compile(r"^\s*‹\s*with")
WORDS = {word for pair in TWINS.values() for name in pair for word in name.split()}
SLIPPED = re.compile("[A-Za-z][01][a-z]|[A-Z]l[A-Z]")
FALSE = re.compile("|".join(w for w in sorted(WORDS) if not w.isascii() or SLIPPED.search(w)))
ABOUT = About(exercise="Exercise TWINS", head_seq=1, head_hash="0" * 64)


def written(made: Picture, form: str) -> bytes:
    """Return the picture as a file that goes out."""
    frame = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 300_000.0)
    return snapshot(
        made, form, about=ABOUT, ink=DAY, land=None, release=Release(), frame=frame
    ).content


@pytest.fixture(scope="module")
def twins(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Picture, Known, Counter[str]]]:
    path = tmp_path_factory.mktemp("twins") / "exercise.sqlite"
    journal = open_journal(
        path, KINDS, exercise=True, name="Exercise TWINS", clock=lambda: DEMO_NOW
    )
    fill(journal)
    entered: Counter[str] = Counter()
    named = [kind for kind in KINDS.values() if not kind.columns]
    drafts = []
    for number, record in enumerate(
        journal.read([kind.name for kind in named], journal.revision())
    ):
        told = json.dumps(record.payload, ensure_ascii=False)
        for name, pair in TWINS.items():
            for false in pair:
                if f'"{name}"' not in told or false == name:
                    continue
                payload = json.loads(told.replace(f'"{name}"', f'"{false}"'))
                again = Draft(kind=record.kind, payload=payload, valid_at=record.valid_at,
                              heard_at=record.heard_at, source="watch officer",
                              identity=form_identity(f"{number} {false}"))  # fmt: skip
                drafts.append(again)
                entered[name] += 1
    assert len(journal.append(WATCH, drafts).records) > len(TWINS)
    upto = journal.revision()
    moment = Moment(DEMO_NOW, DEMO_NOW)
    made = picture(journal, moment, upto, LAYERS)
    yield made, Known(journal, KINDS, upto, DEMO_NOW), entered
    journal.close()


def unmarked(text: str) -> list[str]:
    """Return the false words of a text that nothing marks as false."""
    return [
        text[max(found.start() - 30, 0) : found.end() + 20]
        for found in FALSE.finditer(text)
        if not MARK.match(text[found.end() :])
    ]


def test_the_units_were_entered_so_that_there_is_something_to_tell_apart(
    twins: tuple[Picture, Known, Counter[str]],
) -> None:
    entered = twins[2]
    sys.stdout.write(f"{dict(entered)}\n")
    assert len([name for name in TWINS if entered[name]]) >= 5


def test_on_screen_every_table_mark_and_sentence_marks_them(
    twins: tuple[Picture, Known, Counter[str]],
) -> None:
    made, _, _ = twins
    seen = 0
    for key, shown in made.layers.items():
        if not isinstance(shown, Shown):
            continue
        texts = [str(cell) for table in (shown.table, *shown.tables.values())
                 for row in table.rows for cell in row]  # fmt: skip
        texts += [text for mark in shown.marks
                  for text in (mark.tooltip, getattr(mark, "label", "") or "")]  # fmt: skip
        for text in texts:
            seen += bool(FALSE.search(text))
            assert not unmarked(text), key
    assert seen > 10


def texts_of(form: str, content: bytes) -> list[str]:
    """Return what a person reads in a file, a piece at a time."""
    if form in ("kml", "gpx", "svg"):
        root = etree.fromstring(content)
        return ["".join(one.itertext()) for one in root.iter(etree.Element) if not len(one)]
    if form == "pdf":
        return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]
    if form == "geojson":
        held = json.loads(content)
        return [str(value) for one in held["features"] for value in one["properties"].values()]
    text = content.decode()
    if form == "html":
        whole = html.fromstring(text)
        text = " ".join(whole.itertext())
        text = re.sub(r"\\u([0-9a-f]{4})", lambda found: chr(int(found[1], 16)), text)
    return [text]


@pytest.mark.parametrize("form", [form for form in FORMATS if form != "png"])
def test_in_every_file_they_are_marked(
    twins: tuple[Picture, Known, Counter[str]], form: str
) -> None:
    made, _, _ = twins
    content = written(made, form)
    seen = 0
    for text in texts_of(form, content):
        seen += len(FALSE.findall(text))
        assert not unmarked(text)
    assert seen or form in ("pdf", "svg")  # on paper only what lies in its frame is drawn


def test_in_the_report_and_on_slides_they_are_marked(
    twins: tuple[Picture, Known, Counter[str]],
) -> None:
    made, known, _ = twins
    watch = state(known, made.moment)
    assert not unmarked(sitrep(made, known, STAMP, Release(), StaffWords()))
    made_deck = deck(made, answers(made, watch), watch, STAMP, written(made, "png"))
    slides = Presentation(io.BytesIO(made_deck)).slides
    for slide in slides:
        for shape in slide.shapes:
            if shape.has_text_frame:
                assert not unmarked(shape.text_frame.text)
            if shape.has_table:
                for row in shape.table.rows:
                    for cell in row.cells:
                        assert not unmarked(cell.text)
