"""What the weather is now: each station with its age, where the forecast stands."""

from __future__ import annotations

from uuid import uuid4

import streamlit as st

from dashboard.panels.text import line, panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, dtg, duration_words, hhmm
from layers.earth.errors import MusterplotError
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.journal.record import Draft, form_identity
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
from layers.weather.stations import StationNow, old_or_far

MOST_FAR = 100
MOVED_NMI = 2.0
AT_DATUM = "Work at the datum"


def show(seen: Seen) -> None:
    """Show the weather as it is at the time shown."""
    result: WeatherResult | None = seen.picture.result("weather")
    if result is None:
        return
    near = [one for one in result.stations if not old_or_far(one)]
    rest = [one for one in result.stations if old_or_far(one)]
    about = _from(seen, result)
    heads = ("Station", f"Where, from the {about[1]}", "Heard", "Waves", "Wind at 10 m", "Other")
    if near:
        panel(table([_row(station, result, about[0]) for station in near], heads))
    else:
        panel(words("Nothing was observed near the place in the last hours."))
        need.show(seen, "no observation", "observed")
    if rest and st.toggle(f"{len(rest)} more, old or far", key="weather.old_or_far"):
        panel(table([_row(station, result, about[0]) for station in rest[:MOST_FAR]], heads))
    if result.place is not None:
        _place(seen, result)
    panel("".join(line(words(text)) for text in _forecast_lines(result)))


def _from(seen: Seen, result: WeatherResult) -> tuple[Position | None, str]:
    """Return what distances are told from: the datum where it is known, else the place."""
    place = result.place
    if seen.about is not None and (place is None or place.block is None):
        return seen.about, "datum"
    return None, "place" if place is None else place.how


def _place(seen: Seen, result: WeatherResult) -> None:
    """Say where windows are reckoned for; where another place was told, offer the datum."""
    assert result.place is not None
    said = f"Windows are reckoned for the {result.place.how}, {result.place.position}"
    off_m = bearing = 0.0
    if seen.about is not None and result.place.block is None:
        off_m, bearing, _ = between(result.place.position, seen.about)
    if off_m <= MOVED_NMI * M_PER_NMI or result.place.how == "datum":
        panel(words(f"{said}.", "mp-quiet"))
        return
    away = f"{off_m / M_PER_NMI:.1f} nmi on {bearing:03.0f}°T"
    panel(words(f"{said}; the datum lies {away} of it.", "mp-quiet"))
    if seen.writable and seen.follows_now:
        if st.button(AT_DATUM, key="weather.at_datum"):
            _at_datum(seen)
        if refused := st.session_state.pop("weather.at_datum.refused", ""):
            panel(words(f"! {refused}"))


def _at_datum(seen: Seen) -> None:
    """Take back each place of work that was told: the datum is the place again, and moves on."""
    now = seen.journal.now()
    drafts = [
        Draft(
            kind="journal.retract", payload={"target": entry.id, "reason": "work at the datum"},
            valid_at=now, heard_at=now, source=seen.actor.name,
            identity=form_identity(f"place of work {uuid4().hex}"),
        )
        for entry in seen.known.entries("weather.place_of_work")
    ]  # fmt: skip
    try:
        seen.pen.append(seen.actor, drafts)
    except MusterplotError as reason:
        st.session_state["weather.at_datum.refused"] = str(reason)
    st.rerun()


def _row(station: StationNow, result: WeatherResult, about: Position | None) -> tuple[str, ...]:
    tags = [
        name
        for name, which in (("nearest", result.nearest), ("freshest", result.freshest))
        if which is station
    ]
    name = station.name + (f" ({', '.join(tags)})" if tags else "")
    stale = ", STALE" if station.stale else ""
    heard = f"{clock_words(station.at, result.at)}, {age_words(station.age, stale=False)}{stale}"
    wind = wind_words(station)
    if wind and not station.wind_height_known:
        wind += ", as measured"
    waves = ", ".join(w for w in (wave_words(station), state_words(station).lower()) if w)
    return (
        name,
        where_words(station) if about is None else _where(station, about),
        heard,
        waves or "not measured",
        wind or "not measured",
        _other(station),
    )


def _where(station: StationNow, about: Position) -> str:
    if station.position is None:
        return "position not known"
    off_m, bearing, _ = between(about, station.position)
    nmi = off_m / M_PER_NMI
    return "at the datum" if nmi < 0.5 else f"{nmi:.0f} nmi on {bearing:03.0f}°T"


def _other(station: StationNow) -> str:
    said = [current_words(station)]
    forms = (
        ("pressure_hpa", "{:.0f} hPa"),
        ("air_c", "air {:.0f} °C"),
        ("sea_c", "sea {:.0f} °C"),
        ("visibility_nmi", "visibility {:.0f} nmi"),
    )
    said += [form.format(station.values[name]) for name, form in forms if name in station.values]
    return ", ".join(text for text in said if text)


def _forecast_lines(result: WeatherResult) -> list[str]:
    lines = []
    for each in result.newest:
        stale = ", STALE: a newer issue is overdue" if each.stale else ""
        lines.append(
            f"Forecast: {each.issue.model}, issued {dtg(each.issue.issued_at)}, "
            f"{duration_words(each.age)} old{stale}, ends {dtg(each.issue.ends_at)}; "
            f"{each.before} issues before it known."
        )
    if not lines:
        lines.append("No forecast known: drop one in GRIB or CF-NetCDF on the plot.")
    for day in result.sun[:1]:
        if day.words:
            lines.append(f"{day.day:%d %b}: {day.words}.")
        elif day.sunrise and day.sunset and day.civil_dawn and day.civil_dusk:
            lines.append(
                f"{day.day:%d %b}: civil dawn {hhmm(day.civil_dawn)}, sunrise "
                f"{hhmm(day.sunrise)}, sunset {hhmm(day.sunset)}, civil dusk "
                f"{hhmm(day.civil_dusk)}."
            )
    if result.place is not None:
        lines.append(f"Reckoned for the {result.place.how}, {result.place.position}.")
    if result.ahead is not None:
        step = result.ahead.at(result.at)
        speed, towards = (
            float(result.ahead.current_surface_kn[step]),
            float(result.ahead.current_surface_set_deg[step]),
        )
        if speed == speed:  # not NaN
            lines.append(f"Surface current there {speed:.1f} kn setting {degrees(towards)}.")
    return lines
