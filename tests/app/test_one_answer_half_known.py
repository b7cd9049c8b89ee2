"""One answer, made once, where little is known: the same search over a journal told by voice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.told import PersonsNow
from layers.earth.uncertain import Number
from layers.journal.store import Journal, open_journal
from tests.app.conftest import APP, PATIENCE_S
from tests.every_place import papers, read_at, screens
from tests.half_known import NAME, TIMES, make
from tests.one_answer import contradictions, unlike

QUICK = (TIMES[2], TIMES[7], TIMES[9])
EVERY = [pytest.param(at, id=dtg(at), marks=() if at in QUICK else pytest.mark.long)
         for at in TIMES]  # fmt: skip


@pytest.fixture(scope="module")
def half_known(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    path = tmp_path_factory.mktemp("half") / "j.sqlite"
    make(path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MUSTERPLOT_DATA_FOLDER", str(path.parent))
        patch.setenv("MUSTERPLOT_DATABASE_URL", str(path))
        patch.setenv("MUSTERPLOT_LISTENS", "127.0.0.1")
        st.cache_resource.clear()
        journal = open_journal(path, KINDS)
        journal.set_clock(TIMES[-1] + timedelta(minutes=3))
        yield journal
        journal.close()
        st.cache_resource.clear()


@pytest.mark.parametrize("at", EVERY)
def test_every_place_says_the_same_of_what_is_half_known(half_known: Journal, at: datetime) -> None:
    read = read_at(half_known, at)
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE_S)
    shown = dict(screens(app, at)) | papers(read, NAME)
    assert "\n".join((*contradictions(shown, read[3]), *unlike(shown))) == ""


def test_the_journal_is_half_known(half_known: Journal) -> None:
    """Else nothing is tried: people without a place, a margin that is no number, two counts."""
    answered = read_at(half_known, TIMES[7])[3]
    assert isinstance(answered.persons, PersonsNow)
    assert answered.persons.not_heard_of > 0
    assert answered.margin
    assert not any(isinstance(one.as_planned_h, Number) for one in answered.margin.values())


def test_what_a_place_says_otherwise_is_found_here_too(half_known: Journal) -> None:
    found = read_at(half_known, TIMES[7])[3]
    wrong = {
        "places": "29 in the hull (forward 11, after 17)",
        "position": "Most probable position 56°00.0′N 009°00.0′W",
        "circle": "Most probable position 56°14.9′N 009°12.9′W, 95 % within 2 nmi",
        "dive": "dive: YES",
    }
    assert len(contradictions(wrong, found)) == len(wrong)


def test_two_pressures_of_a_refuge_are_a_contradiction() -> None:
    two = {
        "a page": "Forward refuge 1.10 bar absolute",
        "the report": "Forward refuge 1.25 bar absolute",
    }
    assert unlike(two)
    assert not unlike({**two, "the report": "After refuge 1.25 bar absolute"})
