"""Small parts of a form: a field begun, picked or pressed."""

from __future__ import annotations

from functools import partial
from typing import Any

import streamlit as st

from dashboard.tools.forms.choices import Offered
from dashboard.tools.forms.correcting import number_text
from dashboard.tools.forms.fields import Field

WHOLE = "the form as a whole"
PRESSED = 6  # names offered below a field
WIDE = ("rows", "lines", "numbers", "positions", "position")


def _css(name: str) -> str:
    return "".join(letter if letter.isalnum() else "_" for letter in name)


def _begin(field: Field, given: Any, offers: bool) -> Any:
    """Return what stands in a field when the form opens, as its widget wants it."""
    if field.sort == "switch":
        return bool(field.default if given is None else given)
    if field.sort == "choice":
        return None if given in (None, "") else str(given)
    if field.sort == "lines":
        lines = [str(each) for each in given or ()]
        return lines if offers else "\n".join(lines)
    if given is None:
        return ""
    return given if isinstance(given, str) else number_text(field, given)


def _pick(label: str, some: Offered, key: str, hint: str) -> Any:
    """Draw a name that may be one of those there are: typed, or pressed below.

    A list that takes a new name forgets what was typed in it without Enter; a field does not.
    """
    if some.open:
        typed = st.text_input(label, key=key, placeholder=hint)
        if not typed:
            st.pills(
                label, some.values[:PRESSED], key=f"{key}.press", label_visibility="collapsed",
                on_change=partial(_press, key),
            )  # fmt: skip
        return typed
    values = list(some.values)
    now = st.session_state.get(key)
    if now == "":
        st.session_state[key] = None
    elif now is not None and now not in values:
        values.append(now)
    return st.selectbox(
        label, values, key=key, format_func=some.label, placeholder=hint or "choose"
    )


def _press(key: str) -> None:
    """Put a name that was pressed into its field."""
    st.session_state[key] = st.session_state.get(f"{key}.press") or ""
