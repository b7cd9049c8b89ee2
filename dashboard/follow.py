"""Following the journal: a page is run again when there is something new for it to show.

The web server wakes a viewer (`dashboard.waking`); it sends nothing to the browser until then.
Should a waking be lost, a small fragment with the browser's own timer asks now and then.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import state
from dashboard.away.link import LINK
from dashboard.cache import opened, pictures
from dashboard.panels.plot import time_bar
from dashboard.state import Key
from dashboard.view import Seen
from dashboard.waking import MINUTE, fall_asleep, wait_for_journal
from layers.earth.errors import JournalAway

ASK = timedelta(seconds=75)  # longer than a minute: while waking works, no timer ever runs out
HEAL = timedelta(seconds=5)
PLAY = timedelta(seconds=1)


def changes(seen: Seen) -> None:
    """Rerun the page when there is something new to show, or the next step of play is due."""
    if state.get(Key.PLAYING):
        _play(seen)
    else:
        state.put(Key.SHOWN, False)
        _follow(seen)


def heal() -> None:
    """Ask now and then whether the journal is back; nothing of it was ever seen here."""
    wait_for_journal()

    @st.fragment(run_every=HEAL)
    def ask() -> None:
        if LINK.ask(opened.is_back) is None and state.get(Key.SHOWN):
            st.rerun()
        state.put(Key.SHOWN, True)

    state.put(Key.SHOWN, False)
    ask()


@st.fragment(run_every=PLAY)
def _play(seen: Seen) -> None:
    if state.get(Key.PLAY_TICK):
        state.put(Key.PLAY_TICK, False)
        time_bar.advance(seen)
        st.rerun()
    state.put(Key.PLAY_TICK, True)


@st.fragment(run_every=ASK)
def _follow(seen: Seen) -> None:
    try:
        complete = pictures.is_complete(seen.moment, seen.picture.upto_seq, seen.release)
        due = seen.lost is not None or _is_due(seen, complete)
    except JournalAway as reason:
        LINK.failed(reason)
        complete, due = True, seen.lost is None
    if state.get(Key.SHOWN) and due:
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
    journal = opened.book()
    new = journal.revision() != seen.revision
    return seen.follows_now and (new or journal.now() - seen.moment.at >= MINUTE)
