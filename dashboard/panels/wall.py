"""The wall: what must be read from four metres, and nothing else.

Sizes are in parts of the screen's height, so that 1920×1080 and 3840×2160 show the same: a
letter is at least 3 % of the height (about 23 mm on a 65-inch screen, ISO 9241-303 from memory),
the four answers three times that.
"""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import cache
from dashboard.panels import health
from dashboard.panels.text import words
from dashboard.view import Seen
from layers.catalogue import BY_KEY
from layers.contract import Shown
from layers.earth.clock import dtg, duration_words
from layers.earth.values import WeatherValue
from layers.picture import hand_on
from layers.scene.ink import Ink
from layers.watch.state import state

HOUR = timedelta(hours=1)


def sheet(ink: Ink) -> str:
    """Return the wall's own style sheet, on top of the page's."""
    return f"""
    .stMainBlockContainer {{ padding: 0.6vh 0.8vw !important; }}
    iframe[title="streamlit_folium.st_folium"] {{ --mp-chart: 87vh; height: 87vh !important; }}
    .mp-w {{ font-size: 3.0vh; line-height: 1.22; }}
    .mp-w .head {{ display: flex; justify-content: space-between; gap: 2vw; font-size: 3.2vh; }}
    .mp-w .four {{ font-size: 9.2vh; font-weight: 800; line-height: 1.0; white-space: nowrap; }}
    .mp-w .two {{ font-size: 4.6vh; font-weight: 700; line-height: 1.1; }}
    .mp-w .block {{ border-top: 2px solid {ink.line}; padding-top: 0.7vh; margin-top: 0.9vh; }}
    .mp-w .quiet {{ color: {ink.quiet} !important; }}
    .mp-w .change {{ border: 2px solid {ink.ink}; padding: 0 0.5vw; white-space: nowrap; }}
    .mp-w .late {{ color: {ink.late} !important; }}
    .mp-w .good {{ color: {ink.good} !important; }}
    .mp-w .alert {{ background: {ink.ink}; color: {ink.sea} !important; font-weight: 700;
      padding: 0.2vh 0.6vw; }}
    .mp-w .alert span {{ color: {ink.sea} !important; }}
    .mp-w svg {{ width: 100%; height: 19vh; }}
    body, .stApp, section.stMain {{ overflow: hidden !important; }}
    """


def style(ink: Ink) -> None:
    """Put the wall's style sheet on the page."""
    st.html(f"<style>{sheet(ink)}</style>")


def head(seen: Seen) -> None:
    """Show exercise, stage of alert, time."""
    watch = state(seen.known, seen.moment)
    exercise = seen.exercise.removeprefix("Exercise ").upper()
    parts = [
        f"<b>{words(f'EXERCISE {exercise}' if exercise else seen.journal.name)}</b>",
        words(watch.stage_words()),
        f"<b>{words(dtg(seen.moment.at))}</b>",
    ]
    st.html(f'<div class="mp-w" role="status"><div class="head">{"".join(parts)}</div></div>')


def answers(seen: Seen) -> None:
    """Show the four answers: out and to go, the margin, the window, and how old it is."""
    before = cache.shared_picture(seen.moment.at - HOUR, seen.moment.at - HOUR)
    blocks = [*_alerts(seen), _muster(seen, before.shown("survivors")), *_margin(seen),
              _window(seen), _events(seen), _health(seen)]  # fmt: skip
    inner = "".join(f'<div class="block">{block}</div>' for block in blocks if block)
    st.html(f'<div class="mp-w">{inner}</div>')


def _alerts(seen: Seen) -> list[str]:
    watch = state(seen.known, seen.moment)
    found = [alarm.alarm.value.said for alarm in watch.alarms if alarm.taken is None][-2:]
    found = [*health.sentences(seen), *found]
    return [f'<div class="alert" role="alert">{words(text)}</div>' for text in found[:3]]


def _muster(seen: Seen, before: Shown | None) -> str:
    shown = seen.picture.shown("survivors")
    if shown is None:
        return words("No muster yet")
    muster = shown.result.muster
    change = ""
    if before is not None:
        gained = muster.out - before.result.muster.out
        if gained:
            change = f'<span class="change">{words(f"{gained:+d} in the last hour")}</span>'
    places = " · ".join(f"{place} {count}" for place, count in muster.by_place.items() if count)
    return (
        f'<div class="four">{words(f"OUT {muster.out}")} {words(f"TO GO {muster.to_go}")}</div>'
        f"<div>{words(f'of {muster.pob} on board')} {change}</div>"
        f'<div class="quiet">{words(places)}</div>'
    )


def _margin(seen: Seen) -> list[str]:
    shown = seen.picture.layers.get("margin")
    if not isinstance(shown, Shown):
        reason = shown.reason if shown is not None else "no lift plan yet"
        return [f'<div class="quiet">{words(reason)}</div>']
    found = []
    for refuge in shown.result.outlook.refuges:
        css = "late" if refuge.short else "good"
        found.append(f'<div class="two {css}">{words(refuge.words, css)}</div>')
    return ["".join(found)] if found else []


def _window(seen: Seen) -> str:
    found = seen.picture.layers.get("weather")
    if not isinstance(found, Shown):
        return words("no weather yet" if found is None else found.reason, "quiet")
    return f'<div class="two">{words(_window_words(seen))}</div>'


def _window_words(seen: Seen) -> str:
    """Return when the sea lets us launch, from the windows the weather layer hands on."""
    value = hand_on(BY_KEY["weather"], seen.picture.layers["weather"])
    if not isinstance(value, WeatherValue):
        return "Launch: not known"
    windows = [window for window in value.windows if window.operation == "launch"]
    at = seen.moment.at
    ahead = [w for w in windows if w.closes is None or w.closes > at]
    if not ahead:
        return "Launch: no window in the forecast"
    first = ahead[0]
    if first.opens > at:
        return f"Launch: closed, opens in {duration_words(first.opens - at)}"
    if first.closes is None:
        return "Launch: open to the end of the forecast"
    return f"Launch: open, closes in {duration_words(first.closes - at)}"


def _events(seen: Seen) -> str:
    watch = state(seen.known, seen.moment)
    found = [f"<div><b>{words(e.words(seen.moment.at))}</b></div>" for e in watch.overdue[:2]]
    found += [f"<div>{words(e.words(seen.moment.at))}</div>" for e in watch.ahead[:3]]
    return "".join(found[:3]) or words("Nothing is due", "quiet")


def _health(seen: Seen) -> str:
    return f'<div class="quiet">{health.lines(seen, most=2)}</div>'
