"""The sound of alarms: on the wall and the watch's pages, until each alarm is acknowledged.

The browser makes it (`sound.js`): nothing is fetched. A browser lets a page sound only after a
key or a click on it; until then the page says so. It is tried at each handover.
"""

from __future__ import annotations

from functools import cache as kept_for_good
from pathlib import Path

import streamlit as st

from dashboard.panels import events
from dashboard.view import Seen


def told(seen: Seen) -> str:
    """Return how many alarms nobody has acknowledged, as an attribute of what tells them.

    It stands on strip and foot, which change in place. Of another time than now none sounds.
    """
    standing = len(events.untaken(seen.watch)) if seen.follows_now else 0
    return f' data-sounds="{standing}"'


def listen(seen: Seen, *, wall: bool = False) -> None:
    """Put the sound on a page of the watch, or on the wall; a reader's page is silent."""
    if wall or seen.writable:
        st.html(
            f"<div hidden data-may-sound></div><script>{_script()}</script>",
            unsafe_allow_javascript=True,
        )


def trial(seen: Seen) -> None:
    """Show the press that sounds it once, for the handover."""
    if not seen.writable:
        return
    with st.container(key="try_sound"):
        tried = st.button("Try the sound of alarms", key="sound_tried")
    if tried:
        st.caption("Two falling tones, twice. Not heard: turn this computer's sound up.")


@kept_for_good
def _script() -> str:
    return Path(__file__).with_name("sound.js").read_text()
