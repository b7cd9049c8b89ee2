"""Following the journal: a cheap question every two seconds, a rerun only when it is answered.

A quiet viewer costs one small query; the fragment sends nothing to the browser while nothing
has changed.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import cache, state
from dashboard.panels import time_bar
from dashboard.state import Key
from dashboard.view import Seen

POLL = timedelta(seconds=2)
PLAY = timedelta(seconds=1)
MINUTE = timedelta(minutes=1)
LOOKS = 1  # that a viewer waits for the computing process, once it knows of something new


def changes(seen: Seen) -> None:
    """Rerun the page when there is something new to show, or the next step of play is due."""
    if state.get(Key.PLAYING):
        _play(seen)
    else:
        state.put(Key.REVISION, cache.book().revision())
        moment = seen.moment
        state.put(Key.WAITING, not cache.is_complete(moment.as_of, moment.at))
        _poll(seen)


@st.fragment(run_every=PLAY)
def _play(seen: Seen) -> None:
    if state.get(Key.PLAY_TICK):
        state.put(Key.PLAY_TICK, False)
        time_bar.advance(seen)
        st.rerun()
    state.put(Key.PLAY_TICK, True)


@st.fragment(run_every=POLL)
def _poll(seen: Seen) -> None:
    if state.get(Key.WAITING) and cache.is_complete(seen.moment.as_of, seen.moment.at):
        st.rerun()
    if not seen.follows_now:
        return
    journal = cache.book()
    new = journal.revision() != state.get(Key.REVISION)
    now = journal.now()
    if not (new or now - seen.now >= MINUTE):
        state.put(Key.NEWS_AT, None)
        return
    # the computing process may be busy with a slow layer: two looks later this one helps itself
    looks = (state.get(Key.NEWS_AT) or 0) + 1
    state.put(Key.NEWS_AT, looks)
    if looks > LOOKS or cache.is_ready(now, now):
        state.put(Key.NEWS_AT, None)
        st.rerun()
