"""Two units whose names look alike are two in every export and table, and nothing unseen hides.

One journal, half known, with twins in it as somebody who sends names can make them (letters of
another script, no width, turned reading; The Unicode Standard, chapter 23, and Unicode Technical
Standard 39 name such), looked at through all that leaves the house: map data, map, drawing, paper,
slides, situation report, pages to print, the tables of every layer, and what the command says.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from pptx import Presentation
from pypdf import PdfReader

from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment, Unavailable
from layers.earth.chart.frames import FrameName
from layers.earth.said.alike import skeleton, visible
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from layers.paper_pack import paper
from layers.picture import Picture, picture
from layers.scene.deck import deck
from layers.scene.ink import DAY
from layers.scene.release import Release, Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.scene.snapshot import FORMATS, About, snapshot
from layers.scene.spread import table_csv
from layers.watch.state import state
from tests import half_known

NOW = half_known.BEGAN + timedelta(hours=9)
HAND = Actor(name="duty officer", role=Role.WATCH)
FEED = Actor(name="feed reader", role=Role.FEED, via="feed")
TRUE, FALSE = "NORTHERN LANTERN", "NORTHERN L\u0410NTERN"  # a Cyrillic A
NUMBER = "299000777"
UNSEEN = re.compile("[\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff\u00ad\x1b]")
HIDDEN = {
    "survivors.place": "after\u200bward",
    "tracks.vessel": "\u202eTEPRAK\u202c",
    "transponders.drop": "T\u20668\u2069",
}
Out = dict[str, str]


def said(kind: str, payload: dict[str, Any], minutes_ago: float = 5.0) -> Draft:
    at = NOW - timedelta(minutes=minutes_ago)
    return Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="a\u202eb",
                 identity=form_identity(f"{kind} {payload} {minutes_ago}"))  # fmt: skip


def units() -> list[Draft]:
    """Twins at sea and names with what can not be seen, of ships, a refuge and a transponder."""
    near = {"latitude_deg": 56.25, "longitude_deg": -9.1, "speed_kn": 4.0}
    return [
        said("tracks.vessel", {"subject": "mmsi:299000101", "name": TRUE, "role": "support ship"}),
        said("tracks.static", {"subject": f"mmsi:{NUMBER}", "name": FALSE}),
        said("tracks.position", {"subject": "mmsi:299000101", **near}),
        said("tracks.position", {"subject": f"mmsi:{NUMBER}", **near, "latitude_deg": 56.2}),
        said("tracks.vessel", {"subject": "mmsi:299000102", "role": "support ship",
                               "name": HIDDEN["tracks.vessel"]}),
        said("tracks.position", {"subject": "mmsi:299000102", **near, "latitude_deg": 56.15}),
        # a name that looks like another is no name that a person may type: in words it stands
        said("watch.task", {"who": "OSPREY", "what": f"ask {FALSE} to search\u200b north"}),
        said("watch.note", {"text": "heard from NORTHERN\u200b LANTERN \u202eenil\u202c"}),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Picture, Known]]:
    path: Path = tmp_path_factory.mktemp("alike") / "j.sqlite"
    half_known.make(path)
    journal = open_journal(path, KINDS, clock=lambda: NOW)
    for draft in units():
        journal.append(FEED if draft.kind == "tracks.static" else HAND, [draft])
    moment, upto = Moment(NOW, NOW), journal.revision()
    yield picture(journal, moment, upto), Known(journal, KINDS, upto, NOW)
    journal.close()


@pytest.fixture(scope="module")
def out(made: tuple[Picture, Known]) -> Out:
    return all_that_leaves(*made)


def all_that_leaves(shown: Picture, known: Known) -> Out:
    """All that leaves the house, as the text that a person or a program reads in it."""
    watch, about = state(known, shown.moment), About("Exercise QUIET REED", 9, "cd" * 32)
    found = answers(shown, watch)
    files = {
        form: snapshot(shown, form, answers=found, about=about, ink=DAY, land=None,
                       release=Release(), frame_name=FrameName.RANGE_TRUE).content
        for form in FORMATS
    }  # fmt: skip
    stamp = Stamp(title="Brief", exercise="Exercise QUIET REED", moment=shown.moment,
                  head_seq=9, head_hash="cd" * 32)  # fmt: skip
    slides = Presentation(io.BytesIO(
        deck(shown, found, watch, stamp, files["png"])))  # fmt: skip
    texts = {
        form: content.decode("utf-8-sig")
        for form, content in files.items()
        if form not in ("png", "pdf")
    }
    texts["pdf"] = PdfReader(io.BytesIO(files["pdf"]), strict=True).pages[0].extract_text()
    texts["slides"] = "\n".join(_words(slides))
    texts["sitrep"] = sitrep(shown, known, found, stamp, Release(), StaffWords())
    texts["paper pack"] = paper(shown, watch, "Exercise QUIET REED", exercise=True)
    for key, layer in shown.layers.items():
        if isinstance(layer, Unavailable):
            continue
        for name, table in layer.tables.items():
            texts[f"table {key} {name}"] = table_csv(table, stamp)
    return texts


def _words(show: Any) -> Iterator[str]:
    for slide in show.slides:
        for shape in slide.shapes:
            if shape.has_text_frame:
                yield shape.text_frame.text
            if shape.has_table:
                for row in shape.table.rows:
                    yield " | ".join(cell.text for cell in row.cells)


def test_all_that_leaves_the_house_is_looked_at(out: Out) -> None:
    assert {"csv", "geojson", "kml", "gpx", "html", "svg", "pdf", "slides", "sitrep",
            "paper pack"} <= set(out)  # fmt: skip
    assert any(name.startswith("table tracks") for name in out)


def test_nothing_unseen_and_nothing_turned_is_in_any_of_it(out: Out) -> None:
    found = {name: UNSEEN.findall(text) for name, text in out.items() if UNSEEN.search(text)}
    assert not found
    assert "‹U+202E›" in out["csv"]  # the ship is there, with what her name hides written out


def test_the_twin_never_stands_without_what_tells_her_apart(out: Out) -> None:
    named = 0
    for name, text in out.items():
        # a word that was cut over a line's end is one again
        text = re.sub(r"\s+", " ", text).replace("\\u2039", "‹").replace("\\u0410", "\u0410")
        for at in re.finditer(FALSE, text):
            assert text[at.end() :].startswith(" ‹with Cyrillic letters›"), (name, at)
            named += 1
        if name in ("csv", "geojson", "kml", "gpx", "html"):
            assert TRUE in text, name
            assert NUMBER in text, name
    assert named


def test_no_two_subjects_are_shown_under_one_name(made: tuple[Picture, Known]) -> None:
    shown, _ = made
    ships = {ship.subject: ship.name for ship in shown.layers["tracks"].result.ships}  # type: ignore[union-attr]  # this case has one
    assert {"mmsi:299000101", f"mmsi:{NUMBER}"} <= set(ships)
    assert len({skeleton(visible(name)) for name in ships.values()}) == len(ships)
