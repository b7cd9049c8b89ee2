"""Range and bearing: click, type or pick two or more points; rings and bearing lines from any.

A form over `layers.earth.measure`; nothing is computed here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import streamlit as st

from dashboard import state
from dashboard.panels.text import caution, line, panel, table, words
from dashboard.state import Key
from dashboard.tools import measured_route
from dashboard.view import Seen, chart_frame, reference
from layers.contract import Shown
from layers.earth.chart.marks import (
    AnyMark,
    AreaMark,
    Freshness,
    LineMark,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.clock import duration_words
from layers.earth.errors import InputError
from layers.earth.geodesy import going, ring
from layers.earth.measure import (
    CAUTION,
    SOURCE,
    MeasuredLeg,
    Measurement,
    bearing_words,
    measure,
    range_words,
)
from layers.earth.position import Position
from layers.earth.said.bearings import parse_bearing, parse_range_m, true_bearing_deg
from layers.earth.said.parse import parse_position
from layers.earth.said.quantity import figure
from layers.earth.said.written import Notation, written
from layers.earth.units import M_PER_KM
from layers.earth.variation import variation

MOST_POINTS = 40


@dataclass(frozen=True, slots=True)
class LaidLine:
    """A bearing line or range ring laid off from a point (EBL, VRM)."""

    origin: Position
    bearing_true_deg: float | None
    range_m: float
    said: str


def points() -> tuple[Position, ...]:
    """Return the points measured so far in this session."""
    held: tuple[Position, ...] = state.get(Key.POINTS)
    return held


def take(clicked: Position) -> bool:
    """Take a click on the chart as the next point, if measuring is on."""
    if not state.get(Key.MEASURING):
        return False
    state.put(Key.POINTS, (*points(), clicked)[-MOST_POINTS:])
    return True


def show(seen: Seen) -> None:
    """Show the form and what was measured."""
    on = st.toggle(
        "Click points on the chart", value=state.get(Key.MEASURING), key="measuring_choice"
    )
    if on != state.get(Key.MEASURING):
        state.put(Key.MEASURING, on)
        st.rerun()
    held = points()
    if len(held) >= 2:
        _result(seen, held)
    elif held:
        _written(held[0])
        panel(words("One point. Add another to read range and bearing.", "mp-quiet"))
    else:
        panel(words("No points yet. Click two on the chart, or type a position.", "mp-quiet"))
    _typed(seen)
    _laid_off(seen)
    measured_route.show(seen, held)
    if (held or state.get(Key.LINES)) and st.button("Clear what was measured", key="measure_clear"):
        state.put(Key.POINTS, ())
        state.put(Key.LINES, ())
        st.rerun()
    caution(CAUTION)


def _typed(seen: Seen) -> None:
    names = _pickable(seen)
    with st.form("measure_typed", clear_on_submit=False, border=True):
        text = st.text_input("Position", key="measure_text", placeholder="49 50.0N 008 30.0W")
        picked = st.selectbox("or a mark", ("", *names), key="measure_pick")
        if st.form_submit_button("Add this point"):
            try:
                place = names[picked] if picked else parse_position(text, "position")
            except InputError as reason:
                st.error(str(reason))
                return
            state.put(Key.POINTS, (*points(), place)[-MOST_POINTS:])
            st.rerun()


def _pickable(seen: Seen) -> dict[str, Position]:
    """Return the marks that a measurement can start from, by label."""
    found: dict[str, Position] = {}
    if datum := reference(seen.picture):
        found["datum"] = datum[0]
    for shown in seen.picture.layers.values():
        if isinstance(shown, Shown):
            for mark in shown.marks:
                if isinstance(mark, PointMark) and mark.label and mark.rank <= 4:
                    found.setdefault(mark.label, mark.position)
    return found


def _result(seen: Seen, held: tuple[Position, ...]) -> None:
    speed = st.number_input(
        "Speed for the time (kn), 0 for none", 0.0, 1_000.0, 10.0, 0.5, key="measure_speed"
    )
    found = measure(held, seen.moment.at, speed_kn=speed or None)
    last = found.legs[-1]
    first = f'<div class="mp-big">{words(bearing_words(last.bearing_true_deg))}</div>'
    second = f'<div class="mp-big">{words(f"{last.distance_nmi:.2f} nmi")}</div>'
    panel(first + second + table(_rows(last, found)) + _totals(found))
    _written(held[-1])
    if len(found.legs) > 1:
        rows = [
            (
                number + 1,
                bearing_words(leg.bearing_true_deg),
                f"{leg.distance_nmi:.2f}",
                f"{leg.total_m / 1852.0:.2f}",
            )
            for number, leg in enumerate(found.legs)
        ]
        panel(table(rows, ("Leg", "Bearing", "nmi", "Total nmi"), figures=(0, 2, 3)))


def _rows(last: MeasuredLeg, found: Measurement) -> list[tuple[str, str]]:
    rows = [
        ("Range", f"{figure(last.distance_m, 0)} m = {figure(last.distance_km, 3)} km"),
        ("Magnetic", bearing_words(last.bearing_magnetic_deg, "M")),
        ("Back", bearing_words(last.back_bearing_true_deg)),
        (
            "Rhumb line",
            f"{bearing_words(last.rhumb_bearing_true_deg)} "
            f"{last.rhumb_distance_m / 1852.0:.2f} nmi",
        ),
    ]
    if last.time_s is not None:
        rows.append(("Time", duration_words(timedelta(seconds=last.time_s))))
    side = "E" if last.variation_deg >= 0 else "W"
    rows.append(
        (
            "Variation",
            f"{abs(last.variation_deg):.1f}° {side}, {found.variation_at:%b %Y}, WMM 2025",
        )
    )
    return rows


def _totals(found: Measurement) -> str:
    parts = []
    if len(found.legs) > 1:
        parts.append(line(words(f"{len(found.legs)} legs, {found.total_nmi:.2f} nmi in all")))
    if found.area_m2 is not None:
        nmi2 = found.area_m2 / 1852.0**2
        km2 = found.area_m2 / M_PER_KM**2
        parts.append(line(words(f"Closed figure: {figure(nmi2, 2)} nmi² = {figure(km2, 2)} km²")))
    if found.warning:
        parts.append(line(words(found.warning, "mp-quiet")))
    parts.append(line(words(SOURCE, "mp-quiet")))
    return "".join(parts)


def _written(place: Position) -> None:
    rows = []
    for notation in Notation:
        try:
            rows.append((notation.value, written(place, notation)))
        except InputError as reason:
            rows.append((notation.value, str(reason)))
    panel(table(rows))


def _laid_off(seen: Seen) -> None:
    """Lay a bearing line (EBL) or a range ring (VRM) off from the last point or the datum."""
    with st.expander("Bearing line and range ring (EBL, VRM)"), st.form("laid_off", border=False):
        names = _pickable(seen)
        held = points()
        choices = (["last point"] if held else []) + list(names)
        if not choices:
            st.html(words("Nothing to lay off from yet: add a point.", "mp-quiet"))
        origin = st.selectbox("From", choices or [""], key="ebl_from")
        bearing = st.text_input("Bearing", key="ebl_bearing", placeholder="065T 068M 070G R045")
        heading = st.text_input("Observer's heading, for R", key="ebl_heading", placeholder="120T")
        reach = st.text_input("Range", key="ebl_range", placeholder="12nmi")
        if st.form_submit_button("Lay it off"):
            try:
                place = held[-1] if origin == "last point" else names[origin]
                laid = _line(seen, place, bearing, heading, reach)
            except KeyError:
                st.error("Nothing to lay off from: add a point first.")
            except InputError as reason:
                st.error(str(reason))
            else:
                state.put(Key.LINES, (*state.get(Key.LINES), laid)[-MOST_POINTS:])
                st.rerun()


def _line(seen: Seen, place: Position, bearing: str, heading: str, reach: str) -> LaidLine:
    range_m = parse_range_m(reach, "range")
    if not bearing.strip():
        return LaidLine(place, None, range_m, f"ring {range_words(range_m)}")
    ahead = None
    if heading.strip():
        ahead = _true(seen, place, heading, None, "observer's heading")
    true = _true(seen, place, bearing, ahead, "bearing")
    return LaidLine(place, true, range_m, f"{bearing_words(true)} {range_words(range_m)}")


def _true(
    seen: Seen, place: Position, text: str, heading_true_deg: float | None, where: str
) -> float:
    return true_bearing_deg(
        parse_bearing(text, where),
        variation_deg=variation(place, seen.moment.at).variation_deg,
        convergence_deg=chart_frame(seen).convergence_deg(place),
        heading_true_deg=heading_true_deg,
        where=where,
    )


def marks(seen: Seen) -> list[AnyMark]:
    """Return what was measured as marks, the range and bearing at the line itself."""
    held = points()
    found: list[AnyMark] = []
    for number, place in enumerate(held):
        last = number == len(held) - 1 and state.get(Key.MEASURING)
        found.append(
            PointMark(
                key="anchor" if last else f"point{number}",
                style=Style.MEASURE,
                tooltip=f"Measured point {number + 1}: {place}",
                source="measured on this screen",
                position=place,
                symbol=Symbol.CROSS,
                rank=2,
            )
        )
    if len(held) >= 2:
        for number, leg in enumerate(measure(held, seen.moment.at).legs):
            said = f"{bearing_words(leg.bearing_true_deg)} {range_words(leg.distance_m)}"
            found.append(_leg_mark(f"leg{number}", leg.start, leg.end, said))
    for number, laid in enumerate(state.get(Key.LINES)):
        found.append(_laid_mark(f"laid{number}", laid))
    return found


def _leg_mark(key: str, start: Position, end: Position, said: str) -> LineMark:
    return LineMark(
        key=key,
        style=Style.MEASURE,
        tooltip=f"Range and bearing: {said}",
        source=SOURCE,
        label=said,
        rank=1,
        latitudes_deg=np.array([start.latitude_deg, end.latitude_deg]),
        longitudes_deg=np.array([start.longitude_deg, end.longitude_deg]),
    )


def _laid_mark(key: str, laid: LaidLine) -> AnyMark:
    if laid.bearing_true_deg is not None:
        end = going(laid.origin, laid.bearing_true_deg, laid.range_m)
        return _leg_mark(key, laid.origin, end, laid.said)
    latitudes, longitudes = ring(laid.origin, laid.range_m)
    return AreaMark(
        key=key,
        style=Style.MEASURE,
        tooltip=f"Range {laid.said}",
        source=SOURCE,
        label=laid.said,
        rank=1,
        freshness=Freshness.KNOWN,
        latitudes_deg=latitudes,
        longitudes_deg=longitudes,
    )
