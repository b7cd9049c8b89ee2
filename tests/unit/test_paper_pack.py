"""Power gone: the paper of every hour holds what the screens say, and forms to go on by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from demo_data import scenario
from demo_data.load import demo_journal
from layers import answer_words
from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.known import Known
from layers.paper_pack import KEPT, HourlyPaper, paper
from layers.picture import Picture, picture
from layers.watch.state import state

AT = scenario.DEMO_NOW
EVIL = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def held() -> tuple[Any, Picture]:
    shelf, seq = demo_journal(AT)
    return shelf, picture(shelf, Moment(AT, AT), seq, ["survivors", "tracks"])


def test_it_holds_the_answers_what_is_due_and_forms_with_heads(held: tuple[Any, Picture]) -> None:
    shelf, made = held
    watch = state(Known(shelf, KINDS, made.upto_seq, AT), made.moment)
    text = paper(made, watch, f"Exercise {EVIL}", exercise=True)
    for one in answer_words.persons(answers(made, watch)):
        assert f"<td>{one.figure}</td>" in text
    assert all(event.what in text for event in watch.overdue)
    assert text.count("EXERCISE") >= 4  # the head, and every form that goes out of the room
    assert EVIL.upper() not in text
    for head in ("True at (Z)", "Heard at (Z)", "Pressure (bar abs)", "Walking"):
        assert f"<th>{head}</th>" in text
    assert len(re.findall(r"<tr>(?:<td></td>)+</tr>", text)) > 60
    assert "http" not in text.replace("http-equiv", "")  # nothing is fetched: it opens anywhere


def test_one_an_hour_is_kept_and_the_oldest_go(tmp_path: Path, held: tuple[Any, Picture]) -> None:
    shelf, made = held
    keeps = HourlyPaper(tmp_path, shelf_with(shelf))
    first = keeps.keep(made)
    assert first is not None
    assert first.stat().st_mode & 0o077 == 0  # this account's alone
    later = replace(made, moment=Moment(AT + timedelta(minutes=20), AT + timedelta(minutes=20)))
    assert keeps.keep(later) is None
    for hours in range(1, KEPT + 3):
        at = AT + timedelta(hours=hours)
        keeps.keep(replace(made, moment=Moment(at, at)))
    kept = sorted((tmp_path / "paper").glob("*.html"))
    assert len(kept) == KEPT
    assert first not in kept


def shelf_with(shelf: Any) -> Any:
    """Return a shelf that has a journal's name too."""

    class Named:
        name, exercise = "Exercise X", True

        def __getattr__(self, one: str) -> Any:
            return getattr(shelf, one)

    return Named()
