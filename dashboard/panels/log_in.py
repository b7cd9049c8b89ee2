"""Logging in and out, where the server has a log-in; who is logged in is said beside it."""

from __future__ import annotations

import streamlit as st

from dashboard import access
from dashboard.panels.text import words
from dashboard.view import Seen


def show(seen: Seen) -> None:
    """Show who is logged in and the way in or out; nothing where no log-in is set up."""
    if not access.log_in_is_set_up():
        return
    if st.user.is_logged_in:
        role = "watch" if seen.writable else "reader"
        via = "" if seen.actor.via == "log-in" else f", {seen.actor.via}"
        st.html(words(f"{seen.actor.name} ({role}{via})", "mp-who"), width="content")
        st.button("Log out", on_click=st.logout)
    else:
        st.button("Log in", on_click=st.login)
