"""One row a refuge: its people, and every quantity against its level; what ends first on top."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta
from html import escape
from typing import cast

import streamlit as st

from dashboard.panels.survivors import gauge
from dashboard.panels.text import panel, words
from dashboard.view import Seen
from layers import answer_words
from layers.earth.clock import clock_words, duration_words, relative_words
from layers.earth.told import RefugeMargin
from layers.earth.uncertain import Bounds, NotKnown, Number, ends
from layers.survivors.air.formulas import AirOutlook, RefugeAir
from layers.survivors.air.levels import LevelHours
from layers.survivors.compute import MarginResult
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState

HOW = "Each level alone, if nobody leaves. Bar: healthy to the level, with P10 to P90."


def show(seen: Seen, who: Muster) -> AirOutlook | None:
    """Show the rows; return the air, None while it is not there."""
    found = seen.picture.shown("margin")
    if found is None:
        held = seen.picture.layers.get("margin")
        panel(words(getattr(held, "reason", "the air is being worked out")))
        return None
    result: MarginResult = found.result
    st.markdown(html(seen, who, result), unsafe_allow_html=True)
    return result.air


def html(seen: Seen, who: Muster, result: MarginResult) -> str:
    """Return the rows as one line of HTML with their drawings; every text in it is escaped."""
    waiting = [p for p in who.places if p.sort is PlaceSort.REFUGE and p.alive]
    ordered = sorted(waiting, key=lambda place: _first_h(result.air.of(place.name)))
    margins = {one.refuge: one for one in seen.answers.margin.values()}
    rows = [
        _row(seen, place, result.air.of(place.name), margins.get(place.name), n)
        for n, place in enumerate(ordered)
    ]
    reached = _reached(result.air)
    first = _what_first(result.air, margins, seen.moment.at)
    head = f'<div class="mp-ends"><b>What ends first:</b> {first} '
    quiet = f'<span class="mp-quiet">{escape(HOW)}</span></div>' if rows else "</div>"
    water = _water(result)
    return f'<div class="mp-refuges">{reached}{head}{quiet}{water}{"".join(rows)}</div>'


def _water(result: MarginResult) -> str:
    """Return which compartments were told to be flooded, and which dry; empty where none was."""
    told = {state: [one.refuge for one in result.refuges if one.water == state]
            for state in ("flooded", "dry")}  # fmt: skip
    said = "; ".join(f"{state}: {', '.join(names)}" for state, names in told.items() if names)
    return f'<div class="mp-quiet">Told {escape(said)}.</div>' if said else ""


def _first_h(one: RefugeAir | None) -> float:
    """Return what a refuge is put in order by: what may end first, unknown before all known."""
    if one is None or not one.levels:
        return -1.0
    return min(level.at_least_h or level.hours.p50 for level in one.levels)


def _reached(air: AirOutlook) -> str:
    found = [
        f"{escape(one.refuge)} refuge: {escape(level.name)} ({escape(level.limit)}) REACHED"
        for one in air.refuges
        for level in one.levels
        if one.persons and level.reached
    ]
    return "".join(f'<div class="mp-reached">{said}</div>' for said in found)


def _what_first(air: AirOutlook, margins: Mapping[str, RefugeMargin], at: datetime) -> str:
    """Return the refuge whose first level comes soonest; that is sooner than any level alone."""
    ahead = [
        (one, level)
        for one in air.refuges
        for level in one.levels
        if one.persons and not level.reached and math.isfinite(level.hours.p50)
    ]
    unread = [one.refuge for one in air.unknown if not one.level]
    said = []
    if ahead:
        one, level = min(ahead, key=lambda pair: pair[1].hours.p50)
        name, hours = level.name, _hours(level)
        told = [m for m in margins.values() if m.lasts_until is not None]
        if told and not isinstance(level.form, Bounds):
            first = min(told, key=lambda m: cast("datetime", m.lasts_until))
            one, name = air.of(first.refuge) or one, f"first level, most often {first.binds}"
            left = cast("datetime", first.lasts_until) - at
            hours = escape(_span(left.total_seconds() / 3600.0) + first.how_sure)
        said.append(f"{escape(one.refuge)} refuge, {escape(name)}, in <b>{hours}</b>.")
    elif air.refuges:
        said.append("no level has a time.")
    if unread:
        said.append(f"<b>Not known: the air of {escape(', '.join(unread))}.</b>")
    return " ".join(said) or "nobody is known to wait in a refuge with readings of its air."


def _hours(level: LevelHours) -> str:
    form = level.form
    if isinstance(form, Bounds) and level.untold:
        return escape(f"at least {_span(form.at_least or 0.0)}")
    if isinstance(form, Bounds):
        return escape(" to ".join(_span(v) for v in ends(form) if v is not None))
    return escape(_span(level.hours.p50))


def _span(hours: float) -> str:
    return "now" if hours <= 0 else duration_words(timedelta(hours=hours))


def _row(
    seen: Seen, place: PlaceState, one: RefugeAir | None, margin: RefugeMargin | None, n: int
) -> str:
    fit = {"walking": "walking", "injured": "injured", "stretcher": "stretcher",
           "unknown": "fitness not told"}  # fmt: skip
    told = ", ".join(f"{place.of(f)} {word}" for f, word in fit.items() if place.of(f))
    title = place.name if "refuge" in place.name.lower() else f"{place.name} refuge"
    who = (
        f'<div class="mp-who"><h3>{escape(title.capitalize())}</h3>'
        f"<div><b>{place.alive}</b> <span>{escape(told)}</span></div>"
        f'<div class="mp-quiet">{_read(one, seen.moment.at)}<br>'
        f"{_margin(margin, seen.moment.at)}</div></div>"
    )
    if one is None:
        asked = escape("the air was never read: ask the pressure, CO2, oxygen, temperature")
        return f'<div class="mp-refuge">{who}<div class="mp-unread"><b>–</b> {asked}</div></div>'
    drawn = "".join(
        f"<div>{gauge.drawing(g, seen.ink, f'{n}-{k}')}</div>"
        for k, g in enumerate(gauge.gauges(one, seen.moment.at))
    )
    doubts = [one.doubt, *one.doubts] if one.doubt else []
    said = "".join(f'<div class="mp-doubt">? {escape(d)}</div>' for d in doubts[:1])
    return f'<div class="mp-refuge">{who}<div class="mp-gauges">{drawn}</div></div>{said}'


def _read(one: RefugeAir | None, at: datetime) -> str:
    if one is None:
        return "never read"
    return f"read {escape(clock_words(one.read_at, at))}, {escape(relative_words(one.read_at, at))}"


def _margin(margin: RefugeMargin | None, at: datetime) -> str:
    if margin is None:
        return "no margin"
    found = margin.if_nobody_leaves_h
    out = "" if margin.last_out is None else f"out by plan {clock_words(margin.last_out, at)}<br>"
    if lasts := answer_words.lasts_words(margin, at):
        out = f"first level {lasts}<br>{out}"
    if isinstance(found, NotKnown):
        return f"{out}margin not known"
    figure = answer_words.quantity_figure(found)
    late = isinstance(found, Number) and found.value < 0
    word = "h: LATE" if late else "h to spare"
    css = "mp-late" if late else "mp-strong"
    return f'{out}<b class="{css}">{escape(figure.removeprefix("+"))} {word}</b>'
