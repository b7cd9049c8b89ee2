"""What is on every page: the page table, the style, the line on top, the way to the others."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from dashboard import state
from dashboard.chart import style
from dashboard.panels import header, layer, log_in
from dashboard.panels.watch import exercise_clock
from dashboard.view import Seen, look
from layers import catalogue
from layers.catalogue import PAGES
from layers.earth.errors import MusterplotError
from layers.scene.ink import INKS

SCREENS = Path(__file__).parent / "screens"


@dataclass(frozen=True, slots=True)
class Link:
    """One page: title, address, its place among the links."""

    title: str
    address: str
    rank: int
    bare: bool = False  # no line on top and no links: the wall

    @property
    def file(self) -> Path:
        """Where it is written; a layer's page need not have a file."""
        return SCREENS / f"{self.address}.py"


PLOT = Link("Plot", "plot", 0)
OWN = (
    PLOT,
    Link("Watch", "watch", 35),
    Link("Log", "log", 40),
    Link("Feeds", "feeds", 45),
    Link("Brief", "brief", 50),
    Link("Wall", "wall", 55, bare=True),
)
TABLE: tuple[Link, ...] = tuple(
    sorted(
        (*OWN, *(Link(page.title, page.address, page.rank) for page in PAGES)),
        key=lambda link: link.rank,
    )
)


def check() -> None:
    """Refuse a catalogue with layers that clash, with each other or with a page of our own."""
    catalogue.check(taken=[link.address for link in OWN])


def _page(link: Link) -> st.Page:
    if link.file.exists():
        return st.Page(link.file, title=link.title, url_path=link.address)

    def generic() -> None:
        layer.page(link.address)

    return st.Page(generic, title=link.title, url_path=link.address)


def run() -> None:
    """Run the page that the address names, under the line on top."""
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
