"""Following the journal: what is new is swapped into the page, or the page is run again.

Strip, chart and what else is a part (`dashboard.live`) are swapped in at once. A page that holds
more than that is run again: the web server wakes its viewer (`dashboard.waking`). Should a waking
be lost, a small fragment with the browser's own timer asks now and then.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import state
from dashboard.away.link import LINK
from dashboard.cache import opened, pictures
from dashboard.live import changes as swapping
from dashboard.panels.plot import time_bar
from dashboard.state import Key
from dashboard.view import Seen
from dashboard.waking import MINUTE, fall_asleep, wait_for_journal
from layers.earth.errors import JournalAway

ASK = timedelta(seconds=75)  # longer than a minute: while waking works, no timer ever runs out
HEAL = timedelta(seconds=5)
PLAY = timedelta(seconds=1)


def changes(seen: Seen, *, whole: bool = False, wall: bool = False) -> None:
    """Let the page follow what is new, or play on.

    Parameters
    ----------
    whole : bool
        All that changes on this page is swapped into it: it is not run again for that.
    wall : bool
        The page is seen as the room sees it.
    """
    swapped = not state.get(Key.PLAYING) and swapping.mount(seen, wall=wall)
    if state.get(Key.PLAYING):
        _play(seen)
    elif swapped and whole:
        fall_asleep(seen, incomplete=False, whole=True)
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
