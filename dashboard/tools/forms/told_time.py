"""A time typed into a form; left empty it is the moment the record is made.

The field stays empty until somebody types: a time put there when the page was drawn would be a
wrong one by the time the form is sent, and one that followed the clock would change under the
hand of whoever types it.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from layers.earth.clock import dtg
from layers.earth.said import times as quantity_time


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
    told = (
        "Left empty it is the moment you record it; or 1044, 281044Z, -20 min, yesterday 1044, "
        f"{dtg(now)}"
    )
    return (place or st).text_input(label, key=key, placeholder="now", help=told) or ""


def read(
    typed: str, label: str, now: datetime, *, ahead: timedelta | None = quantity_time.SLACK
) -> datetime:
    """Return the time typed, or ``now`` when nothing was.

    Parameters
    ----------
    ahead : timedelta, optional
        How far it may lie ahead of now; None for what is planned.

    Raises
    ------
    InputError
        What was typed is no time, or lies ahead where it can not.
    """
    return quantity_time.told_time(typed, now, label, ahead=ahead)
