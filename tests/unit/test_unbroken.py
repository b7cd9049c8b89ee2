"""A press that records is done whole: no request that comes meanwhile leaves it half done."""

from __future__ import annotations

import logging
from types import SimpleNamespace
from typing import Any

import pytest
from streamlit.runtime.state import SafeSessionState, SessionState

from dashboard import unbroken
from dashboard.panels.feeds import rooms
from dashboard.panels.plot import first_card
from dashboard.panels.watch import on_watch
from dashboard.tools import heard
from dashboard.tools.forms import record_form


class BrokenOff(BaseException):
    """As the framework ends a run for which a newer was asked."""


def asked_anew() -> None:
    raise BrokenOff


def held(monkeypatch: pytest.MonkeyPatch, state: Any) -> Any:
    context = SimpleNamespace(session_state=state)
    monkeypatch.setattr(unbroken, "get_script_run_ctx", lambda: context)
    return state


def test_what_was_recorded_is_also_said(monkeypatch: pytest.MonkeyPatch) -> None:
    state = held(monkeypatch, SafeSessionState(SessionState(), asked_anew))
    journal: list[str] = []

    def press() -> None:
        journal.append("recorded")
        state["said"] = "No. 6"

    with pytest.raises(BrokenOff):
        press()
    assert journal == ["recorded"], "that is the fault: it is recorded, and not said"
    unbroken.unbroken(press)()
    with pytest.raises(BrokenOff):  # what was asked meanwhile is done right after
        state["said"]
    assert state._state["said"] == "No. 6"


def test_a_press_that_fails_leaves_the_framework_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    state = held(monkeypatch, SafeSessionState(SessionState(), asked_anew))

    @unbroken.unbroken
    def press() -> None:
        raise ValueError("refused")

    with pytest.raises(ValueError, match="refused"):
        press()
    with pytest.raises(BrokenOff):
        state["said"]


def test_where_the_framework_holds_nothing_of_the_kind_the_log_says_so(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    held(monkeypatch, SimpleNamespace())
    with caplog.at_level(logging.WARNING):
        assert unbroken.unbroken(lambda: 3)() == 3
    assert "may be broken off" in caplog.text


@pytest.mark.parametrize("press", [
    heard._entered, heard._keep_note, heard._undo, heard._drop, first_card._record, on_watch._take,
    rooms._take, record_form._Form._record,
])  # fmt: skip
def test_every_press_that_records_is_done_whole(press: Any) -> None:
    assert press.__wrapped__
