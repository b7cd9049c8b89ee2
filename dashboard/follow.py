"""Following the journal: a page is run again when there is something new for it to show.

The web server wakes a viewer (`dashboard.waking`); it sends nothing to the browser until then.
Should a waking be lost, a small fragment with the browser's own timer asks now and then.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import cache, state
from dashboard.panels.plot import time_bar
from dashboard.state import Key
from dashboard.view import Seen
from dashboard.waking import MINUTE, fall_asleep

ASK = timedelta(seconds=75)  # longer than a minute: while waking works, no timer ever runs out
PLAY = timedelta(seconds=1)


def changes(seen: Seen) -> None:
    """Rerun the page when there is something new to show, or the next step of play is due."""
    if state.get(Key.PLAYING):
        _play(seen)
    else:
        state.put(Key.SHOWN, False)
        _follow(seen)


@st.fragment(run_every=PLAY)
def _play(seen: Seen) -> None:
    if state.get(Key.PLAY_TICK):
        state.put(Key.PLAY_TICK, False)
        time_bar.advance(seen)
        st.rerun()
    state.put(Key.PLAY_TICK, True)


@st.fragment(run_every=ASK)
def _follow(seen: Seen) -> None:
    complete = cache.is_complete(seen.moment, seen.picture.upto_seq, seen.release)
    if state.get(Key.SHOWN) and _is_due(seen, complete):
        st.rerun()
    incomplete = state.get(Key.WAITING) if state.get(Key.SHOWN) else not complete
    state.put(Key.WAITING, incomplete)
    state.put(Key.SHOWN, True)
    # what was recorded while the page ran counts as new
    own = seen.picture.upto_seq < state.get(Key.RECORDED)
    fall_asleep(seen, incomplete=incomplete, own=own)


def _is_due(seen: Seen, complete: bool) -> bool:
    if state.get(Key.WAITING) and complete:
        return True
    journal = cache.book()
    new = journal.revision() != seen.revision
    return seen.follows_now and (new or journal.now() - seen.moment.at >= MINUTE)
