"""The time bar's controls: what the page put into them is nobody's move.

A slow browser sends a control's last value with the next press of something else. Found as a
viewer of now who was left half a minute in the past after recording a position.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest
import streamlit as st

from dashboard import state
from dashboard.panels.plot import time_bar

NOW = datetime(2027, 3, 16, 6, 35, 31, 359055, tzinfo=UTC)


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    moves: list[datetime] = []
    monkeypatch.setattr(st, "session_state", {time_bar.HOW: "as known"})
    monkeypatch.setattr(time_bar, "_now", lambda stood: stood)  # no journal here to ask
    monkeypatch.setattr(state, "show_time", lambda at, now, *, hindsight: moves.append(at))
    return moves


def test_an_older_now_sent_by_the_browser_moves_nothing(shown: list[datetime]) -> None:
    later = NOW + timedelta(seconds=4)
    time_bar._put_in(time_bar.SLIDER, NOW, True)
    time_bar._put_in(time_bar.SLIDER, later, True)
    st.session_state[time_bar.SLIDER] = NOW
    time_bar._slid(later, None)
    assert shown == []


def test_a_move_of_the_hand_counts(shown: list[datetime]) -> None:
    time_bar._put_in(time_bar.SLIDER, NOW, True)
    wanted = NOW - timedelta(minutes=5)
    st.session_state[time_bar.SLIDER] = wanted
    time_bar._slid(NOW, None)
    assert shown == [wanted]


def test_back_to_a_past_time_shown_before_counts(shown: list[datetime]) -> None:
    past = NOW - timedelta(hours=3)
    time_bar._put_in(time_bar.SLIDER, past, False)
    time_bar._put_in(time_bar.SLIDER, NOW, True)
    st.session_state[time_bar.SLIDER] = past
    time_bar._slid(NOW, None)
    assert shown == [past]


def test_the_minute_before_is_shown_when_somebody_types_it(
    shown: list[datetime], monkeypatch: pytest.MonkeyPatch
) -> None:
    time_bar._put_in(time_bar.TYPED, "160634Z", True)
    time_bar._put_in(time_bar.TYPED, "160635Z", True)
    st.session_state[time_bar.TYPED] = "160634Z"
    time_bar._typed(NOW, NOW + timedelta(hours=48))
    assert shown == [], "within seconds it is the browser's"
    began = time.monotonic()
    monkeypatch.setattr(time, "monotonic", lambda: began + 60.0)
    time_bar._typed(NOW, NOW + timedelta(hours=48))
    assert shown == [datetime(2027, 3, 16, 6, 34, tzinfo=UTC)]
