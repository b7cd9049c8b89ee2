"""A time typed into a form; left empty it is the moment the record is made.

The field stays empty until somebody types: a time put there when the page was drawn would be a
wrong one by the time the form is sent, and one that followed the clock would change under the
hand of whoever types it.
"""

from __future__ import annotations

from datetime import datetime

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from layers.earth.clock import dtg, parse_time


def field(label: str, now: datetime, key: str, *, place: DeltaGenerator | None = None) -> str:
    """Show the field and return what was typed; its help says how a time is written.

    Parameters
    ----------
    label : str
        Names the time, and stands in a refusal.
    now : datetime
        The moment given as the example.
    key : str
        The field's own key; what was typed is kept under it.
    place : DeltaGenerator, optional
        The column it stands in.
    """
    told = f"Left empty it is the moment you record it; or as in {dtg(now)}"
    return (place or st).text_input(label, key=key, placeholder="now", help=told) or ""


def read(typed: str, label: str, now: datetime) -> datetime:
    """Return the time typed, or ``now`` when nothing was.

    Raises
    ------
    InputError
        What was typed is no time, or has no zone.
    """
    return parse_time(typed, label) if typed.strip() else now
