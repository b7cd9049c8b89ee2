"""What is on every page: the style, the line on top, the way to the others."""

from __future__ import annotations

import streamlit as st

from dashboard import state
from dashboard.chart import style
from dashboard.door import uploads
from dashboard.page_table import PLOT, TABLE, Link
from dashboard.panels import events, layer, log_in, strip
from dashboard.panels.plot import time_bar
from dashboard.panels.watch import exercise_clock
from dashboard.tools import heard
from dashboard.view import Seen, look
from layers.earth.errors import MusterplotError
from layers.scene.ink import INKS


def _page(link: Link) -> st.Page:
    if link.file.exists():
        return st.Page(link.file, title=link.title, url_path=link.address)

    def generic() -> None:
        layer.page(link.address)

    return st.Page(generic, title=link.title, url_path=link.address)


def run() -> None:
    """Run the page that the address names, under the line on top."""
    uploads.begin_page()
    state.read_query()
    style.apply(INKS[state.get(state.Key.INK)])
    pages = {link.address: _page(link) for link in TABLE}
    # Streamlit serves its default page at "/" alone: the plot stands there and at its own address
    front = st.Page(PLOT.file, title=PLOT.title, url_path="front", default=True)
    chosen = st.navigation([front, *pages.values()], position="hidden")
    if chosen.url_path == front.url_path:
        pages[PLOT.address] = front
    bare = {link.title for link in TABLE if link.bare}
    try:
        # the first picture after a start can take seconds; the pages then find it kept
        with st.spinner("Working out the picture …", show_time=True):
            seen = look(wall=chosen.title in bare)
        if chosen.title not in bare:
            strip.show(seen)
            _pages(list(pages.values()), seen)
            if seen.writable:
                with st.container(key="heard"):
                    heard.show(seen)
            with st.container(key="time"):
                time_bar.show(seen)
            exercise_clock.ask(seen)
        chosen.run()
    except MusterplotError as reason:
        st.error(str(reason))
    state.write_query()


def _pages(pages: list[st.Page], seen: Seen) -> None:
    """Show the names of all pages in one line, and who is logged in."""
    with st.container(key="pages", horizontal=True, gap="small", vertical_alignment="center"):
        for page in pages:
            st.page_link(page, label=page.title)
        log_in.show(seen)
        standing = len(events.untaken(seen.watch))
        if standing:
            with st.popover(f"Alarms: {standing}", width="content"):
                events.alarms(seen, seen.watch, key="pages_take", most=standing)
