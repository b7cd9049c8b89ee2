"""The whole sortie first: may it begin, until or from when, and each limit against now."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from html import escape

import streamlit as st

from dashboard.panels.text import panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, duration_words, from_us
from layers.scene.ink import Ink
from layers.weather.model import Limit
from layers.weather.result import WeatherResult
from layers.weather.sea.dive import Dive
from layers.weather.sea.windows import LIMITS, against

WIDTH, ROW, LEFT = 1000, 30, 130  # of the drawing, its units
NAMED = 110  # a stretch as long as this says what it is
SHOWN = timedelta(hours=72)
NAME = {True: "may begin", False: "may not begin", None: "not known"}
NONE = "No limits are recorded: record those of launch, dive, mating and recovery."
HEADS = ("Part", "Limit", "Observed now", "Expected now", "")


def show_bar(seen: Seen) -> None:
    """Show when a whole sortie may begin, as one bar, and how long one takes."""
    result = _result(seen)
    if result is None:
        return
    if result.dive_withheld:
        panel(words("Whether a sortie may begin is withheld here."))
        return
    if result.dive.starts:
        st.markdown(bar(result.dive, seen.ink), unsafe_allow_html=True)
    if said := " ".join(_asides(result.dive)):
        st.html(words(said, "mp-quiet"))


def show_limits(seen: Seen) -> None:
    """Show every limit of every operation held against what is observed and expected now."""
    result = _result(seen)
    if result is None or result.dive_withheld:
        return
    rows = limit_rows(result)
    if rows:
        panel(table(rows, HEADS))
    else:
        need.said(seen, NONE, "limits", "weather.limit")


def show_against(seen: Seen) -> None:
    """Show each quantity once: observed and expected now, and the narrowest limit set on it."""
    result = _result(seen)
    if result is None or result.dive_withheld:
        return
    rows = narrowest(result)
    if not rows:
        need.said(seen, NONE, "against", "weather.limit")
        return
    panel(table(rows, ("Now", "Observed", "Expected", "Narrowest limit", "")))


def narrowest(result: WeatherResult) -> list[tuple[str, ...]]:
    """Return one row a quantity: name, observed, expected, narrowest limit and whose, verdict."""
    found: list[tuple[str, ...]] = []
    seen = {each.name: each for limit in result.limits for each in against(limit, result.near)}
    for name, variable, field, greatest, unit in LIMITS:
        bounds = [
            (bound, limit.operation)
            for limit in result.limits
            if (bound := getattr(limit, field)) is not None
        ]
        if not bounds:
            continue
        bound = (min if greatest else max)(value for value, _ in bounds)
        whose = ", ".join(operation for value, operation in bounds if value == bound)
        one, expected = seen.get(name), _expected(result, variable)
        value = one.value if one is not None else expected
        observed = "–" if one is None else _figure(one.value, unit)
        said = "–" if expected is None else _figure(expected, unit)
        most = "most" if greatest else "least"
        limit_said = f"{most} {_figure(bound, unit)}, {whose}"
        found.append((name, observed, said, limit_said, _verdict(value, bound, greatest)))
    return found


def _figure(value: float, unit: str) -> str:
    """Return a value as fine as a limit is set: a tenth, from ten on whole."""
    return f"{value:.0f} {unit}" if abs(value) >= 10.0 else f"{value:.1f} {unit}"


def _result(seen: Seen) -> WeatherResult | None:
    found = seen.picture.shown("weather")
    return None if found is None else found.result


def _headline(dive: Dive) -> str:
    said = dive.words
    return said[:1].upper() + said[1:] + "."


def _asides(dive: Dive) -> list[str]:
    said = []
    sortie = dive.sortie
    if sortie.whole_h is not None:
        whole = duration_words(timedelta(hours=sortie.whole_h))
        said.append(
            f"A whole sortie takes {whole}, launch to deck, timed by "
            f"{sortie.timed_by}; nine in ten take no longer."
            if sortie.timed_by != "the limits"
            else f"A whole sortie takes {whole}, launch to deck, by the limits' own lengths."
        )
    if dive.decide_by is not None:
        must = "Decide by" if dive.decide_by >= dive.at else "It had to be decided by"
        said.append(f"{must} {clock_words(dive.decide_by, dive.at)}.")
    return said


def bar(dive: Dive, ink: Ink) -> str:
    """Return the hours at which a sortie may begin as one bar: filled, hollow, hatched."""
    end = dive.at + SHOWN
    scale = (WIDTH - LEFT) / SHOWN.total_seconds()

    def x(at: datetime) -> float:
        return LEFT + max(0.0, min(1.0, (at - dive.at) / SHOWN)) * SHOWN.total_seconds() * scale

    parts = [
        f'<svg viewBox="0 0 {WIDTH} {ROW + 26}" role="img" width="100%" aria-label="'
        f'{escape(_headline(dive))}"><defs><pattern id="sortie-unknown" width="6" height="6" '
        f'patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" '
        f'y2="6" stroke="{ink.quiet}" stroke-width="1.5"/></pattern></defs>',
        f'<text x="0" y="{ROW - 9}" font-size="15" fill="{ink.ink}">whole sortie</text>',
    ]
    for begin, until, verdict in dive.starts:
        if begin >= end:
            continue
        fill = {True: ink.search, False: "none", None: "url(#sortie-unknown)"}[verdict]
        wide = max(1.0, x(min(until, end)) - x(begin))
        begin = max(begin, dive.at)  # the step that now lies in began before it
        told = f"{NAME[verdict]} {clock_words(begin, dive.at)} to {clock_words(until, dive.at)}"
        parts.append(
            f'<rect x="{x(begin):.1f}" y="4" width="{wide:.1f}" height="{ROW - 10}" fill="{fill}" '
            f'stroke="{ink.quiet}" stroke-width="1"><title>{escape(told)}</title></rect>'
        )
        if wide > NAMED:
            over = ink.page if verdict else ink.ink
            parts.append(
                f'<text x="{x(begin) + 8:.1f}" y="{ROW - 11}" font-size="13" fill="{over}">'
                f"{NAME[verdict]}</text>"
            )
    for at in _ticks(dive.at, end):
        anchor = "middle" if at - dive.at > timedelta(hours=2) else "start"
        anchor = "end" if end - at < timedelta(hours=2) else anchor
        parts.append(
            f'<text x="{x(at):.1f}" y="{ROW + 16}" font-size="13" text-anchor="{anchor}" '
            f'fill="{ink.quiet}">{escape(clock_words(at, dive.at))}</text>'
        )
    return "".join((*parts, "</svg>"))


def _ticks(start: datetime, end: datetime) -> Iterator[datetime]:
    """Yield the whole half days of an axis: times that people say."""
    at = start.replace(hour=0, minute=0, second=0, microsecond=0)
    while at <= end:
        if at >= start:
            yield at
        at += timedelta(hours=12)


def limit_rows(result: WeatherResult) -> list[tuple[str, str, str, str, str]]:
    """Return each limit in force with what is observed and what is expected now."""
    rows: list[tuple[str, str, str, str, str]] = []
    for limit in result.limits:
        seen = {each.name: each for each in against(limit, result.near)}
        for name, variable, field, greatest, unit in LIMITS:
            bound = getattr(limit, field)
            if bound is None:
                continue
            one = seen.get(name)
            observed = "not observed near"
            if one is not None:
                when = clock_words(from_us(one.seen.at_us), result.at)
                observed = f"{_figure(one.value, unit)} at {one.seen.station}, {when}"
            expected = _expected(result, variable)
            told = one.value if one is not None else expected
            rows.append(
                (
                    limit.operation,
                    f"{name} {'at most' if greatest else 'at least'} {bound:g} {unit}",
                    observed,
                    "not known" if expected is None else _figure(expected, unit),
                    _verdict(told, bound, greatest),
                )
            )
        rows += _daylight(limit, result)
    return rows


def _verdict(value: float | None, bound: float, greatest: bool) -> str:
    if value is None:
        return "not known"
    within = value <= bound if greatest else value >= bound
    return "within" if within else ("OVER" if greatest else "UNDER")


def _expected(result: WeatherResult, variable: str) -> float | None:
    if result.ahead is None:
        return None
    value = float(getattr(result.ahead, variable)[result.ahead.at(result.at)])
    return value if value == value else None


def _daylight(limit: Limit, result: WeatherResult) -> list[tuple[str, str, str, str, str]]:
    if not limit.daylight_only or result.ahead is None:
        return []
    light = bool(result.ahead.daylight[result.ahead.at(result.at)])
    said = "day" if light else "night"
    return [(limit.operation, "daylight only", "", said, "within" if light else "OVER")]
