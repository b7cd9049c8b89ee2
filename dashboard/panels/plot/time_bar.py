"""The time shown, at the foot of every page: a field to type it, a slider, and which knowledge."""

from __future__ import annotations

import math
import time
from datetime import datetime, timedelta
from html import escape

import streamlit as st

from dashboard import state
from dashboard.cache import opened
from dashboard.state import Key
from dashboard.view import Seen
from layers.contract import View
from layers.earth.clock import day_hhmm
from layers.earth.errors import InputError, JournalAway
from layers.earth.said.times import told_time

AHEAD = timedelta(hours=48)
STEP = timedelta(minutes=5)
SLIDER, TYPED, REFUSED, HOW = "time_slider", "time_typed", "time_refused", "time_how"
FROM, PUT_IN, MOST_PUT_IN = "time_slider_from", "time_put_in", 50
MODES = {View.KNOWN: "as known", View.HINDSIGHT: "in hindsight", View.EXPECTED: "expected"}


def first_time(seen: Seen) -> datetime:
    """Return the earliest time the slider reaches: the first record, or a day ago."""
    first = opened.first_record_at(seen.revision)
    return min(first or seen.now - timedelta(days=1), seen.now - timedelta(hours=1))


def show(seen: Seen) -> None:
    """Show Now, the time as a field, the slider, play, and the three ways of knowing, in a row."""
    earliest, latest = first_time(seen), _full_hour(seen.now) + AHEAD
    back, typed, slider, play, how = st.columns(
        [0.9, 1.3, 8.2, 0.9, 3.6], vertical_alignment="center"
    )
    moved_end = st.session_state.get(FROM, earliest) != earliest
    st.session_state[FROM] = earliest
    with back:
        st.button("Now", key="now", on_click=state.show_now, width="stretch")
    with typed:
        # what was refused stays to be mended; else the field says the time that is shown
        if not st.session_state.get(REFUSED):
            _put_in(TYPED, _said(seen), seen.follows_now)
        st.text_input(
            "Time shown, as 160640Z or 0640",
            key=TYPED,
            on_change=_typed,
            args=(seen.now, latest),
            label_visibility="collapsed",
        )
        if refused := st.session_state.get(REFUSED):
            st.html(f'<div class="mp-refused" role="alert">{escape(refused)}</div>')
    with slider:
        # The key stays and the value is put in: the focus stays under the hand, and a move made
        # while the minute changes is not lost, since it is taken up by what was shown then.
        _put_in(SLIDER, min(max(seen.moment.at, earliest), latest), seen.follows_now)
        st.slider(
            "Time shown",
            min_value=earliest,
            max_value=latest,
            step=STEP,
            format="DD HHmm[Z]",
            key=SLIDER,
            on_change=_slid,
            args=(seen.now, seen.moment.at if moved_end and seen.follows_now else None),
            label_visibility="collapsed",
        )
    with play:
        playing = state.get(Key.PLAYING)
        st.button(
            "Stop" if playing else "Play",
            key="play",
            on_click=_play,
            args=(earliest, seen.now, seen.follows_now),
            width="stretch",
        )
    with how:
        st.session_state[HOW] = MODES[seen.moment.view]
        st.segmented_control(
            "Which knowledge is shown",
            tuple(MODES.values()),
            key=HOW,
            on_change=_how,
            args=(seen.moment.at, seen.now),
            label_visibility="collapsed",
        )


def _said(seen: Seen) -> str:
    """Return the time shown in words: a reader's page is not run again as now goes on."""
    return "now" if seen.follows_now and not seen.writable else day_hhmm(seen.moment.at)


def _now(stood: datetime) -> datetime:
    """Return now; the page may have been run long before somebody moves a control on it."""
    try:
        return max(stood, opened.present_or_last().now)
    except JournalAway:
        return stood


def _put_in(key: str, value: object, follows_now: bool) -> None:
    """Put a value into a control, and remember it while now is followed.

    A browser that has not yet drawn the newest value sends the one before it with the next press
    of anything; the framework takes that for a move of the control. Without this the viewer of
    now would be left at a past time without having asked for it.
    """
    if follows_now:
        before = st.session_state.setdefault(PUT_IN, {}).setdefault(key, {})
        before[value] = time.monotonic()
        for old in list(before)[:-MOST_PUT_IN]:
            del before[old]
    st.session_state[key] = value


def _nobody_moved(key: str, within_s: float = math.inf) -> bool:
    """Return whether a control holds what was put into it as now: that is nobody's move."""
    before = st.session_state.get(PUT_IN, {}).get(key, {})
    put = before.get(st.session_state[key])
    return put is not None and time.monotonic() - put < within_s


def _play(earliest: datetime, now: datetime, follows_now: bool) -> None:
    playing = state.get(Key.PLAYING)
    state.put(Key.PLAYING, not playing)
    if not playing and follows_now:
        state.show_time(earliest, _now(now), hindsight=False)


def _slid(now: datetime, stood_at: datetime | None) -> None:
    """Show the time that the slider was moved to.

    A slider whose ends change (the first record is earlier than any before) puts its value on a
    step by itself; that is nobody's move, and who follows now goes on following it.
    """
    st.session_state[REFUSED] = ""
    if stood_at is not None and abs(st.session_state[SLIDER] - stood_at) < STEP:
        return
    if _nobody_moved(SLIDER):
        return
    state.show_time(st.session_state[SLIDER], _now(now), hindsight=_looking_back())


def _typed(now: datetime, latest: datetime) -> None:
    """Show the time that was typed; what is not one stays in the field with what is accepted."""
    text, now = str(st.session_state[TYPED]).strip(), _now(now)
    st.session_state[REFUSED] = ""
    if _nobody_moved(TYPED, within_s=10.0):  # an older minute may be meant by who types it
        return
    if not text or text.lower() == "now":
        state.show_now()
        return
    try:
        at = told_time(text, now, "time shown")
    except InputError as reason:
        st.session_state[REFUSED] = str(reason)
        return
    if at > latest:
        st.session_state[REFUSED] = f"{text} is later than the plan and forecast are shown"
        return
    state.show_time(at, now, hindsight=_looking_back())


def _how(at: datetime, now: datetime) -> None:
    """Show the same time by another knowledge; what is expected lies ahead of now."""
    chosen, now = st.session_state[HOW], _now(now)
    if chosen == MODES[View.EXPECTED]:
        state.show_time(at if at > now else now + timedelta(hours=1), now, hindsight=False)
    elif at >= now:
        state.show_now()
    else:
        state.show_time(at, now, hindsight=chosen == MODES[View.HINDSIGHT])


def _looking_back() -> bool:
    return st.session_state.get(HOW) == MODES[View.HINDSIGHT]


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
