"""The feeds of the other rooms: their age and trouble, and the press that takes one over."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

import streamlit as st

from dashboard import settings
from dashboard.cache import opened
from dashboard.cache.lately import Lately
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.send import send
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.earth.clock import duration_words
from layers.earth.errors import JournalAway, MusterplotError
from layers.feeds.rooms import FORGOTTEN_AFTER, RoomFeeds, forget, take_over, this_server, told
from layers.feeds.settings import FeedSetting, read_settings
from layers.feeds.state import FeedState
from layers.journal.record import Draft, form_identity

ASK_S = 4.0  # between two looks, however many viewers there are
Row = Callable[[FeedState, datetime], Sequence[object]]
SAID = "feeds.rooms.said"


@st.cache_resource(show_spinner=False)
def _told() -> Lately[int, list[RoomFeeds]]:
    return Lately(lambda _tick: told(opened.book()), 2)


def others() -> list[RoomFeeds]:
    """Return what the other servers' feed readers said last, at most some seconds old."""
    held = _told()
    try:
        found = held(int(time.monotonic() / ASK_S))
    except JournalAway:  # what was heard last stands, as everything else does
        found = held.newest() or []
    return [each for each in found if each.server != this_server()]


def read_here() -> set[str]:
    """Return the addresses that are read by this server."""
    try:
        return {each.address for each in read_settings(settings.incident_folder())}
    except MusterplotError:
        return set()


def sentences() -> list[str]:
    """Return which rooms' feeds nobody reads any more, a sentence each."""
    here = read_here()
    found = []
    for room in others():
        left = [s.name for s in room.settings if s.on and s.address not in here]
        if room.gone and left and not room.ended and room.age < FORGOTTEN_AFTER:
            found.append(
                f"the feed reader of {room.where} is gone, last heard {age_words(room.age)} ago: "
                f"nobody reads {', '.join(left[:4])}"
            )
    return found


def age_words(age: timedelta) -> str:
    """Return an age to the second while it is short."""
    seconds = age.total_seconds()
    return f"{seconds:.0f} s" if seconds < 120.0 else duration_words(age)


def show(seen: Seen, row: Row, heads: tuple[str, ...]) -> None:
    """Show each other room's feeds; ``row(state, now)`` gives a feed's cells."""
    here = read_here()
    for room in others():
        state = "read there"
        if room.ended:
            state = f"ended {age_words(room.age)} ago: read by nobody there"
        elif room.gone:
            state = f"GONE, last heard {age_words(room.age)} ago: read by nobody there"
        said = [line(f"<b>{words(f'{room.where}: {state}')}</b>")]
        if room.trouble:
            said.append(line(words(room.trouble)))
        cells = [row(each, seen.now) for each in room.states]
        panel("".join(said) + (table(cells, heads, figures=(4, 5)) if cells else ""))
        if not seen.writable:
            continue
        for number, setting in enumerate(room.settings):
            if setting.address in here:
                st.caption(f"{setting.name} is read here too.")
                continue
            st.button(
                f"Read {setting.name} here", key=f"feeds_take_{room.server}_{number}",
                on_click=_take, args=(seen, room, setting),
            )  # fmt: skip
        if room.gone:
            st.button(
                f"Take {room.where} off the list", key=f"feeds_forget_{room.server}",
                on_click=forget, args=(opened.pen(), room.server),
            )  # fmt: skip
    if told_ := st.session_state.pop(SAID, ""):
        st.info(told_)


@unbroken
def _take(seen: Seen, room: RoomFeeds, setting: FeedSetting) -> None:
    try:
        made = take_over(settings.incident_folder(), setting)
        now = seen.pen.now()
        text = f"feed {made.name} of {room.where} is read here from now on"
        draft = Draft(
            kind="watch.note", payload={"text": text}, valid_at=now, heard_at=now,
            source=seen.actor.name, identity=form_identity(uuid.uuid4().hex),
        )  # fmt: skip
        send(seen, [draft])
    except (MusterplotError, OSError) as reason:
        st.session_state[SAID] = str(reason)
        return
    comes = ""
    if setting.way == "udp":
        comes = "; what sends it must send to this computer too"
    elif setting.way == "path":
        comes = "; the file or folder must be reached from this computer"
    st.session_state[SAID] = f"{made.name} is read here within a second or two{comes}."
