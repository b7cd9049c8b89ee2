"""Change a limit and see the windows move; record it when it is the authority's."""

from __future__ import annotations

from typing import Any

import streamlit as st
from pydantic import ValidationError

from dashboard.panels.text import panel, table, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.sea.draws import sea_draws
from layers.weather.model import Limit
from layers.weather.result import WeatherResult
from layers.weather.say import percent_words
from layers.weather.sea.windows import DRAWS, OperationOutlook, outlook

# field, label, lowest, highest, step
FIELDS = (
    ("duration_h", "Takes (h)", 0.25, 72.0, 0.25),
    ("notice_h", "Notice (h)", 0.0, 72.0, 0.5),
    ("hs_max_m", "Hs at most (m)", 0.0, 20.0, 0.1),
    ("tp_max_s", "Tp at most (s)", 1.0, 30.0, 0.5),
    ("wind_max_kn", "Wind at most (kn)", 0.0, 100.0, 1.0),
    ("current_surface_max_kn", "Surface current at most (kn)", 0.0, 10.0, 0.1),
    ("current_seat_max_kn", "Current at the seat at most (kn)", 0.0, 10.0, 0.1),
    ("visibility_min_nmi", "Visibility at least (nmi)", 0.0, 30.0, 0.5),
)
NEEDED = ("duration_h", "notice_h")


@st.fragment
def show(seen: Seen) -> None:
    """Show the limits of one operation to try, its windows now and as tried, and the form.

    A fragment: a limit moved redraws this panel alone.
    """
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    if result.ahead is None or not result.outlooks:
        lacking = "a forecast" if result.limits else "the limits of an operation"
        panel(words(f"Nothing to try yet: {lacking} is not known."))
        if seen.writable:
            record_form.show(seen, KINDS["weather.limit"], key="weather")
        return
    names = [each.operation for each in result.outlooks]
    chosen = st.selectbox("Operation", names, key="weather.try")
    held = result.outlooks[names.index(chosen)]
    tried = _tried(held.limit)
    if tried is None:
        return
    moved = outlook(tried, result.ahead, result.at, sea_draws(result.ahead, DRAWS))
    panel(table(_compared(held, moved), ("", "In force", "As tried")))
    if tried != held.limit:
        st.caption("Tried on this screen only, until it is recorded below.")
    with st.expander("Record limits of an operation"):
        given = tried.model_dump() | {"set_by": None}
        record_form.show(seen, KINDS["weather.limit"], given=given, key=f"weather.{chosen}")


def _tried(limit: Limit) -> Limit | None:
    """Return the limits as they stand in the fields; None, with the reason, where they cannot."""
    wanted: dict[str, Any] = limit.model_dump()
    columns = st.columns(4)
    for number, (name, label, low, high, step) in enumerate(FIELDS):
        value = wanted[name]
        wanted[name] = columns[number % 4].number_input(
            label,
            min_value=low,
            max_value=high,
            value=value if value is not None else (0.0 if name in NEEDED else None),
            step=step,
            key=f"weather.try.{limit.operation}.{name}",
            placeholder="no limit",
        )
        if wanted[name] is None and name in NEEDED:
            st.error(f"{label} must be stated")
            return None
    wanted["daylight_only"] = st.checkbox(
        "Daylight only", value=limit.daylight_only, key=f"weather.try.{limit.operation}.daylight"
    )
    try:
        return Limit.model_validate(wanted)
    except ValidationError as failure:
        st.error(failure.errors()[0]["msg"])
        return None


def _compared(held: OperationOutlook, moved: OperationOutlook) -> list[tuple[str, str, str]]:
    rows = []
    for number in range(max(len(held.windows), len(moved.windows), 1)):
        rows.append((f"window {number + 1}", _window(held, number), _window(moved, number)))
    return rows


def _window(each: OperationOutlook, number: int) -> str:
    if number >= len(each.windows):
        return "none" if number == 0 else ""
    window = each.windows[number]
    opens = "open now" if window.open_now else dtg(window.opens)
    closes = dtg(window.closes) if window.closes else "the forecast's end"
    return f"{opens} to {closes}, holds {percent_words(window.holds_probability)}"
