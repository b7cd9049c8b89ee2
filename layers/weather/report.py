"""The weather as a table and as one sentence that can be read out."""

from __future__ import annotations

import math

from layers.earth.block import span_words
from layers.earth.clock import dtg
from layers.earth.plausible import LIMITS
from layers.earth.table import Cell, Table
from layers.weather.result import WeatherResult
from layers.weather.say import (
    age_words,
    current_words,
    degrees,
    place_words,
    state_words,
    wave_words,
    where_words,
    wind_words,
)
from layers.weather.scales import SEA_STATE_WORDS, beaufort, sea_state
from layers.weather.sea.place import TOLD
from layers.weather.sea.window_words import windows_words
from layers.weather.stations import FAR_NMI, StationNow

HEADS = (
    "Station",
    "Name",
    "Position",
    "From the place (nmi)",
    "Bearing (° true)",
    "Time (UTC)",
    "Age (min)",
    "State",
    "Wind from (° true)",
    "Wind at 10 m (kn)",
    "Gust (kn)",
    "Beaufort force",
    "Hs (m)",
    "Tp (s)",
    "Waves from (° true)",
    "Sea state",
    "Current sets (° true)",
    "Current (kn)",
    "Pressure (hPa)",
    "Air (°C)",
    "Sea (°C)",
    "Visibility (nmi)",
)


def table(result: WeatherResult) -> Table:
    """Return one row a station, nearest first, positions that are not known last."""
    return Table(
        heads=HEADS,
        rows=tuple(_row(station, result) for station in result.stations),
        sources=tuple(" ".join(station.rests_on) for station in result.stations),
    )


def _row(station: StationNow, result: WeatherResult) -> tuple[Cell, ...]:
    def value(name: str, places: int = 1) -> float | None:
        found = station.values.get(name)
        return None if found is None else round(found, places)

    return (
        station.station,
        station.name,
        place_words(station.position) or "not known, not on the map",
        _away(station),
        None if station.bearing_true_deg is None else round(station.bearing_true_deg),
        station.at,
        round(station.age.total_seconds() / 60.0),
        _state(station, result),
        value("wind_from_true_deg", 0),
        None if station.wind_10m_kn is None else round(station.wind_10m_kn, 1),
        value("gust_kn"),
        station.beaufort,
        value("hs_m"),
        value("tp_s"),
        value("wave_from_true_deg", 0),
        station.sea_state,
        value("current_set_true_deg", 0),
        value("current_kn"),
        value("pressure_hpa"),
        value("air_c"),
        value("sea_c"),
        value("visibility_nmi"),
    )


def _away(station: StationNow) -> Cell:
    if station.over_block_nmi is not None:
        return span_words(station.over_block_nmi)
    return None if station.distance_nmi is None else round(station.distance_nmi, 1)


def _state(station: StationNow, result: WeatherResult) -> str:
    words = ["stale" if station.stale else "fresh"]
    if result.nearest is station:
        words.append("nearest")
    if result.freshest is station:
        words.append("freshest")
    if not station.wind_height_known and station.wind_10m_kn is not None:
        words.append("wind as measured, anemometer height not known")
    if station.doubtful:
        words.append(f"doubtful: {', '.join(LIMITS[name].words for name in station.doubtful)}")
    return ", ".join(words)


def sentence(result: WeatherResult) -> str:
    """Return the weather in a few clauses: what it is, how old, and how long it lets us work."""
    place = result.place
    told = place is None or place.how == TOLD  # who told a place knows it
    where = "" if place is None or told else f", judged {place.words}"
    said = f" {capital(result.dive.words)}{where}." if windows_words(result) else ""
    return _now_words(result) + said + _doubtful_words(result)


def _doubtful_words(result: WeatherResult) -> str:
    """Return what near the place is doubted: two of them in full, the rest counted."""
    held = [
        f"{station.name}: {doubt.why}"
        for station in result.stations
        if not station.stale
        for doubt in station.doubtful.values()
    ]
    if not held:
        return ""
    more = f", and {len(held) - 2} more" if len(held) > 2 else ""
    return f" Doubtful, not worked with: {'; '.join(held[:2])}{more}."


def capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def _now_words(result: WeatherResult) -> str:
    if result.at > result.as_of or result.headline is None:
        expected = expected_words(result)
        if expected:
            return expected
    said = result.headline
    if said is None:
        near = result.nearest
        if near is None:
            return "No station reports."
        far = f" ({where_words(near)})" if near.position is not None else ""
        return (
            f"No station within {FAR_NMI:.0f} nmi has reported in the last day; the nearest, "
            f"{near.name}{far}, is {age_words(near.age, stale=False)}."
        )
    now = ", ".join(
        w for w in (state_words(said), wave_words(said), wind_words(said), current_words(said)) if w
    )
    text = capital(now) or "No wind or waves measured"
    place = result.place
    of = "" if place is None or place.how == "place of work" else f" of the {place.how}"
    where = where_words(said) + (of if " nmi on " in where_words(said) else "")
    text += f", at {said.name} ({where}, {age_words(said.age, said.stale)})"
    near = result.nearest
    if near is not None and near is not said:
        how_old = age_words(near.age, near.stale)
        text += f"; the nearest, {near.name} ({where_words(near)}), is {how_old}"
    return text + "."


def expected_words(result: WeatherResult) -> str:
    """Return what is expected at the place at the time shown, or an empty text."""
    ahead, place = result.ahead, result.place
    if ahead is None or place is None:
        return ""
    step = ahead.at(result.at)
    hs_m, tp_s = float(ahead.hs_m[step]), float(ahead.tp_s[step])
    wind_kn, from_deg = float(ahead.wind_kn[step]), float(ahead.wind_from_true_deg[step])
    parts = []
    if not math.isnan(hs_m):
        code = sea_state(hs_m)
        period = "" if math.isnan(tp_s) else f" at {tp_s:.0f} s"
        parts.append(f"sea state {code} ({SEA_STATE_WORDS[code]}), Hs {hs_m:.1f} m{period}")
    if not math.isnan(wind_kn):
        parts.append(f"wind from {degrees(from_deg)} {wind_kn:.0f} kn (force {beaufort(wind_kn)})")
    if not parts:
        return ""
    issues = [each for each in result.newest if each.issue.model in result.field.speaks.values()]
    issued = f", forecast issued {dtg(issues[0].issue.issued_at)}" if issues else ""
    return f"Expected at the {place.how}: {', '.join(parts)}{issued}."
