"""The wall: what must be read from four metres, and nothing else.

Sizes are in parts of the screen's height, so that 1920×1080 and 3840×2160 show the same: a
capital is at least 2.9 % of the height (23 mm on a 65-inch screen, 20 minutes of arc at four
metres; ISO 9241-303 from memory), a figure of the four answers three times that. The drawing of
the two clocks and the chart's names have letters of 3 % of the height, line height and all.
"""

from __future__ import annotations

import math
from datetime import timedelta
from html import escape

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import cache
from dashboard.panels import health
from dashboard.panels.text import words
from dashboard.view import Seen
from layers.contract import Shown
from layers.earth.clock import clock_words, dtg, duration_words, relative_words
from layers.earth.uncertain import Bounds, ends
from layers.scene.ink import Ink
from layers.survivors.lifts.margin_model import Outlook
from layers.weather.sea.dive import Dive

HOUR = timedelta(hours=1)
LOOK = timedelta(seconds=2)  # at the other processes
MOST_SAID = 72  # letters that two lines of the right half hold


def sheet(ink: Ink, *, clocks_large: bool = False) -> str:
    """Return the wall's own style sheet, on top of the page's; the two halves fill the height."""
    chart, clocks = ("30vh", "61vh") if clocks_large else ("57vh", "34vh")
    return f"""
    body, .stApp, section.stMain {{ overflow: hidden !important; }}
    .stMainBlockContainer {{ padding: 0.5vh 0.8vw !important; }}
    div[data-testid="stVerticalBlock"] {{ gap: 0.6vh; }}
    .stMain p[data-testid], .mp-w, .mp-w span {{ font-variant-numeric: tabular-nums; }}
    iframe[title="streamlit_folium.st_folium"] {{ --mp-chart: {chart};
      height: {chart} !important; }}
    .mp-w {{ font-size: 4.4vh; line-height: 1.14; }}
    .mp-w .head {{ display: flex; justify-content: space-between; gap: 2vw; white-space: nowrap; }}
    .mp-w .four {{ display: grid; grid-template-columns: 1fr 1fr; column-gap: 1vw; }}
    .mp-w .figure {{ font-size: 13.8vh; font-weight: 800; line-height: 0.86; display: block;
      white-space: nowrap; }}
    .mp-w .answer > span {{ display: block; white-space: nowrap; }}
    .mp-w .figure small {{ font-size: 6.4vh; color: inherit; }}
    .mp-w .block {{ border-top: 2px solid {ink.line}; padding-top: 0.4vh; margin-top: 0.5vh; }}
    .mp-w .line {{ white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }}
    .mp-w .quiet {{ color: {ink.quiet} !important; }}
    .mp-w .change {{ border: 2px solid {ink.ink}; padding: 0 0.5vw; white-space: nowrap; }}
    .mp-w .late {{ color: {ink.late} !important; }}
    .mp-w .good {{ color: {ink.good} !important; }}
    .mp-w .alert {{ background: {ink.ink}; color: {ink.sea} !important; font-weight: 700;
      padding: 0.1vh 0.6vw; display: -webkit-box; -webkit-box-orient: vertical;
      -webkit-line-clamp: 2; overflow: hidden; }}
    .mp-w .alert span {{ color: {ink.sea} !important; }}
    .mp-clocks {{ height: {clocks}; overflow: hidden; text-align: center; }}
    .mp-clocks img, .mp-clocks svg {{ width: 100%; height: 100%; object-fit: contain; }}
    """


def style(ink: Ink, *, clocks_large: bool = False) -> None:
    """Put the wall's style sheet on the page."""
    st.html(f"<style>{sheet(ink, clocks_large=clocks_large)}</style>")


def head(seen: Seen) -> None:
    """Show exercise, stage of alert, time."""
    watch = seen.watch
    exercise = seen.exercise.removeprefix("Exercise ").upper()
    parts = [
        f"<b>{words(f'EXERCISE {exercise}' if exercise else seen.journal.name)}</b>",
        words(watch.stage_words()),
        f"<b>{words(dtg(seen.moment.at))}</b>",
    ]
    st.html(f'<div class="mp-w" role="status"><div class="head">{"".join(parts)}</div></div>')


def answers(seen: Seen) -> DeltaGenerator:
    """Show the four answers as figures, then what is due, what is amiss, and how old it is.

    What has changed in the last hour is marked by `changed`, in the place that is returned: the
    answers and the chart do not wait for a second picture.
    """
    alerts(seen)
    place = st.empty()
    hour_ago = seen.moment.at - HOUR
    if not cache.is_ready(hour_ago, hour_ago):
        place.html(_answers(seen, None))
    return place


def changed(seen: Seen, place: DeltaGenerator) -> None:
    """Show the answers with what has changed in the last hour marked."""
    hour_ago = seen.moment.at - HOUR
    before = cache.shared_picture(hour_ago, hour_ago)
    place.html(_answers(seen, before.shown("survivors")))


def _answers(seen: Seen, before: Shown | None) -> str:
    four = (*_muster(seen), _margin(seen), _window(seen))
    cells = "".join(f'<div class="answer">{cell}</div>' for cell in four)
    blocks = [f'<div class="four">{cells}</div>', _people(seen, before), _refuges(seen),
              _events(seen), _health(seen)]  # fmt: skip
    inner = "".join(f'<div class="block">{block}</div>' for block in blocks if block)
    return f'<div class="mp-w">{inner}</div>'


def alerts(seen: Seen) -> None:
    """Show the gravest trouble in full; a process that is gone is said at once, with its age."""
    watch = seen.watch
    untaken = [alarm.alarm for alarm in reversed(watch.alarms) if alarm.taken is None]
    standing = [f"{clock_words(a.record.valid_at, seen.moment.at)} {a.value.said}" for a in untaken]

    @st.fragment(run_every=LOOK)
    def look() -> None:
        st.html(
            f'<div class="mp-w" role="alert">{_alert([*health.sentences(seen), *standing])}</div>'
        )

    look()


def _alert(found: list[str]) -> str:
    if not found:
        return ""
    more = len(found) - 1
    rest = words(f"and {more} more {'alarm' if more == 1 else 'alarms'}") if more else ""
    return f'<div class="alert">{words(_shortened(found[0], MOST_SAID))}</div>{rest}'


def _shortened(said: str, most: int) -> str:
    return said if len(said) <= most else f"{said[: most - 1]}…"


def _cell(figure: str, said: str, css: str = "") -> str:
    """Return one answer: a figure that is read across the room, with its words under it."""
    number, _, unit = figure.partition(" ")
    small = f" <small>{escape(unit)}</small>" if unit else ""
    return f'<span class="figure {css}">{escape(number)}{small}</span>{words(said, css)}'


def _muster(seen: Seen) -> tuple[str, str]:
    shown = seen.picture.shown("survivors")
    if shown is None:
        return _cell("–", "no muster yet"), _cell("–", "no muster yet")
    muster = shown.result.muster
    return _cell(str(muster.out), "OUT"), _cell(str(muster.to_go), "TO GO")


def _people(seen: Seen, before: Shown | None) -> str:
    shown = seen.picture.shown("survivors")
    if shown is None:
        return ""
    muster = shown.result.muster
    parts = [words(f"of {muster.pob} on board")]
    if muster.not_accounted:
        parts.append(words(f"{muster.not_accounted} not accounted for"))
    gained = muster.out - before.result.muster.out if before is not None else 0
    if gained:
        parts.append(f'<span class="change">{words(f"{gained:+d} out in the last hour")}</span>')
    return " · ".join(parts)


def _outlook(seen: Seen) -> Outlook | None:
    shown = seen.picture.layers.get("margin")
    outlook = shown.result.outlook if isinstance(shown, Shown) else None
    return outlook if outlook is not None and outlook.refuges else None


def _margin(seen: Seen) -> str:
    """Return the least margin of all refuges, which is the one that decides."""
    outlook = _outlook(seen)
    if outlook is None:
        return _cell("–", "margin: not known", "quiet")
    least = min(outlook.refuges, key=lambda one: one.rank)
    hours = ends(least.nobody)[1]
    if hours is None:
        return _cell("–", least.words, "quiet")
    said = "SHORT" if least.short else "to spare"
    most = "≤ " if isinstance(least.nobody, Bounds) else ""
    css = "late" if least.short else "good"
    return _cell(f"{most}{abs(math.floor(hours))} h", f"{said}, {least.refuge}", css)


def _refuges(seen: Seen) -> str:
    outlook = _outlook(seen)
    if outlook is None:
        shown = seen.picture.layers.get("margin")
        said = words(getattr(shown, "reason", "no lift plan yet"), "quiet")
        return f'<div class="line">{said}</div>'
    ordered = sorted(outlook.refuges, key=lambda one: one.rank)
    return "".join(
        f'<div class="line {"late" if one.short else ""}">'
        f"{words(one.words, 'late' if one.short else '')}</div>"
        for one in ordered[:2]
    )


def _window(seen: Seen) -> str:
    """Return whether a whole sortie may begin, never a launch alone."""
    found = seen.picture.shown("weather")
    dive: Dive | None = None if found is None else found.result.dive
    if dive is None or dive.open is None:
        asked = dive.missing[0] if dive is not None and dive.missing else "not known"
        return _cell("?", f"dive: {asked}", "quiet")
    if dive.open:
        until = f"dive, until {clock_words(dive.until, dive.at)}" if dive.until else "dive"
        return _cell("YES", until)
    until = f"dive until {clock_words(dive.begins, dive.at)}" if dive.begins else "dive"
    return _cell("NO", until)


def _events(seen: Seen) -> str:
    watch = seen.watch
    at = seen.moment.at
    # how late and how many stand first: the name may be cut at the edge
    count = len(watch.overdue)
    others = f" (and {count - 1} more)" if count > 1 else ""
    late = [f"<b>{words(f'OVERDUE {duration_words(at - e.at)}{others}: {e.sort}, {e.who}')}</b>"
            for e in watch.overdue[:1]]  # fmt: skip
    ahead = [words(f"{e.who}: {e.sort} {relative_words(e.at, at)}") for e in watch.ahead[:2]]
    found = "".join(f'<div class="line">{part}</div>' for part in (*late, *ahead))
    return found or words("Nothing is due", "quiet")


def _health(seen: Seen) -> str:
    fresh, whole, oldest = health.counts(seen)
    said = f"{fresh} of {whole} feeds fresh"
    if oldest is not None:  # what is cut at the edge is the count, which the age stands for
        said = f"{duration_words(oldest[0])} old: {oldest[1]}; {fresh} of {whole} fresh"
    return f'<div class="line">{words(said, "quiet")}</div>'
