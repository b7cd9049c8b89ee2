"""Charts of the weather as Vega-Lite drawings with their data inside; times are UTC throughout.

Colour never stands alone: lines are named at their end, windows carry their times in words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from dashboard.panels.drawing import CLOCK, UTC_TIME, Spec, dressed
from layers.earth.chart.marks import Style
from layers.earth.clock import dtg, from_us, iso, to_us
from layers.scene.ink import Ink
from layers.weather.result import WeatherResult
from layers.weather.sea.window_words import short_words

BEFORE_H = 24


def _time_axis(result: WeatherResult, start: datetime) -> Spec:
    end = from_us(result.ahead.at_us[-1]) if result.ahead is not None else result.at
    return {
        "field": "at",
        "type": "temporal",
        "scale": {"type": "utc", "domain": [iso(start), iso(max(end, result.at))]},
        "axis": {"title": None, "format": CLOCK, "labelAngle": 0, "tickCount": 5},
    }


def window_bars(result: WeatherResult, ink: Ink) -> Spec:
    """Return a bar per operation: outlined where within limits, filled where 90 % sure.

    The name of each row says its present window in words.
    """
    open_rows: list[Spec] = []
    sure_rows: list[Spec] = []
    end = from_us(result.ahead.at_us[-1]) if result.ahead is not None else result.at
    names = {o.operation: short_words(o, result.at) for o in result.outlooks}
    for each in result.outlooks:
        name = names[each.operation]
        for window in each.windows:
            closes = window.closes or end
            open_rows.append({"op": name, "at": iso(window.opens), "to": iso(closes)})
            if window.sure_from is not None and window.sure_to is not None:
                sure_end = window.sure_to + timedelta(minutes=10)
                sure_rows.append({"op": name, "at": iso(window.sure_from), "to": iso(sure_end)})
        if not each.windows:  # the row stays, empty
            open_rows.append({"op": name, "at": iso(result.at), "to": iso(result.at)})
    y: Spec = {
        "field": "op",
        "type": "nominal",
        "sort": list(names.values()),
        "title": None,
        "axis": {"labelLimit": 240, "ticks": False},
    }
    x = _time_axis(result, result.at)
    bar: Spec = {"type": "bar", "height": 22, "filled": False, "stroke": ink.good, "strokeWidth": 2}
    return dressed(
        {
            "height": {"step": 32},
            "width": "container",
            "layer": [
                {
                    "data": {"values": open_rows},
                    "mark": bar,
                    "encoding": {"x": x, "x2": {"field": "to"}, "y": y},
                },
                {
                    "data": {"values": sure_rows},
                    "mark": {"type": "bar", "color": ink.good, "height": 12},
                    "encoding": {"x": x, "x2": {"field": "to"}, "y": y},
                },
            ],
        },
        ink,
    )


def meteogram(result: WeatherResult, ink: Ink) -> dict[str, Spec]:
    """Return waves, wind and current through time with the limits drawn in, by their titles."""
    start = result.at - timedelta(hours=BEFORE_H)
    parts = {
        "Hs (m): line expected, band 68 %, dots measured": _waves(result, ink, start),
        "Wind at 10 m (kn): line expected, band 68 %, dots measured": _wind(result, ink, start),
        "Current (kn): full line at the surface, dashed at the seat": _current(result, ink, start),
    }
    return {title: dressed(part, ink) for title, part in parts.items()}


def _now_rule(result: WeatherResult, ink: Ink) -> Spec:
    return {
        "data": {"values": [{"at": iso(result.at)}]},
        "mark": {"type": "rule", "color": ink.ink, "strokeDash": [2, 3]},
        "encoding": {"x": {"field": "at", **UTC_TIME}},
    }


def _waves(result: WeatherResult, ink: Ink, start: datetime) -> Spec:
    colour = ink.of(Style.WAVE)
    rows = _ahead_rows(result, "hs_m", "hs_sigma_m")
    limits = [(o.operation, o.limit.hs_max_m) for o in result.outlooks]
    return _panel(
        result, ink, start, rows, _seen_rows(result, "hs_m", start), limits, colour, 170, "m",
    )  # fmt: skip


def _wind(result: WeatherResult, ink: Ink, start: datetime) -> Spec:
    rows = _ahead_rows(result, "wind_kn", "wind_sigma_kn")
    limits = [(o.operation, o.limit.wind_max_kn) for o in result.outlooks]
    return _panel(
        result, ink, start, rows, _seen_rows(result, "wind_kn", start), limits,
        ink.of(Style.WIND), 130, "kn",
    )  # fmt: skip


def _current(result: WeatherResult, ink: Ink, start: datetime) -> Spec:
    colour = ink.of(Style.CURRENT)
    limits = [(f"{o.operation}, seat", o.limit.current_seat_max_kn) for o in result.outlooks]
    part = _panel(
        result, ink, start, _ahead_rows(result, "current_surface_kn", None), [], limits,
        colour, 110, "kn",
    )  # fmt: skip
    part["layer"].append(
        {
            "data": {"values": _ahead_rows(result, "current_seat_kn", None)},
            "mark": {"type": "line", "color": colour, "strokeDash": [6, 4], "strokeWidth": 2},
            "encoding": {
                "x": {"field": "at", **UTC_TIME},
                "y": {"field": "value", "type": "quantitative"},
            },
        }
    )
    return part


def _panel(
    result: WeatherResult,
    ink: Ink,
    start: datetime,
    rows: list[Spec],
    seen: list[Spec],
    limits: Sequence[tuple[str, float | None]],
    colour: str,
    height: int,
    unit: str,
) -> Spec:
    x = _time_axis(result, start)
    y: Spec = {"field": "value", "type": "quantitative", "title": None,
               "scale": {"zero": True}, "axis": {"tickCount": 4, "minExtent": 34}}  # fmt: skip
    end = from_us(result.ahead.at_us[-1]) if result.ahead is not None else result.at
    layers: list[Spec] = [
        {
            "data": {"values": _dark_rows(result)},
            "mark": {"type": "rect", "color": ink.quiet, "opacity": 0.13},
            "encoding": {"x": x, "x2": {"field": "to"}},
        },
        {
            "data": {"values": [row for row in rows if "low" in row]},
            "mark": {"type": "area", "color": colour, "opacity": 0.25},
            "encoding": {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "line", "color": colour, "strokeWidth": 2},
            "encoding": {"x": x, "y": y},
        },
        {
            "data": {"values": seen},
            "mark": {"type": "point", "color": colour, "filled": True, "size": 26},
            "encoding": {"x": x, "y": y, "shape": {"field": "station", "legend": None}},
        },
        _now_rule(result, ink),
    ]
    drawn = _limit_rows(limits, end, unit)
    if drawn:
        layers.append(
            {
                "data": {"values": drawn},
                "mark": {"type": "rule", "color": ink.ink, "strokeDash": [8, 4]},
                "encoding": {"y": y},
            }
        )
        layers.append(
            {
                "data": {"values": drawn},
                "mark": {"type": "text", "align": "left", "dx": 5, "clip": False},
                "encoding": {"x": {"field": "at", **UTC_TIME}, "y": y, "text": {"field": "said"}},
            }
        )
    return {"height": height, "width": "container", "layer": layers}


def _limit_rows(limits: Sequence[tuple[str, float | None]], end: datetime, unit: str) -> list[Spec]:
    """Return one row for each value of a limit at the right edge, naming who has it."""
    by_value: dict[float, list[str]] = {}
    for operation, value in limits:
        if value is not None:
            by_value.setdefault(value, []).append(operation)
    return [
        {
            "value": value,
            "at": iso(end),
            "said": f"{value:g} {unit} {names[0]}"
            + (f" + {len(names) - 1}" if len(names) > 1 else ""),
        }
        for value, names in sorted(by_value.items())
    ]


def _ahead_rows(result: WeatherResult, name: str, sigma: str | None) -> list[Spec]:
    """Return what is expected as rows, every half hour; nothing where it is not known."""
    ahead = result.ahead
    if ahead is None:
        return []
    values = getattr(ahead, name)[::3].tolist()
    spread = getattr(ahead, sigma)[::3].tolist() if sigma else [math.nan] * len(values)
    rows = []
    for at_us, value, one in zip(ahead.at_us[::3].tolist(), values, spread, strict=True):
        if math.isnan(value):
            continue
        row: Spec = {"at": iso(from_us(at_us)), "value": round(value, 2)}
        if not math.isnan(one):
            row |= {"low": round(max(0.0, value - one), 2), "high": round(value + one, 2)}
        rows.append(row)
    return rows


def _seen_rows(result: WeatherResult, name: str, start: datetime) -> list[Spec]:
    """Return what was measured lately, each station with its own shape."""
    seen = result.field.seen.since(to_us(start))
    names = {station.station: station.name for station in result.stations}
    return [
        {"at": iso(from_us(at_us)), "value": round(value, 2), "station": names.get(code, code)}
        for at_us, value, code in zip(
            seen.at_us.tolist(), getattr(seen, name).tolist(), seen.station.tolist(), strict=True
        )
        if not math.isnan(value)
    ]


def _dark_rows(result: WeatherResult) -> list[Spec]:
    """Return the spans of darkness in what is expected."""
    ahead = result.ahead
    if ahead is None:
        return []
    rows: list[Spec] = []
    dark_from: int | None = None
    for at_us, light in zip(ahead.at_us.tolist(), ahead.daylight.tolist(), strict=True):
        if not light and dark_from is None:
            dark_from = at_us
        elif light and dark_from is not None:
            rows.append({"at": iso(from_us(dark_from)), "to": iso(from_us(at_us))})
            dark_from = None
    if dark_from is not None:
        rows.append({"at": iso(from_us(dark_from)), "to": iso(from_us(ahead.at_us[-1]))})
    return rows


def issues_drawn(result: WeatherResult, ink: Ink) -> Spec | None:
    """Return what the last issues said of the waves at the place: how the front moved about."""
    if result.ahead is None or len(result.past_issues) < 2:
        return None
    last = len(result.past_issues) - 1
    rows = [
        {"at": iso(from_us(at_us)), "value": round(value, 2), "order": number,
         "said": f"issued {dtg(issue.issued_at)}", "newest": number == last}
        for number, issue in enumerate(result.past_issues)
        for at_us, value in zip(issue.at_us.tolist(), issue.hs_m.tolist(), strict=True)
        if not math.isnan(value)
    ]  # fmt: skip
    x = _time_axis(result, result.at - timedelta(hours=6))
    return dressed(
        {
            "height": 170,
            "width": "container",
            "data": {"values": rows},
            "mark": {"type": "line", "color": ink.of(Style.WAVE), "clip": True},
            "encoding": {
                "x": x,
                "y": {"field": "value", "type": "quantitative", "title": None},
                "detail": {"field": "said"},
                "strokeWidth": {"condition": {"test": "datum.newest", "value": 3}, "value": 1},
                "tooltip": [{"field": "said"}, {"field": "value", "title": "Hs (m)"}],
            },
        },
        ink,
    )
