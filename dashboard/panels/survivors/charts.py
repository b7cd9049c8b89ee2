"""Charts of the air as Vega-Lite drawings with their data inside; times are UTC throughout.

Bands P10 to P90 with the P50 line; dots what was read; levels as dashed rules with their name.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from dashboard.panels.drawing import CLOCK, FONT, UTC_TIME, Spec, dressed
from layers.earth.chart.marks import Style
from layers.earth.clock import iso
from layers.scene.ink import Ink
from layers.survivors.air.formulas import AirOutlook, RefugeAir
from layers.survivors.chambers.pressure import bar_abs, gas_kpa, sev_percent

Rows = list[dict[str, Any]]
BEFORE = timedelta(hours=48)
AHEAD = timedelta(hours=120)


def air_charts(air: AirOutlook, refuge: RefugeAir, ink: Ink) -> dict[str, Spec]:
    """Return carbon dioxide, oxygen and pressure of one refuge through time, by their titles."""
    curve = refuge.curve
    parts = (
        ("Carbon dioxide (% surface equivalent)", curve.co2_sev_percent, "carbon dioxide"),
        ("Oxygen (kPa)", curve.oxygen_kpa, "low oxygen"),
        ("Pressure (bar absolute)", curve.pressure_bar, "pressure"),
    )
    return {
        title: _chart(
            _bands(refuge, bands), _read(air, refuge, quantity), _levels(air, quantity), ink, air
        )
        for title, bands, quantity in parts
    }


def _bands(refuge: RefugeAir, bands: npt.NDArray[np.float64]) -> Rows:
    end = refuge.curve.at[0] + AHEAD
    return [
        {"at": iso(at), "low": float(low), "mid": float(mid), "high": float(high)}
        for at, low, mid, high in zip(refuge.curve.at, *bands, strict=True)
        if at <= end
    ]


def _read(air: AirOutlook, refuge: RefugeAir, quantity: str) -> Rows:
    entries = next((o.readings for o in air.model.refuges if o.refuge == refuge.refuge), ())
    rows = []
    for entry in entries:
        at, value = entry.record.valid_at, entry.value
        bar = bar_abs(value.pressure)
        gas = {"carbon dioxide": value.carbon_dioxide, "low oxygen": value.oxygen}.get(quantity)
        shown = bar if quantity == "pressure" else None
        if gas is not None:
            kpa = gas_kpa(gas, bar)
            shown = sev_percent(kpa) if quantity == "carbon dioxide" else kpa
        if shown is not None and at >= air.model.at - BEFORE:
            rows.append({"at": iso(at), "value": round(shown, 3)})
    return rows


def _levels(air: AirOutlook, quantity: str) -> Rows:
    return [
        {
            "name": level.name,
            "value": sev_percent(level.limit) if quantity == "carbon dioxide" else level.limit,
        }
        for level, _ in air.model.levels
        if level.quantity == quantity
    ]


def _chart(bands: Rows, read: Rows, levels: Rows, ink: Ink, air: AirOutlook) -> Spec:
    now = air.model.at
    x = {
        "field": "at",
        "type": "temporal",
        "scale": {"type": "utc", "domain": [iso(now - BEFORE), iso(now + AHEAD)]},
        "axis": {"title": None, "format": CLOCK, "labelAngle": 0, "tickCount": 4},
    }
    scale = {"zero": False}
    hue = ink.of(Style.PEOPLE)
    axis = {"title": None, "tickCount": 4}
    layers: list[Spec] = [
        {
            "data": {"values": bands},
            "mark": {"type": "area", "color": hue, "opacity": 0.3},
            "encoding": {
                "x": x,
                "y": {"field": "low", "type": "quantitative", "scale": scale, "axis": axis},
                "y2": {"field": "high"},
            },
        },
        {
            "data": {"values": bands},
            "mark": {"type": "line", "color": hue, "strokeDash": [6, 3]},
            "encoding": {"x": x, "y": {"field": "mid", "type": "quantitative", "scale": scale}},
        },
        {
            "data": {"values": read},
            "mark": {"type": "point", "filled": True, "color": ink.ink, "size": 34},
            "encoding": {"x": x, "y": {"field": "value", "type": "quantitative", "scale": scale}},
        },
        {
            "data": {"values": levels},
            "mark": {"type": "rule", "color": ink.ink, "strokeDash": [2, 3]},
            "encoding": {"y": {"field": "value", "type": "quantitative"}},
        },
        {
            "data": {"values": levels},
            "mark": {"type": "text", "align": "right", "dx": -6, "dy": -8, "fontSize": FONT},
            "encoding": {
                "y": {"field": "value", "type": "quantitative"},
                "x": {"value": "width"},
                "text": {"field": "name"},
            },
        },
        {
            "data": {"values": [{"at": iso(now)}]},
            "mark": {"type": "rule", "color": ink.ink, "strokeWidth": 2},
            "encoding": {"x": {"field": "at", **UTC_TIME}},
        },
    ]
    return dressed({"width": "container", "height": 130, "layer": layers}, ink)
