"""What our style sheets and scripts name of the framework is there, in the version installed.

The world here is the framework's own files: a name that went from them, or an element that became
another, made what we hide or keep come to nothing without a word (drafts were lost that way).
"""

from __future__ import annotations

import inspect
import re
from functools import cache
from pathlib import Path

import pytest
import streamlit
from streamlit.runtime.app_session import AppSession
from streamlit.runtime.runtime import AsyncObjects, Runtime
from streamlit.runtime.state import SafeSessionState, SessionState

from dashboard import unbroken

DASHBOARD = Path(__file__).resolve().parents[2] / "dashboard"
NAME = re.compile(r"(?:\.|testid=['\"])(st[A-Z]\w+)")
TIED = re.compile(r"\b[a-z]+\.st[A-Z]\w+\b(?!\()")  # section.stMain


@cache
def _theirs() -> str:
    static = Path(streamlit.__file__).parent / "static"
    found = [path for path in static.rglob("*") if path.suffix in (".js", ".css")]
    return "\n".join(path.read_text("utf-8", errors="ignore") for path in found)


@cache
def _ours() -> dict[str, str]:
    found = [p for p in DASHBOARD.rglob("*") if p.suffix in (".js", ".css", ".py")]
    return {str(path.relative_to(DASHBOARD)): path.read_text("utf-8") for path in found}


def test_every_name_of_the_framework_is_one_of_its_names() -> None:
    named = {(name, where) for where, text in _ours().items() for name in NAME.findall(text)}
    assert len(named) > 20  # they are found at all
    assert [each for each in sorted(named) if each[0] not in _theirs()] == []


def test_no_name_of_the_framework_is_tied_to_an_element() -> None:
    """`section.stMain` held until the framework made it a `main`."""
    assert [(w, TIED.findall(t)) for w, t in _ours().items() if TIED.findall(t)] == []


@pytest.mark.parametrize("name", ["_scriptrunner", "_client_state", "_on_script_error"])
def test_what_waking_and_faults_use_of_a_session_unpromised_is_there(name: str) -> None:
    """Gone or renamed, nobody would be woken, or the framework's own message would be seen."""
    assert f"self.{name} = " in inspect.getsource(AppSession) or (
        f"self.{name}: " in inspect.getsource(AppSession)
    )
    used = [text for text in _ours().values() if f"held.{name}" in text]
    assert used, f"{name} is used no longer: take it out here"


def test_the_server_s_loop_is_where_waking_asks_for_it() -> None:
    assert callable(Runtime._get_async_objs)
    assert "eventloop" in AsyncObjects._fields


def test_what_breaks_a_press_off_is_held_under_the_name_that_is_used() -> None:
    assert unbroken.HELD in vars(SafeSessionState(SessionState(), lambda: None))
