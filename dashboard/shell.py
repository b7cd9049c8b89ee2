"""What is on every page: the style, the line on top, the way to the others."""

from __future__ import annotations

from html import escape

import streamlit as st

from dashboard import access, follow, looks, own_words, settings, state
from dashboard.away.link import remembered_name
from dashboard.chart import style
from dashboard.door import uploads
from dashboard.page_table import PLOT, TABLE, PageLink
from dashboard.panels import events, health, layer, log_in, lost, sound, strip
from dashboard.panels.plot import time_bar
from dashboard.panels.watch import changed, exercise_clock, on_watch
from dashboard.tools import heard
from dashboard.view import Seen, look, look_again
from layers.earth.errors import JournalAway, JournalError, MusterplotError
from layers.scene.ink import INKS


def _page(link: PageLink) -> st.Page:
    if link.file.exists():
        return st.Page(link.file, title=link.title, url_path=link.address)

    def generic() -> None:
        layer.page(link.address)

    return st.Page(generic, title=link.title, url_path=link.address)


def run() -> None:
    """Run the page that the address names, under the line on top."""
    uploads.begin_page()
    state.read_query()
    own_words.take_over()
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
            seen = _look(wall=chosen.title in bare)
    except JournalAway:
        _without(chosen.title in bare, list(pages.values()))
        return
    except MusterplotError as reason:
        own_words.say(reason)
        return
    try:
        looks.see(seen, wall=chosen.title in bare)
        lost.show(seen)
        if chosen.title not in bare:
            strip.show(seen)
            sound.listen(seen)
            _pages(list(pages.values()), seen)
            if seen.writable:
                with st.container(key="heard"):
                    heard.show(seen)
            with st.container(key="time"):
                time_bar.show(seen)
            exercise_clock.ask(seen)
        chosen.run()
    except Exception as fault:  # said in our own words, and the page goes on by itself
        own_words.say(fault)
        follow.changes(seen)
    uploads.end_page()
    state.write_query()


def _look(*, wall: bool) -> Seen:
    """Return what this viewer sees; what was last seen while the journal can not be read.

    The strip says what is wrong; a form that is half filled in stands as it was.
    """
    kept = f"last_seen_{wall}"
    try:
        seen = look(wall=wall)
    except JournalAway:
        raise  # `look` stands on what was seen last, whoever saw it
    except JournalError:
        held: Seen | None = st.session_state.get(kept)
        if held is None or held.actor != access.actor():
            raise
        seen = look_again(held, wall=wall)
    st.session_state[kept] = seen
    return seen


def _without(bare: bool, pages: list[st.Page]) -> None:
    """Show what is there without the journal: its name, the pages, what is lost."""
    held = remembered_name(settings.data_folder(), settings.journal_key())
    name, exercise = held or ("", False)
    plate = f"EXERCISE {name.removeprefix('Exercise ').upper()}" if exercise else name
    with st.container(key="strip"):
        st.html(
            f'<div class="mp-strip"><div class="cell ex"><span>{escape(plate)}</span></div></div>'
        )
    if not bare:
        with st.container(key="pages", horizontal=True, gap="small"):
            for page in pages:
                st.page_link(page, label=page.title)
    lost.alone()
    follow.heal()


def _pages(pages: list[st.Page], seen: Seen) -> None:
    """Show the names of all pages in one line, and who is logged in."""
    with st.container(key="pages", horizontal=True, gap="small", vertical_alignment="center"):
        for page in pages:
            st.page_link(page, label=page.title)
        log_in.show(seen)
        on_watch.show(seen)
        changed.show(seen)
        standing = len(events.untaken(seen.watch))
        found = len(health.altered(seen)) if seen.writable else 0
        if not seen.writable:  # how many there are stands on the strip, which changes by itself
            with st.popover("Alarms", width="content"):
                events.alarms(seen, seen.watch, most=standing)
        elif standing + found:
            with st.popover(f"Alarms: {standing + found}", width="content"):
                if found:
                    events.altered(seen)
                events.alarms(seen, seen.watch, key="pages_take", most=standing)
