"""When the sea lets us work: a bar per operation, and each window in words."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.panels.weather.charts import window_bars
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, from_us
from layers.earth.said.quantity import figure
from layers.weather.model import Limit
from layers.weather.result import WeatherResult
from layers.weather.say import percent_words
from layers.weather.sea.window_words import decision_words
from layers.weather.sea.windows import OperationOutlook, against

HEADS = (
    "Operation",
    "Within limits",
    "Done, if begun as it opens",
    "Holds to its end",
    "90 % sure: begin",
    "Decide by",
)


def show(seen: Seen) -> None:
    """Show every operation's windows."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    _observed(result)
    if not result.outlooks:
        said = "No window: no forecast is known for the place."
        if not result.limits:
            said = "No window: no limits of an operation are recorded."
        panel(words(said))
        need.show(seen, said if not result.limits else "", "windows")
        return
    st.vega_lite_chart(window_bars(result, seen.ink), theme=None, width="stretch")
    panel(table([row for each in result.outlooks for row in _rows(each, result)], HEADS))
    caution(
        "Outlined: the forecast is within limits. Filled: an operation begun then is done within "
        "limits with 90 %, by what is left of the forecast's error once its bias is out, and the "
        "disagreement of its last issues, alike over about 12 h (an assumption). Only daylight is "
        "taken as sure."
    )


def _observed(result: WeatherResult) -> None:
    """Show what is observed now against the limits recorded, with a forecast or without."""
    if result.dive_withheld:
        return
    seen_now = [each for limit in result.limits for each in against(limit, result.near)]
    rows = [
        (
            each.operation,
            "yes" if each.within else "NO",
            each.words,
            f"{each.seen.station}, {clock_words(from_us(each.seen.at_us), result.at)}",
        )
        for each in seen_now
    ]
    judged = {each.operation for each in seen_now}
    rows += [
        (limit.operation, "not known", limit_words(limit), "nothing observed near the place")
        for limit in result.limits
        if limit.operation not in judged
    ]
    if rows:
        panel(table(rows, ("Observed now", "Within", "", "By")))


def limit_words(limit: Limit) -> str:
    """Return what an operation is limited to: ``Hs 2.5 m, wind 25 kn``."""
    parts = [
        f"{word} {figure(value)} {unit}"
        for word, value, unit in (
            ("Hs", limit.hs_max_m, "m"),
            ("wind", limit.wind_max_kn, "kn"),
            ("current", limit.current_surface_max_kn, "kn"),
            ("at the seat", limit.current_seat_max_kn, "kn"),
            ("visibility", limit.visibility_min_nmi, "nmi"),
        )
        if value is not None
    ]
    return f"limit {', '.join(parts)}" if parts else "no figure in its limits"


def _rows(each: OperationOutlook, result: WeatherResult) -> list[tuple[str, ...]]:
    now = result.at
    unchecked = f" (not checked, nothing known: {', '.join(each.unchecked)})" if (
        each.unchecked) else ""  # fmt: skip
    if not each.windows:
        why = each.why_none or "no window seen"
        return [(each.operation + unchecked, why, "", "", "", "")]
    rows: list[tuple[str, ...]] = []
    for number, window in enumerate(each.windows):
        sure = "at no hour"
        if window.sure_from and window.sure_to:
            sure = f"{clock_words(window.sure_from, now)} to {clock_words(window.sure_to, now)}"
        decide = "end not seen"
        if window.decide_by is not None:
            late = decision_words(window, now)
            decide = "too late" if "too late" in late else clock_words(window.decide_by, now)
        opens = "now" if window.open_now else clock_words(window.opens, now)
        closes = clock_words(window.closes, now) if window.closes else "forecast's end"
        rows.append(
            (
                "" if number else each.operation + unchecked,
                f"{opens} to {closes}",
                percent_words(window.start_probability),
                percent_words(window.holds_probability),
                sure,
                decide,
            )
        )
    return rows


def bar(seen: Seen) -> None:
    """Show the windows in few words, for beside the plot."""
    found = seen.picture.shown("weather")
    if found is None:
        return
    withheld = found.result.dive_withheld
    said = "withheld here" if withheld else found.result.dive.words
    panel(line("<b>Whole sortie</b>", words(said)))
