"""Values as they are said: with their unit, and "not known" where there is none."""

from __future__ import annotations

from datetime import timedelta

from layers.earth.block import span_words
from layers.earth.clock import clock_words, duration_words
from layers.earth.position import Position
from layers.weather.scales import SEA_STATE_WORDS
from layers.weather.stations import StationNow

SAME_TIME = timedelta(minutes=15)


def degrees(bearing_deg: float) -> str:
    """Return a bearing in three figures with its sense: ``232°T``."""
    return f"{round(bearing_deg) % 360:03d}°T"


def wind_words(station: StationNow) -> str:
    """Return the wind as it is said, or an empty text."""
    if station.wind_10m_kn is None:
        return ""
    if station.wind_10m_kn < 0.5:
        return "calm"
    from_deg = station.values.get("wind_from_true_deg")
    direction = (
        f"from {degrees(from_deg)}" if from_deg is not None else "from no one direction told"
    )
    gust = station.values.get("gust_kn")
    gusting = f" gusting {gust:.0f}" if gust is not None and gust > station.wind_10m_kn + 3 else ""
    return f"wind {direction} {station.wind_10m_kn:.0f} kn{gusting} (force {station.beaufort})"


def wave_words(station: StationNow) -> str:
    """Return the waves as they are said, with their own time where the wind is newer."""
    hs_m = station.values.get("hs_m")
    if hs_m is None:
        return ""
    tp_s, from_deg = station.values.get("tp_s"), station.values.get("wave_from_true_deg")
    period = "" if tp_s is None else f" at {tp_s:.0f} s"
    direction = "" if from_deg is None else f" from {degrees(from_deg)}"
    taken = station.taken["hs_m"]
    older = f" (of {clock_words(taken, station.at)})" if station.at - taken > SAME_TIME else ""
    return f"Hs {hs_m:.1f} m{period}{direction}{older}"


def current_words(station: StationNow) -> str:
    """Return the current as it is said, or an empty text."""
    speed = station.values.get("current_kn")
    if speed is None:
        return ""
    towards = station.values.get("current_set_true_deg")
    setting = "" if towards is None else f" setting {degrees(towards)}"
    return f"current {speed:.1f} kn{setting}"


def state_words(station: StationNow) -> str:
    """Return the sea state with its word, or an empty text."""
    if station.sea_state is None:
        return ""
    return f"Sea state {station.sea_state} ({SEA_STATE_WORDS[station.sea_state]})"


def where_words(station: StationNow) -> str:
    """Return where a station lies: ``6 nmi on 321°``, or that it is not known."""
    if station.position is None:
        return "position not known"
    if station.over_block_nmi is not None:
        return f"{span_words(station.over_block_nmi)} from the area told"
    if station.distance_nmi is None or station.bearing_true_deg is None:
        return str(station.position)
    if station.distance_nmi < 0.5:
        return "at the place"
    return f"{station.distance_nmi:.0f} nmi on {degrees(station.bearing_true_deg)}"


def age_words(age: timedelta, stale: bool) -> str:
    """Return an age, and that it is stale."""
    return f"{duration_words(age)} old" + (", stale" if stale else "")


def place_words(position: Position | None) -> str | None:
    """Return a position as text, or nothing."""
    return None if position is None else str(position)


def percent_words(probability: float) -> str:
    """Return a probability as it is said; drawn from 2,000, it is never called certain."""
    if probability >= 0.995:
        return "over 99 %"
    if probability < 0.005:
        return "under 1 %"
    return f"{100 * probability:.0f} %"
