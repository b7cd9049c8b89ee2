"""One answer, made once: what every page, the wall, paper, slides, report and command show."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from pptx import Presentation
from streamlit.testing.v1 import AppTest

from dashboard.page_table import TABLE
from demo_data.scenario import DEMO_NOW
from layers.answers import Answers, answers
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.told import PersonsNow
from layers.earth.uncertain import Number
from layers.journal.known import Known
from layers.journal.store import Journal
from layers.picture import Picture, picture
from layers.scene.deck import deck
from layers.scene.release import Release, Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.watch.result import WatchState
from layers.watch.state import state
from tests.app.conftest import on_page, texts
from tests.one_answer import contradictions

HOURS = (0.0, 2.6, 30.0)  # before the opening: now, a vehicle down, the search
MINUTES = 5  # that the exercise's clock may go on while the pages of now are opened
MANY = tuple(0.5 + 3.1 * n for n in range(20))


def at_hours(journal: Journal, hours: float) -> tuple[Picture, Known, WatchState, Answers]:
    at = DEMO_NOW - timedelta(hours=hours)
    moment = Moment(at, at)
    upto = journal.seq_at(at)
    known = Known(journal, KINDS, upto, at)
    made = picture(journal, moment, upto)
    watch = state(known, moment)
    return made, known, watch, answers(made, watch)


def papers(made: Picture, known: Known, watch: WatchState, found: Answers) -> dict[str, str]:
    stamp = Stamp(title="Brief", exercise="Exercise SABLE TIDE", moment=made.moment, head_seq=1,
                  head_hash="ab" * 32)  # fmt: skip
    show = Presentation(io.BytesIO(deck(made, found, watch, stamp, _png())))
    slides = "\n".join(
        shape.text_frame.text
        for slide in show.slides
        for shape in slide.shapes
        if shape.has_text_frame
    )
    return {"slides": slides, "report": sitrep(made, known, stamp, Release(), StaffWords())}


def _png() -> bytes:
    from matplotlib.figure import Figure

    out = io.BytesIO()
    Figure(figsize=(1, 1)).savefig(out, format="png")
    return out.getvalue()


def screens(app: AppTest, hours: float) -> Iterator[tuple[str, str]]:
    if hours:
        at = DEMO_NOW - timedelta(hours=hours)
        app.query_params["as_of"] = str(int(at.timestamp() * 1e6))
    for link in TABLE:
        if link.bare and hours:
            continue  # the wall shows now, always
        on_page(app, link.address)
        assert not app.exception, link.address
        yield link.address, texts(app)


def said_otherwise(journal: Journal, shown: dict[str, str], found: Answers, hours: float) -> str:
    """Return what contradicts the answers; a page of now may show the next minutes' answers."""
    left = dict(shown)
    for minute in range(MINUTES if not hours else 1):
        answered = at_hours(journal, -minute / 60.0)[3] if minute else found
        left = {name: said for name, said in left.items() if contradictions({name: said}, answered)}
        if not left:
            return ""
    return "\n".join(contradictions(left, found))


@pytest.mark.parametrize("hours", HOURS)
def test_every_place_says_the_same(app: AppTest, journal: Journal, hours: float) -> None:
    made, known, watch, found = at_hours(journal, hours)
    shown = dict(screens(app, hours)) | papers(made, known, watch, found)
    assert said_otherwise(journal, shown, found, hours) == ""


@pytest.mark.long
@pytest.mark.parametrize("hours", MANY)
def test_every_place_says_the_same_at_twenty_times(
    app: AppTest, journal: Journal, hours: float
) -> None:
    made, known, watch, found = at_hours(journal, hours)
    shown = dict(screens(app, hours)) | papers(made, known, watch, found)
    assert "\n".join(contradictions(shown, found)) == ""


def test_a_panel_that_computes_its_own_is_found(journal: Journal) -> None:
    """The check must be able to fail: another count, another margin, certainty by rounding."""
    _, _, _, found = at_hours(journal, 0.0)
    assert isinstance(found.persons, PersonsNow)
    other = replace(found.persons, in_hull=found.persons.in_hull - 1)
    wrong = {
        "a box": f"<div>{other.in_hull} in the hull</div>",
        "a line": f'<div data-answer="margin"><b>+{999}</b></div>',
        "a sentence": "after refuge: 998 h to spare (cold binds)",
        "a chance": "all out in time in 100 of 100",
    }
    said = contradictions(wrong, found)
    assert len(said) == len(wrong), said
    least, _ = found.least_margin
    assert isinstance(least, Number)
