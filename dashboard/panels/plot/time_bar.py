"""The time slider: what was known then, hindsight, or what is expected; and play."""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st

from dashboard import cache, state
from dashboard.state import Key
from dashboard.view import Seen
from layers.contract import View

AHEAD = timedelta(hours=48)
STEP = timedelta(minutes=5)
SLIDER = "time_slider"
THEN, LOOKING_BACK = "as known then", "hindsight"


def first_time(seen: Seen) -> datetime:
    """Return the earliest time the slider reaches: the first record, or a day ago."""
    first = cache.first_record_at(seen.revision)
    return min(first or seen.now - timedelta(days=1), seen.now - timedelta(hours=1))


def show(seen: Seen) -> None:
    """Show the slider with its buttons in one row."""
    earliest, latest = first_time(seen), _full_hour(seen.now) + AHEAD
    play, slider, how, back = st.columns([1.1, 7.4, 4.0, 1.1], vertical_alignment="center")
    with play:
        playing = state.get(Key.PLAYING)
        if st.button("Stop" if playing else "Play", key="play", width="stretch"):
            state.put(Key.PLAYING, not playing)
            if not playing and seen.follows_now:
                state.show_time(earliest, seen.now, hindsight=False)
            st.rerun()
    with how:
        looking_back = seen.moment.view is View.HINDSIGHT
        chosen = st.segmented_control(
            "Which knowledge is shown",
            (THEN, LOOKING_BACK),
            default=LOOKING_BACK if looking_back else THEN,
            key=f"how_{looking_back}",
            label_visibility="collapsed",
        )
    stands_at = min(max(seen.moment.at, earliest), latest)
    with slider:
        # The key stays and the value is put in: the focus stays under the hand, and a move made
        # while the minute changes is not lost, since it is taken up by what was shown then.
        st.session_state[SLIDER] = stands_at
        st.slider(
            "Time shown",
            min_value=earliest,
            max_value=latest,
            step=STEP,
            format="DD HHmm[Z]",
            key=SLIDER,
            on_change=_moved,
            args=(seen.now, f"how_{looking_back}"),
            label_visibility="collapsed",
        )
    with back:
        if st.button("Now", key="now", disabled=seen.follows_now, width="stretch"):
            state.show_now()
            st.rerun()
    hindsight = chosen == LOOKING_BACK
    if not seen.follows_now and seen.moment.at < seen.now and hindsight != looking_back:
        state.show_time(seen.moment.at, seen.now, hindsight=hindsight)
        st.rerun()


def _moved(now: datetime, how: str) -> None:
    """Show the time that the slider was moved to."""
    looking_back = st.session_state.get(how) == LOOKING_BACK
    state.show_time(st.session_state[SLIDER], now, hindsight=looking_back)


def _full_hour(now: datetime) -> datetime:
    """Return the next full hour: the slider's end, which must not change from run to run."""
    return now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)


def advance(seen: Seen) -> None:
    """Move the time shown on by one step of play; stop at now."""
    step = timedelta(minutes=state.get(Key.PLAY_STEP))
    further = seen.moment.at + step
    if further >= seen.now:
        state.show_now()
    else:
        state.show_time(further, seen.now, hindsight=seen.moment.view is View.HINDSIGHT)
