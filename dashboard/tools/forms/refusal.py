"""Why a form was refused: said until it is sent again, also when the page is drawn anew.

A page is drawn anew whenever somebody records something; a sentence shown only in the run of the
click would be gone before it is read.
"""

from __future__ import annotations

import streamlit as st


def _key(form: str) -> str:
    return f"{form}.refused"


def show(form: str) -> None:
    """Show why a form was refused, if it was."""
    if said := st.session_state.get(_key(form)):
        st.error(said)


def keep(form: str, reason: Exception) -> None:
    """Show why a form is refused, and go on showing it."""
    st.session_state[_key(form)] = str(reason)
    show(form)


def forget(form: str) -> None:
    """Forget it: what was sent now is recorded."""
    st.session_state.pop(_key(form), None)
