"""No raw field name, id, JSON or scientific notation on any page: what people read is in words.

Every page is read as a person reads it, on a first hour told by voice (half of all is not known,
each of the desk's kinds stands once) and on the exercise, where nearly every kind stands.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.page_table import TABLE
from layers.catalogue import KINDS
from layers.heard import Grammar, hear
from layers.heard.record import around_journal, drafts_of
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal
from tests.app.conftest import APP, PATIENCE_S, on_page, texts
from tests.one_answer import plain

PAGES = [link.address for link in TABLE]
WATCH = Actor(name="watch officer", role=Role.WATCH, via="test")
NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
RAW = re.compile(
    r"(?<![\w@/.])[a-z]+(?:_[a-z0-9]+)+(?![\w.]*\.(?:csv|nc|grib2?|txt|gpx|rtz))\b"
    r"|\b\d(?:\.\d+)?e[+-]?\d+\b"  # 1e+06
    r"|\b[0-9a-f]{32}\b"  # an id
    r"|\bsigmas?\b"  # LOOK: "good to"
    r"|(?<!\d)\d{3}°(?![\dTMWEC]| true| magnetic| grid)"  # a bearing says from which north
    r"|\{\"|\bNone\b|\bNaN\b|\bnan\b|\bnull\b|datetime\.|<class"
)
TOLD = (
    "lkp 4320N 00840E 1044Z within 2 nmi", "course 215 speed 6", "report due 1214",
    "52 on board", "sublook", "boat GREYWETHER length 68 m escape depth 180 m",
    "new ship TENACE 4310N 00820E 240/12", "TENACE bearing 060M 1250",
    "oil 4315.2N 00830.1E seen by TENACE at 1230", "tapping heard by TENACE 1240",
    "range 9.4 nmi from TENACE", "wind 310/25 sea 2.8 m 7 s at TENACE", "limit launch 2.5 m",
    "forward 20 people, aft 26", "she lies heading 200 list 12 to starboard depth 142 m",
    "aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs", "aft volume 560 m3",
    "forward 30 canisters", "stores aft 12 candles", "aft used 3 candles",
    "pod 3 planned for aft 20 canisters", "level co2 6 % sev", "forward rescue seat clear",
    "vehicle 14 seats, 5.5 h cycle, ready 290305Z", "aft first", "chamber ARDIS 8 places",
    "hospital PIETRA 4405N 00955E 6 beds", "port SAVONA 4418N 00829E",
    "SAVONA to the datum at 14 kn", "OSC is TENACE", "circuit TENACE: channel 16",
    "help asked of Naval Staff: two chambers helps until 1800", "told the families: no news yet",
    "told the boat: vehicle dives at first light", "TENACE report due 1400",
    "decided: launch at first light", "assume: the buoy is hers", "listening at 1400",
    "ask TENACE: when can you sail by 1500", "5 people in the water survival suits",
    "transponder T1 dropped 4315N 00830E depth 142 m turn-round 0.2 s",
    "correct 3: report due 1215", "scrap 10: another ship's",
    "nothing seen TENACE box 4310N 00820E to 4318N 00834E track 0.5 nmi 1200 to 1245",
)  # fmt: skip


def read(app: AppTest) -> str:
    """Return all that a person reads: text, labels, choices, heads and cells of tables."""
    parts = [plain(texts(app))]
    widgets: tuple[Any, ...] = (
        *app.text_input, *app.text_area, *app.number_input, *app.selectbox, *app.multiselect,
        *app.checkbox, *app.toggle, *app.button, *app.radio, *app.slider, *app.expander,
    )  # fmt: skip
    for one in widgets:
        parts += [str(one.label), *map(str, getattr(one, "options", ()) or ())]
    for one in app.dataframe:
        parts += [*map(str, one.value.columns), *map(str, one.value.to_numpy().ravel())]
    return "\n".join(parts)


def raw(said: str) -> list[str]:
    """Return what is raw, but for the heads of files as their makers write them, and folders.

    Where files are dropped is the path of a folder, whose name may be any.
    """
    said = re.sub(r"\(columns [^)]*\)?|begins raw_text|JSON \([^)]*\)?|(?:/[\w.-]+){2,}", "", said)
    return sorted({said[max(f.start() - 40, 0) : f.end() + 20] for f in RAW.finditer(said)})


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A journal of a first hour told by voice, named to the app."""
    folder = tmp_path_factory.mktemp("told")
    journal = open_journal(folder / "own.sqlite", KINDS, name="HEATH", exercise=True)
    journal.set_clock(NOW)
    grammar = Grammar(KINDS)
    for line in TOLD:
        now = journal.now()
        heard = hear(line, grammar, around_journal(grammar, journal, now))
        assert not heard.asks, (line, [ask.about for ask in heard.asks])
        for draft in drafts_of(heard, now=now, source="telephone", form_id=uuid.uuid4().hex):
            journal.append(WATCH, [draft])
    journal.close()
    patch = pytest.MonkeyPatch()
    patch.setenv("MUSTERPLOT_DATA_FOLDER", str(folder))
    patch.setenv("MUSTERPLOT_DATABASE_URL", str(folder / "own.sqlite"))
    patch.setenv("MUSTERPLOT_LISTENS", "127.0.0.1")
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()
    patch.undo()


@pytest.mark.parametrize("name", PAGES)
def test_nothing_raw_stands_on_a_page_of_the_first_hour(told: None, name: str) -> None:
    app = on_page(AppTest.from_file(str(APP), default_timeout=PATIENCE_S), name)
    assert not app.exception, app.exception
    assert not raw(read(app))


@pytest.mark.parametrize("name", PAGES)
def test_nothing_raw_stands_on_a_page_of_the_exercise(app: AppTest, name: str) -> None:
    assert not raw(read(on_page(app, name)))
