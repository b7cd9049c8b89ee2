"""Every place that shows an answer: pages, wall, slides, report, exports and the command."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import datetime

from pptx import Presentation
from streamlit.testing.v1 import AppTest

from dashboard.page_table import TABLE
from layers.answer_keys import told_as
from layers.answers import Answers, answers
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.known import Known
from layers.journal.store import Journal
from layers.picture import Picture, picture
from layers.scene.deck import deck
from layers.scene.ink import DAY
from layers.scene.release import Release, Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.scene.snapshot import About, snapshot
from layers.watch.result import WatchState
from layers.watch.state import state
from tests.app.conftest import on_page, texts

Read = tuple[Picture, Known, WatchState, Answers]


def read_at(journal: Journal, at: datetime) -> Read:
    """Return what the journal adds up to at a time, as it was known then."""
    moment = Moment(at, at)
    upto = journal.seq_at(at)
    known = Known(journal, KINDS, upto, at)
    made = picture(journal, moment, upto)
    watch = state(known, moment)
    return made, known, watch, answers(made, watch)


def papers(read: Read, exercise: str) -> dict[str, str]:
    """Return slides, report, exports and the command's answer as text, by their names."""
    made, known, watch, found = read
    stamp = Stamp(title="Brief", exercise=exercise, moment=made.moment, head_seq=1,
                  head_hash="ab" * 32)  # fmt: skip
    show = Presentation(io.BytesIO(deck(made, found, watch, stamp, _png())))
    slides = "\n".join(
        shape.text_frame.text
        for slide in show.slides
        for shape in slide.shapes
        if shape.has_text_frame
    )
    said = {"slides": slides, "report": sitrep(made, known, found, stamp, Release(), StaffWords())}
    said["command"] = json.dumps(told_as(found), default=str, ensure_ascii=False)
    about = About(exercise, made.upto_seq, "ab" * 32, 1)
    for form in ("geojson", "csv", "kml"):
        taken = snapshot(
            made, form, answers=found, about=about, ink=DAY, land=None, release=Release()
        )
        said[form] = taken.content.decode("utf-8-sig")
    return said


def _png() -> bytes:
    from matplotlib.figure import Figure

    out = io.BytesIO()
    Figure(figsize=(1, 1)).savefig(out, format="png")
    return out.getvalue()


def screens(app: AppTest, at: datetime | None) -> Iterator[tuple[str, str]]:
    """Give every page's text at a time; for None as it is now, the wall too."""
    if at is not None:
        app.query_params["as_of"] = str(int(at.timestamp() * 1e6))
    for link in TABLE:
        if link.bare and at is not None:
            continue  # the wall shows now, always
        on_page(app, link.address)
        assert not app.exception, (link.address, app.exception)
        yield link.address, texts(app)
