"""The air of one refuge: how it stands, what it comes to, and how far off the model was."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.survivors.charts import air_charts
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.earth.clock import dtg, relative_words
from layers.earth.said.quantity import figure
from layers.survivors.air.formulas import AirOutlook, RefugeAir
from layers.survivors.air.report import ASSUMED, band_words, hours_words

TYPED = (
    "survivors.air",
    "survivors.stores",
    "survivors.stores_used",
    "survivors.pod",
    "survivors.level",
    "survivors.compartment",
    "survivors.inflow",
    "survivors.breathing",
    "survivors.activity",
    "survivors.own_air",
)
LAST = 9  # three readings of three quantities


def show_missing(air: AirOutlook) -> None:
    """Show what must be asked for before more can be said."""
    if air.missing:
        panel(words(" ".join(air.missing)))


def show_stores(air: AirOutlook) -> None:
    """Show stores and pods, and how long they last."""
    for refuge in air.refuges:
        st.markdown(f"**{refuge.refuge.capitalize()}**")
        _stores(refuge)


def show_reckoned(seen: Seen, air: AirOutlook) -> None:
    """Show how each figure was reckoned: curves, levels, readings, doubts, assumptions."""
    if air.refuges:
        for column, refuge in zip(st.columns(len(air.refuges)), air.refuges, strict=True):
            with column:
                _refuge(seen, air, refuge)
    st.caption(ASSUMED)


def _refuge(seen: Seen, air: AirOutlook, one: RefugeAir) -> None:
    title = f"{one.refuge.capitalize()} refuge"
    ago = relative_words(one.read_at, seen.moment.at)
    head = [
        line(words(title, "mp-big"), words(f"{one.persons} persons")),
        line(words(f"last reading {dtg(one.read_at)}, {ago}", "mp-quiet")),
    ]
    head += [line(words(f"! {doubt}")) for doubt in (one.doubt, *one.doubts) if doubt]
    panel("".join(head) + table(_now(one), ("Now", "P50 (P10 to P90)")) + line(words(one.cause)))
    for name, spec in air_charts(air, one, seen.ink).items():
        st.html(words(f"{name}: band P10 to P90, dots read", "mp-quiet"))
        st.vega_lite_chart(spec, theme=None, width="stretch")
    _levels(one)
    _corrections(air, one)


def _now(one: RefugeAir) -> list[tuple[str, str]]:
    rows = [
        ("pressure (bar absolute)", band_words(one.pressure_bar, 2)),
        ("carbon dioxide (% surface equivalent)", band_words(one.co2_sev_percent, 1)),
        ("oxygen (kPa)", band_words(one.oxygen_kpa, 1)),
        ("free volume (m³)", band_words(one.volume_m3, 0)),
        ("breathing against the general figure (ratio)", band_words(one.breath_ratio, 2)),
        ("water coming in (m³/h)", band_words(one.water_m3_h, 2)),
        ("gas coming in (m³/h at 0 °C, 1 atm)", band_words(one.leak_m3_h, 2)),
    ]
    for trend in one.trends:
        slope = ""
        if trend.slope_per_h is not None:
            slope = f", {figure(trend.slope_per_h, 3, plus=True)} an hour"
        rows.append((f"{trend.quantity} ({trend.unit}), as read", f"{trend.last:.1f}{slope}"))
    return rows


def _levels(one: RefugeAir) -> None:
    gains = {gain.level: f"+{gain.gain_h.p50:.0f} h" for gain in one.pod_gains}
    heads = ["Level", "Limit", "P10", "P50", "P90", *(["Pods would add"] if gains else [])]
    rows: list[list[str]] = []
    for level in one.levels:
        hours = level.hours
        spread = [hours_words(h) for h in (hours.p10, hours.p50, hours.p90)]
        if level.untold:
            spread = [spread[0], f"at least {spread[1]}", f"ask: {level.untold}"]
        how = f"{level.limit}, by trend" if level.how == "trend" else level.limit
        rows.append([level.name, how, *spread, gains.get(level.name, "")])
    for end in one.unknown:
        rows.append([end.level, "not known", "", f"ask: {', '.join(end.missing)}", "", ""])
    if rows:
        panel(table([row[: len(heads)] for row in rows], heads))


def _stores(one: RefugeAir) -> None:
    rows = [
        (
            "absorbent, kg of CO2 it takes" if s.store == "absorbent" else "oxygen stores, kg",
            band_words(s.left_kg, 0),
            hours_words(s.lasts_h.p50),
            f"{hours_words(s.lasts_h.p10)} to {hours_words(s.lasts_h.p90)}",
        )
        for s in one.stores
    ]
    pods = [(f"{pod.pod}: {pod.state}", "", "", dtg(pod.told_at)) for pod in one.pods]
    if rows or pods:
        panel(table([*rows, *pods], ("Stores", "Left", "Lasts P50", "P10 to P90")))


def _corrections(air: AirOutlook, one: RefugeAir) -> None:
    entries = next((o.readings for o in air.model.refuges if o.refuge == one.refuge), ())
    at = {entry.id: dtg(entry.record.valid_at) for entry in entries}
    rows = [
        (
            at.get(c.key, ""),
            f"{c.quantity} ({c.unit})",
            f"{c.expected_p50:.2f} ({c.expected_p10:.2f} to {c.expected_p90:.2f})",
            f"{c.read:.2f}",
            f"{c.off:+.2f}"
            + (", began again" if c.began_again else ", doubtful" if c.doubtful else ""),
        )
        for c in reversed(one.corrections[-LAST:])
    ]
    if rows:
        st.html(words("How far off the model was at the last readings", "mp-quiet"))
        panel(table(rows, ("Reading", "Quantity", "Expected", "Read", "Off by"), figures=(3, 4)))
    st.caption(f"Breathing taken at first: {one.breathing_source}.")


def show_forms(seen: Seen) -> None:
    """Show the forms for readings, stores, pods, levels and what people do."""
    record_form.show_one_of(seen, TYPED, chooser="survivors.air.kind", key="survivors.air")
