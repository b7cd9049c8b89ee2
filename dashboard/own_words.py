"""A fault of a page in our own words; the framework's message is never seen.

The one other place, beside `waking`, that uses what Streamlit does not promise; its version is
pinned.
"""

from __future__ import annotations

import logging
from html import escape

import streamlit as st
from streamlit import runtime
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard.away.link import LINK
from layers.earth.errors import JournalAway, MusterplotError

log = logging.getLogger(__name__)
AWAY = "This part needs the journal, which does not answer; it comes back by itself."
FAULT = (
    "This part of the page can not be shown: a fault of the program, written to the server's own "
    "messages. What is recorded is safe, and the other pages go on."
)


def words(fault: Exception) -> str:
    """Return what to say of a fault."""
    if isinstance(fault, JournalAway):
        return AWAY
    return str(fault) if isinstance(fault, MusterplotError) else FAULT


def say(fault: Exception) -> bool:
    """Say a fault where the page stands; return True: nothing else is to be said."""
    if isinstance(fault, JournalAway):
        LINK.failed(fault)
    elif not isinstance(fault, MusterplotError):
        if not runtime.exists():
            raise fault  # a page under test: nobody is to be spared it
        log.error("a page failed", exc_info=fault)
    st.html(f'<div class="mp-fault" role="alert">! {escape(words(fault))}</div>')
    return True


def take_over() -> None:
    """Have what a fragment or a press raises in this session said by `say`."""
    context = get_script_run_ctx()
    if context is None or not runtime.exists():
        return  # a page under test
    context.on_script_error = say
    held = runtime.get_instance().get_app_session(context.session_id)
    if held is not None:
        held._on_script_error = say
