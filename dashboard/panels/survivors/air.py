"""The air of one refuge: how it stands, what it comes to, and how far off the model was."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.survivors.charts import air_charts
from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg, relative_words
from layers.earth.quantity import figure
from layers.survivors.air.formulas import AirOutlook, RefugeAir
from layers.survivors.air.report import ASSUMED, CAUTION, band_words, first_level, hours_words

TYPED = (
    "survivors.air",
    "survivors.stores",
    "survivors.stores_used",
    "survivors.pod",
    "survivors.level",
    "survivors.compartment",
    "survivors.inflow",
    "survivors.breathing",
)
LAST = 9  # three readings of three quantities


def show(seen: Seen) -> None:
    """Show every refuge with readings, what is missing, and the forms."""
    found = seen.picture.shown("margin")
    if found is None:
        held = seen.picture.layers.get("margin")
        panel(words(getattr(held, "reason", "no air readings yet")))
        return
    air: AirOutlook = found.result.air
    for said in air.missing:
        panel(words(said))
    if air.refuges:
        for column, refuge in zip(st.columns(len(air.refuges)), air.refuges, strict=True):
            with column:
                _refuge(seen, air, refuge)
    caution(CAUTION)
    if air.refuges:
        st.caption(ASSUMED)
    if seen.writable:
        _forms(seen)


def _refuge(seen: Seen, air: AirOutlook, one: RefugeAir) -> None:
    level = first_level(one)
    title = f"{one.refuge.capitalize()} refuge"
    head = [line(words(title, "mp-big"), words(f"{one.persons} persons"))]
    if level is not None:
        css = "mp-late" if level.reached else ""
        first = f"{level.name} ({level.limit}): {hours_words(level.hours.p50)}"
        head.append(line(words(first, css)))
        spread = f"P10 {hours_words(level.hours.p10)}, P90 {hours_words(level.hours.p90)}"
        head.append(line(words(f"{spread}; {level.source}", "mp-quiet")))
    ago = relative_words(one.read_at, seen.moment.at)
    head.append(line(words(f"last reading {dtg(one.read_at)}, {ago}", "mp-quiet")))
    head += [line(words(f"! {doubt}")) for doubt in one.doubts]
    panel("".join(head) + table(_now(one), ("Now", "P50 (P10 to P90)")) + line(words(one.cause)))
    for name, spec in air_charts(air, one, seen.ink).items():
        st.html(words(f"{name}: band P10 to P90, dots read", "mp-quiet"))
        st.vega_lite_chart(spec, theme=None, width="stretch")
    _levels(one)
    _stores(one)
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
        rows.append([level.name, level.limit, *spread, gains.get(level.name, "")])
    for trend in one.trends:
        rows += [[name, "by trend", "", hours_words(h), "", ""] for name, h in trend.crosses]
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
            f"{c.off:+.2f}" + (", began again" if c.began_again else ""),
        )
        for c in reversed(one.corrections[-LAST:])
    ]
    if rows:
        st.html(words("How far off the model was at the last readings", "mp-quiet"))
        panel(table(rows, ("Reading", "Quantity", "Expected", "Read", "Off by"), figures=(3, 4)))
    st.caption(f"Breathing taken at first: {one.breathing_source}.")


def _forms(seen: Seen) -> None:
    with st.expander("Add a reading, stores, a pod, a level"):
        kind = st.selectbox(
            "What is reported",
            TYPED,
            format_func=lambda name: KINDS[name].title,
            key="survivors.air.kind",
        )
        if record_form.show(seen, KINDS[kind], key="survivors.air"):
            st.rerun()
