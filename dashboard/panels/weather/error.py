"""How far the forecast can be trusted: its running error, and how its issues moved about."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.panels.weather.charts import issues_drawn
from dashboard.view import Seen
from layers.weather.forecast.running_error import TITLES, ErrorBin, RunningError
from layers.weather.result import WeatherResult

HEADS = ("Lead (h)", "Hs", "pairs", "Wind speed", "pairs", "Wind, each component")
QUANTITIES = ("hs_m", "wind_kn", "wind_m_s")


def show(seen: Seen) -> None:
    """Show forecast held against observation."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    spec = issues_drawn(result, seen.ink)
    if spec is not None:
        st.html(words("Hs (m) at the place by issue: the strong line is the newest", "mp-quiet"))
        st.vega_lite_chart(spec, theme=None, width="stretch")
    rows = _rows(result)
    if not rows:
        panel(words("No running error: it needs a forecast and stations whose position is known."))
        return
    panel(table(rows, HEADS, figures=(2, 4)) + "".join(line(words(t)) for t in _assumed(result)))
    caution(
        "Root mean square, and mean error in brackets: forecast less measured over the last "
        "three days, every issue against every station. In front of weather that nobody has met "
        "yet it says too little: the last issues' disagreement is therefore added to it."
    )


def _spoken(result: WeatherResult) -> dict[str, RunningError]:
    """Return the error of the model that speaks for each quantity."""
    found = {}
    for (model, quantity), error in result.errors.items():
        if result.field.speaks.get(quantity.replace("wind_kn", "wind_m_s")) == model:
            found[quantity] = error
    return found


def _rows(result: WeatherResult) -> list[tuple[object, ...]]:
    spoken = _spoken(result)
    bins = {q: {b.from_h: b for b in spoken[q].bins} for q in QUANTITIES if q in spoken}
    leads = sorted({(b.from_h, b.to_h) for each in bins.values() for b in each.values()})
    rows: list[tuple[object, ...]] = []
    for from_h, to_h in leads:
        hs, speed, part = (bins.get(q, {}).get(from_h) for q in QUANTITIES)
        rows.append(
            (
                f"{from_h:.0f} to {to_h:.0f}",
                _said(hs, "m"),
                hs.pairs if hs else 0,
                _said(speed, "kn"),
                speed.pairs if speed else 0,
                _said(part, "m/s"),
            )
        )
    return rows


def _said(each: ErrorBin | None, unit: str) -> str:
    return "not measured" if each is None else f"{each.rms:.2f} {unit} ({each.bias:+.2f})"


def _assumed(result: WeatherResult) -> list[str]:
    return [
        f"{TITLES[quantity][0]}: nothing to measure the error by; an assumption of our own is "
        "used (common practice, no source)."
        for quantity, error in _spoken(result).items()
        if not error.measured
    ]
