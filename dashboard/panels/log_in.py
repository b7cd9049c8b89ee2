"""Logging in and out, where the server has a log-in; who is logged in is said beside it."""

from __future__ import annotations

import streamlit as st

from dashboard import access, settings
from dashboard.door.log_ins import log_ins
from dashboard.panels.text import line, words
from dashboard.view import Seen
from layers.earth.clock import dtg


def show(seen: Seen) -> None:
    """Show who is logged in and the way in or out; nothing where no log-in is set up."""
    if not access.log_in_is_set_up():
        return
    if st.user.is_logged_in:
        role = "watch" if seen.writable else "reader"
        via = "" if seen.actor.via == "log-in" else f", {seen.actor.via}"
        st.html(words(f"{seen.actor.name} ({role}{via})", "mp-who"), width="content")
        st.button("Log out", on_click=st.logout)
        if seen.writable:
            _others()
    else:
        st.button("Log in", on_click=st.login)


def _others() -> None:
    """Show who is logged in, and end a log-in: for every copy of its cookie."""
    kept = log_ins(settings.data_folder())
    held = kept.now()
    with st.popover(f"Logged in: {len(held)}", width="content"):
        for one in held:
            said, act = st.columns([3, 1], vertical_alignment="center")
            since = f"since {dtg(one.first)}, last seen {dtg(one.last)}"
            said.html(line(words(one.name), words(f"{one.address}, {one.role}, {since}")))
            act.button("End", key=f"end_{one.key[:16]}", on_click=kept.end, args=(one.key,))
