"""What is on every page: the page table, the style, the line on top, the way to the others."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from dashboard import state
from dashboard.chart import style
from dashboard.panels import header, log_in
from dashboard.panels.watch import exercise_clock
from dashboard.view import Seen, look
from layers.earth.errors import MusterplotError
from layers.scene.ink import INKS

PAGES = Path(__file__).parent / "screens"


@dataclass(frozen=True, slots=True)
class Entry:
    """One page: file, title, address."""

    file: str
    title: str
    address: str
    bare: bool = False  # no line on top and no links: the wall


TABLE: tuple[Entry, ...] = (
    Entry("plot.py", "Plot", "plot"),
    Entry("survivors.py", "Survivors", "survivors"),
    Entry("lifts.py", "Lifts", "lifts"),
    Entry("search.py", "Search", "search"),
    Entry("response.py", "Response", "response"),
    Entry("weather.py", "Weather", "weather"),
    Entry("seabed.py", "Seabed", "seabed"),
    Entry("watch.py", "Watch", "watch"),
    Entry("log.py", "Log", "log"),
    Entry("feeds.py", "Feeds", "feeds"),
    Entry("brief.py", "Brief", "brief"),
    Entry("wall.py", "Wall", "wall", bare=True),
)


def run() -> None:
    """Run the page that the address names, under the line on top."""
    state.read_query()
    style.apply(INKS[state.get(state.Key.INK)])
    pages = {
        entry.address: st.Page(PAGES / entry.file, title=entry.title, url_path=entry.address)
        for entry in TABLE
        if (PAGES / entry.file).exists()
    }
    # Streamlit serves its default page at "/" alone: the plot stands there and at its own address
    front = st.Page(PAGES / TABLE[0].file, title=TABLE[0].title, url_path="front", default=True)
    chosen = st.navigation([front, *pages.values()], position="hidden")
    if chosen.url_path == front.url_path:
        pages[TABLE[0].address] = front
    bare = {entry.title for entry in TABLE if entry.bare}
    try:
        # the first picture after a start can take seconds; the pages then find it kept
        with st.spinner("Working out the picture …", show_time=True):
            seen = look(wall=chosen.title in bare)
        if chosen.title not in bare:
            _top(list(pages.values()), seen)
            exercise_clock.ask(seen)
        chosen.run()
    except MusterplotError as reason:
        st.error(str(reason))
    state.write_query()


def _top(pages: list[st.Page], seen: Seen) -> None:
    line, links = st.columns([1, 1.12], vertical_alignment="center")
    with line:
        header.show(seen)
    with links, st.container(horizontal=True, gap="small", horizontal_alignment="right"):
        for page in pages:
            st.page_link(page, label=page.title)
        log_in.show(seen)
