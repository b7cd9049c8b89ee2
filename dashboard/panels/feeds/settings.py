"""Setting up a feed: a name, where it comes from, and how often it is asked."""

from __future__ import annotations

import streamlit as st
from pydantic import ValidationError

from dashboard import settings
from dashboard.panels.text import panel, words
from dashboard.view import Seen
from layers.earth.errors import InputError
from layers.feeds.settings import ACCEPTED, DROP_FOLDER, FeedSetting, read_settings, write_settings
from layers.ingest import all_feeds
from layers.journal.words.models import refused

ANY = "told from the content"


def show(seen: Seen) -> None:
    """Show the form and the way to take a feed out; the reader follows within a second."""
    folder = settings.incident_folder()
    if not seen.writable:
        st.caption("Reading only: the watch sets up feeds.")
        return
    panel(words(f"Files put into {folder / DROP_FOLDER} are read by themselves.", "mp-quiet"))
    try:
        held = [s for s in read_settings(folder) if s.address != str(folder / DROP_FOLDER)]
    except InputError as reason:
        st.error(str(reason))
        return
    _add(held)
    _take_out(held)


def _add(held: list[FeedSetting]) -> None:
    with st.form("feeds_add", clear_on_submit=False):
        name = st.text_input("Name", max_chars=80, placeholder="buoy 62X07")
        address = st.text_input("From", max_chars=1_000, help=f"Accepted: {ACCEPTED}")
        every = st.number_input("Ask every (s)", min_value=1, max_value=86_400, value=300)
        titles = {feed.key: feed.title for feed in all_feeds()}
        kind = st.selectbox(
            "Kind",
            [ANY, *titles],
            format_func=lambda key: titles.get(key, str(key)),
            help="Needed only where the content does not tell it, as for older gear whose "
            "NMEA lines carry no checksum",
        )
        if not st.form_submit_button("Add the feed"):
            return
    if any(setting.name == name for setting in held):
        st.error(f"A feed is called {name!r} already; accepted: another name")
        return
    try:
        made = FeedSetting.model_validate(
            {"name": name, "from": address.strip(), "every_s": float(every),
             "format": None if kind == ANY else kind}
        )  # fmt: skip
        write_settings(settings.incident_folder(), [*held, made])
    except ValidationError as fault:
        st.error(str(refused(fault)))
    except OSError as fault:
        st.error(f"The settings cannot be written: {fault.strerror}")
    else:
        st.success(f"{name} is set up; it is asked within a second or two.")


def _take_out(held: list[FeedSetting]) -> None:
    if not held:
        return
    left, right = st.columns([3, 1], vertical_alignment="bottom")
    name = left.selectbox("Set up", [setting.name for setting in held], key="feeds_take_out")
    if right.button("Take it out", key="feeds_take_out_go"):
        write_settings(settings.incident_folder(), [s for s in held if s.name != name])
        st.rerun()
