"""At the hatch: what the water does at the seat, how she lies, how to come to her."""

from __future__ import annotations

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, duration_words
from layers.weather.result import WeatherResult
from layers.weather.say import degrees
from layers.weather.sea.hatch import SOURCE, Compared, HatchNow


def show(seen: Seen) -> None:
    """Show each rescue seat."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    if not result.hatches:
        need.said(
            seen,
            "No seat yet: record the attitude and depth of a rescue seat, and the "
            "limits of the vehicle.",
            "seat",
            "weather.seat",
            "weather.vehicle_limit",
        )
        return
    for hatch in result.hatches:
        rows = [_row(each) for each in hatch.compared]
        body = "".join(line(words(text)) for text in _lines(hatch))
        title = f"<b>{words(f'Seat {hatch.seat.seat}, {hatch.seat.depth_m:g} m')}</b>"
        panel(line(title) + body + table(rows, ("", "Now", "Limit", ""), figures=(1, 2)))
    caution(
        f"Waves below the surface by {SOURCE}: a long swell reaches deepest. Common practice, no "
        "source: touchdown on a bare hull no faster than 0.85 ft/s (0.26 m/s), 2 ft/s (0.61 m/s) "
        "with the landing gear extended. The vehicle's operator decides."
    )


def _lines(hatch: HatchNow) -> list[str]:
    lines = []
    if hatch.current_kn is None or hatch.current_set_deg is None or hatch.heading_true_deg is None:
        lines.append("Current at the seat not known: record a tidal stream for the seat.")
    else:
        how = ", carried down from the surface" if hatch.current_estimated else ""
        lines.append(
            f"Current {hatch.current_kn:.1f} kn setting {degrees(hatch.current_set_deg)}{how}; "
            f"approach into it on {degrees(hatch.heading_true_deg)}."
        )
    if hatch.slack:
        at, speed_kn = hatch.slack[0]
        away = duration_words(at - hatch.at)
        lines.append(f"Next slack {clock_words(at, hatch.at)}, in {away}, {speed_kn:.1f} kn.")
    if hatch.along_m_s is not None and hatch.along_highest_m_s is not None:
        lines.append(
            f"Waves (Hs {hatch.hs_m:.1f} m at {hatch.tp_s:.0f} s) move the water at the seat "
            f"{_speed(hatch.along_m_s)} to and fro, {_speed(hatch.up_m_s)} up and down; a wave "
            f"of twice Hs {_speed(hatch.along_highest_m_s)}."
        )
    lines.append(
        f"List {hatch.seat.list_deg:g}°, bow down {hatch.seat.bow_down_deg:g}°: the seat is "
        f"{hatch.tilt_deg:.0f}° from level ({hatch.seat.reported_by})."
    )
    return lines


def _speed(speed_m_s: float | None) -> str:
    if speed_m_s is None:
        return "not known"
    return "by less than 0.01 m/s" if speed_m_s < 0.005 else f"by {speed_m_s:.2f} m/s"


def _row(each: Compared) -> tuple[str, ...]:
    value = "not known" if each.value is None else f"{each.value:.2g} {each.unit}"
    limit = "not entered" if each.limit is None else f"{each.limit:g} {each.unit}"
    state = {True: "within", False: "OUTSIDE", None: ""}[each.within]
    return each.name, value, limit, state
