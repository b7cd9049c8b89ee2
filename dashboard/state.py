"""Every key of a viewer's session, with its default; and the view that a link holds.

The link's query holds the view (frame, centre, reach, layers, time, ink), so that a link opens
what its sender saw. What arrives in a query is text from outside: it is parsed, never trusted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from urllib.parse import urlencode

import streamlit as st

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.clock import from_us, to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import nmi_to_m
from layers.scene.ink import INKS


class Key(StrEnum):
    """The names under which a session keeps things."""

    FRAME = "frame"
    CENTRE = "centre"  # "lat lon" of a chosen centre, "" for the datum
    CENTRE_TEXT = "centre_text"  # as it was typed
    HELD_CENTRE = "held_centre"  # the datum when the chart was opened: it must not slip about
    HALF_WIDTH = "half_width_m"
    HIDDEN = "hidden_layers"
    SHADED = "fields_shaded"
    EVERY_MARK = "every_mark"  # also what is quiet once a fix holds
    INK = "ink"
    AS_OF = "as_of_us"  # microseconds, None for now
    AT = "at_us"  # microseconds, None for the same as as_of
    PLAYING = "playing"
    PLAY_STEP = "play_step_min"
    PLAY_TICK = "play_tick"
    POINTS = "measured_points"
    LINES = "laid_off_lines"
    MEASURING = "measuring"
    LAST_CLICK = "last_click"
    FILES_READ = "files_read"
    FILES_RATE = "files_rate"  # how many in the last minute
    FILES_SAID = "files_said"  # what became of each, ready HTML
    FILES_ASKED = "files_asked"  # what has to be said of a file before it is recorded, by its id
    DECK = "deck_made"
    TURN = "wall_turn"
    TURN_TICK = "wall_turn_tick"
    SIDE = "side"
    EXPORT = "export_made"  # name and bytes of the last export of this session
    WAITING = "waiting_for_slow_layers"
    SHOWN = "page_shown"  # the page has run; from now on only what is new runs it again
    READ_QUERY = "query_read"
    RECORDED = "last_recorded"  # the number of this session's own last record, until it is shown
    MARKED = "last_marked"  # the record of this session's own that an empty chart has marked
    CHART_VIEW = "chart_view"  # what this run's chart shows, in words
    LAST_SHOWN = "last_shown"  # moment and place in the order of the last picture of now


FRAME_OF = "frame of "  # before the name of a page's own frame that is held
DEFAULTS: dict[Key, Any] = {
    Key.FRAME: FrameName.RANGE_TRUE.value,
    Key.CENTRE: "",
    Key.CENTRE_TEXT: "",
    Key.HELD_CENTRE: "",
    Key.HALF_WIDTH: 25_000.0,
    Key.HIDDEN: (),
    Key.SHADED: False,
    Key.EVERY_MARK: False,
    Key.INK: "night",
    Key.AS_OF: None,
    Key.AT: None,
    Key.PLAYING: False,
    Key.PLAY_STEP: 10,
    Key.PLAY_TICK: False,
    Key.POINTS: (),
    Key.LINES: (),
    Key.MEASURING: False,
    Key.LAST_CLICK: None,
    Key.FILES_READ: (),
    Key.FILES_RATE: None,
    Key.FILES_SAID: (),
    Key.FILES_ASKED: {},
    Key.DECK: None,
    Key.TURN: 0,
    Key.TURN_TICK: False,
    Key.SIDE: "Now",
    Key.EXPORT: None,
    Key.WAITING: False,
    Key.SHOWN: False,
    Key.READ_QUERY: False,
    Key.RECORDED: 0,
    Key.MARKED: 0,
    Key.CHART_VIEW: "",
    Key.LAST_SHOWN: None,
}


def get(key: Key) -> Any:
    """Return a value of this session, its default when it was never set."""
    return st.session_state.get(key.value, DEFAULTS[key])


def put(key: Key, value: Any) -> None:
    """Keep a value in this session."""
    st.session_state[key.value] = value


@dataclass(frozen=True, slots=True)
class AskedTimes:
    """The two times that the session asks for; None means now."""

    as_of: datetime | None
    at: datetime | None


def times() -> AskedTimes:
    """Return the times asked for."""
    as_of, at = get(Key.AS_OF), get(Key.AT)
    return AskedTimes(
        from_us(as_of) if as_of is not None else None, from_us(at) if at is not None else None
    )


def show_now() -> None:
    """Go back to now."""
    put(Key.AS_OF, None)
    put(Key.AT, None)
    put(Key.PLAYING, False)


def show_time(at: datetime, now: datetime, *, hindsight: bool) -> None:
    """Show ``at``: as known then, in hindsight, or, ahead of now, as expected."""
    if at > now or hindsight:
        put(Key.AS_OF, None)
        put(Key.AT, to_us(at))
    else:
        put(Key.AS_OF, to_us(at))
        put(Key.AT, None)


MANAGED = {"frame", "centre", "reach", "ink", "hide", "shaded", "every", "as_of", "at"}
NUMBER = r"-?\d{1,3}(?:\.\d{1,7})?"
PLACE = re.compile(rf"({NUMBER}),({NUMBER})", re.ASCII)  # degrees: latitude, longitude
REACH = re.compile(r"\d{1,4}(?:\.\d{1,3})?", re.ASCII)  # nautical miles
REACHES_NMI = (0.1, 2_700.0)
FLAGS = ((Key.SHADED, "shaded"), (Key.EVERY_MARK, "every"))


def read_query() -> None:
    """Take the view out of the link, once a session; what cannot be read is left at its default."""
    if get(Key.READ_QUERY):
        return
    put(Key.READ_QUERY, True)
    query = st.query_params
    if (frame := query.get("frame")) in {name.value for name in FrameName}:
        put(Key.FRAME, frame)
    if (ink := query.get("ink")) in INKS:
        put(Key.INK, ink)
    if hidden := query.get("hide"):
        put(Key.HIDDEN, tuple(word for word in hidden.split(",") if word.isidentifier())[:20])
    for key, name in FLAGS:
        put(key, query.get(name) == "1")
    for key, name in ((Key.AS_OF, "as_of"), (Key.AT, "at")):
        text = query.get(name, "")
        if text.lstrip("-").isdigit() and len(text) <= 17:
            put(key, int(text))
    _read_extent(query.get("centre", ""), query.get("reach", ""))


def _read_extent(centre: str, reach: str) -> None:
    """Take centre and reach out of a link; a centre that the frame cannot hold is left out."""
    if REACH.fullmatch(reach) and REACHES_NMI[0] <= float(reach) <= REACHES_NMI[1]:
        put(Key.HALF_WIDTH, nmi_to_m(float(reach)))
    found = PLACE.fullmatch(centre)
    if found is None:
        return
    try:
        place = Position(float(found[1]), float(found[2]))
        frame_for(place, FrameName(get(Key.FRAME)), get(Key.HALF_WIDTH))
    except InputError:
        return
    put(Key.CENTRE, f"{place.latitude_deg} {place.longitude_deg}")
    put(Key.CENTRE_TEXT, f"{place.latitude_deg} {place.longitude_deg}")


def view_query() -> dict[str, str]:
    """Return this session's view as the words of a link; what stands at its default is left out.

    A chart about the datum says no place: each who opens the link has the datum that they may
    see.
    """
    wanted: dict[str, str] = {}
    if get(Key.FRAME) != DEFAULTS[Key.FRAME]:
        wanted["frame"] = get(Key.FRAME)
    if get(Key.CENTRE):
        wanted["centre"] = place_words(*map(float, get(Key.CENTRE).split()))
    if get(Key.HALF_WIDTH) != DEFAULTS[Key.HALF_WIDTH]:
        wanted["reach"] = f"{get(Key.HALF_WIDTH) / nmi_to_m(1.0):.3f}".rstrip("0").rstrip(".")
    if get(Key.INK) != DEFAULTS[Key.INK]:
        wanted["ink"] = get(Key.INK)
    if get(Key.HIDDEN):
        wanted["hide"] = ",".join(get(Key.HIDDEN))
    wanted |= {name: "1" for key, name in FLAGS if get(key)}
    for key, name in ((Key.AS_OF, "as_of"), (Key.AT, "at")):
        if get(key) is not None:
            wanted[name] = str(get(key))
    return wanted


def place_words(latitude_deg: float, longitude_deg: float) -> str:
    """Return a place as it stands in a link: degrees, to a millionth (0.1 m)."""
    return f"{latitude_deg:.6f},{longitude_deg:.6f}"


def link(page: str = "", **other: str) -> str:
    """Return the address of a page with this view, ``other`` words in place of its own."""
    query = urlencode({**view_query(), **other}, safe=",")
    return f"./{page}?{query}" if query else f"./{page}"


def write_query() -> None:
    """Put the view into the link, so that the address bar is always the link to this view."""
    wanted = view_query()
    current = dict(st.query_params)
    kept = {k: v for k, v in current.items() if k not in MANAGED}
    if current != {**kept, **wanted}:
        st.query_params.from_dict({**kept, **wanted})
