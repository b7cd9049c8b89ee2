"""What the weather layer draws: wind barbs, wave and current arrows, stale ones hollow."""

from __future__ import annotations

import math

import numpy as np

from layers.earth.chart.marks import AnyMark, Freshness, GridMark, PointMark, Style, Symbol
from layers.earth.clock import day_hhmm, dtg, duration_words
from layers.earth.position import Position
from layers.earth.tells import TELLS_POSITION
from layers.weather.around import Around
from layers.weather.result import WeatherResult
from layers.weather.say import (
    age_words,
    current_words,
    degrees,
    state_words,
    wave_words,
    where_words,
    wind_words,
)
from layers.weather.sea.window_words import windows_words
from layers.weather.stations import StationNow


def marks(result: WeatherResult) -> tuple[AnyMark, ...]:
    """Return every mark of the weather; a station whose position is not known has none."""
    drawn: list[AnyMark] = []
    for station in result.stations:
        if station.position is not None:
            drawn.extend(_station(station, station.position))
    return (*_forecast(result), *drawn, *_place(result))


def _forecast(result: WeatherResult) -> list[AnyMark]:
    """Return the forecast round the place: shading for Hs, a barb every few cells."""
    found = result.around
    if found is None:
        return []
    issued = f"{found.model}, issued {dtg(found.issued_at)}, for {dtg(result.at)}"
    drawn: list[AnyMark] = []
    if not np.isnan(found.hs_m).all():
        drawn.append(
            GridMark(
                key="forecast-hs",
                style=Style.WAVE,
                latitudes_deg=found.corner_latitudes_deg,
                longitudes_deg=found.corner_longitudes_deg,
                values=found.hs_m,
                unit="Hs (m), forecast",
                tooltip=f"Hs expected (m); {issued}",
                source=found.rests_on,
                freshness=Freshness.EXPECTED,
                at=result.at,
            )
        )
    drawn.extend(_arrows(found, issued, result))
    return drawn


def _arrows(found: Around, issued: str, result: WeatherResult) -> list[AnyMark]:
    """Return a wind barb, a wave arrow and a current arrow at every few cells."""
    drawn: list[AnyMark] = []
    towards = (found.wave_from_true_deg + 180.0) % 360.0
    sorts = (
        ("wind", Style.WIND, Symbol.WIND_BARB, found.wind_from_true_deg, found.wind_kn, "from"),
        (
            "current",
            Style.CURRENT,
            Symbol.ARROW,
            found.current_set_deg,
            found.current_kn,
            "towards",
        ),
        ("wave", Style.WAVE, Symbol.ARROW, towards, None, "towards"),
    )
    for name, style, symbol, directions, speeds, way in sorts:
        for number, direction in enumerate(directions.tolist()):
            speed_kn = None if speeds is None else float(speeds[number])
            if math.isnan(direction) or (speed_kn is not None and math.isnan(speed_kn)):
                continue
            how_fast = "" if speed_kn is None else f" {speed_kn:.1f} kn"
            drawn.append(
                PointMark(
                    key=f"forecast-{name}-{number}",
                    style=style,
                    symbol=symbol,
                    position=Position(
                        float(found.barb_latitudes_deg[number]),
                        float(found.barb_longitudes_deg[number]),
                    ),
                    heading_true_deg=direction,
                    speed_kn=speed_kn,
                    tooltip=f"{name} expected {way} {degrees(direction)}{how_fast}; {issued}",
                    source=found.rests_on,
                    freshness=Freshness.EXPECTED,
                    at=result.at,
                )
            )
    return drawn


def _place(result: WeatherResult) -> list[AnyMark]:
    """Return the place of work with its windows, and the stream there."""
    if result.place is None:
        return []
    drawn: list[AnyMark] = []
    words = windows_words(result)
    if words:
        drawn.append(
            PointMark(
                key="windows",
                style=Style.STATION,
                symbol=Symbol.CROSS,
                position=result.place.position,
                label=words,
                rank=3,
                tooltip=f"{result.place.how}: {words}; the operating authority's limits decide",
                source=" ".join(each.rests_on for each in result.outlooks),
                freshness=Freshness.EXPECTED,
                at=result.at,
                tells=TELLS_POSITION,
            )
        )
    if result.ahead is not None:
        step = result.ahead.at(result.at)
        speed_kn = float(result.ahead.current_surface_kn[step])
        if not math.isnan(speed_kn):
            set_deg = float(result.ahead.current_surface_set_deg[step])
            drawn.append(
                PointMark(
                    key="current-place",
                    style=Style.CURRENT,
                    symbol=Symbol.ARROW,
                    position=result.place.position,
                    heading_true_deg=set_deg,
                    speed_kn=speed_kn,
                    label=f"{speed_kn:.1f} kn",
                    tooltip=(
                        f"surface current expected at the {result.place.how}: sets "
                        f"{degrees(set_deg)} {speed_kn:.1f} kn"
                    ),
                    source=" ".join(tide.rests_on for tide in result.field.tides)
                    or result.place.rests_on,
                    freshness=Freshness.EXPECTED,
                    at=result.at,
                    tells=TELLS_POSITION,
                )
            )
    return drawn


def tooltip(station: StationNow) -> str:
    """Return all that a station says, units and times included."""
    parts = [
        f"{station.name} ({station.sort}), {where_words(station)}",
        f"{day_hhmm(station.at)}, {age_words(station.age, station.stale)}",
        state_words(station),
        wave_words(station),
        wind_words(station)
        + ("" if station.wind_height_known or station.wind_10m_kn is None else ", as measured"),
        current_words(station),
        _said(station, "visibility_nmi", "visibility {:.1f} nmi"),
        _said(station, "pressure_hpa", "{:.1f} hPa"),
        _said(station, "air_c", "air {:.1f} °C"),
        _said(station, "sea_c", "sea {:.1f} °C"),
    ]
    return "; ".join(part for part in parts if part)


def _said(station: StationNow, name: str, form: str) -> str:
    return form.format(station.values[name]) if name in station.values else ""


def _station(station: StationNow, position: Position) -> list[AnyMark]:
    source = " ".join(station.rests_on)
    words = tooltip(station)
    freshness = Freshness.STALE if station.stale else Freshness.KNOWN
    age = f" {duration_words(station.age)}" if station.stale else ""
    from_deg = station.values.get("wind_from_true_deg")
    barbed = station.wind_10m_kn is not None and (from_deg is not None or station.wind_10m_kn < 2.5)
    drawn: list[AnyMark] = [
        PointMark(
            key=f"station-{station.station}",
            style=Style.WIND if barbed else Style.STATION,
            symbol=Symbol.WIND_BARB if barbed else Symbol.FIX,
            position=position,
            heading_true_deg=(from_deg or 0.0) if barbed else None,
            speed_kn=station.wind_10m_kn if barbed else None,
            label=f"{station.name}{age}",
            rank=4,
            tooltip=words,
            source=source,
            freshness=freshness,
            at=station.at,
        )
    ]
    arrows = (
        ("wave", Style.WAVE, "wave_from_true_deg", 180.0, _wave_label(station)),
        ("current", Style.CURRENT, "current_set_true_deg", 0.0, _current_label(station)),
    )
    for key, style, field, turn, label in arrows:
        if field in station.values and label:
            drawn.append(
                PointMark(
                    key=f"{key}-{station.station}",
                    style=style,
                    symbol=Symbol.ARROW,
                    position=position,
                    heading_true_deg=(station.values[field] + turn) % 360.0,
                    speed_kn=station.values.get("current_kn") if key == "current" else None,
                    label=label,
                    tooltip=words,
                    source=source,
                    freshness=freshness,
                    at=station.taken[field],
                )
            )
    return drawn


def _wave_label(station: StationNow) -> str:
    hs_m, tp_s = station.values.get("hs_m"), station.values.get("tp_s")
    if hs_m is None:
        return ""
    return f"{hs_m:.1f} m" + (f" {tp_s:.0f} s" if tp_s is not None else "")


def _current_label(station: StationNow) -> str:
    speed = station.values.get("current_kn")
    return "" if speed is None else f"{speed:.1f} kn"
