"""Recording the area, who is under water, and what was stopped."""

from __future__ import annotations

import streamlit as st

from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS

KINDS_HERE = ("kept_clear.below", "kept_clear.stop", "kept_clear.area")


def show(seen: Seen) -> None:
    """Show one form for the chosen kind."""
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    kind = st.selectbox(
        "What is reported", KINDS_HERE, format_func=lambda name: KINDS[name].title,
        key="kept_clear.kind",
    )  # fmt: skip
    record_form.show(seen, KINDS[kind], key=kind)
