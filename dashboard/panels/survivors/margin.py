"""The margin: the two clocks, what is left out, the totals, the caution beside them."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard.panels.survivors.axis_strokes import SeaLine
from dashboard.panels.survivors.clocks import two_clocks
from dashboard.panels.text import caution, line, panel, panelled, table, wide, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, from_us
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.report import (
    CAUTION,
    level_table,
    margin_sentence,
    refuge_table,
    total_words,
)

OLDER_THAN = timedelta(minutes=6)  # it is worked out anew every five

__all__ = ["drawing", "known", "outlook_of", "show", "small_html", "two_clocks"]


def known(seen: Seen) -> bool:
    """Return whether there is a plan of lifts to show."""
    shown = seen.picture.shown("margin")
    return shown is not None and not shown.result.outlook.unavailable


def outlook_of(seen: Seen) -> Outlook | None:
    """Return what is known of lifts and margin, or show why there is nothing."""
    found = seen.picture.layers.get("margin")
    shown = seen.picture.shown("margin")
    if shown is None:
        panel(words(getattr(found, "reason", "no margin yet")))
        return None
    outlook: Outlook = shown.result.outlook
    if outlook.unavailable:
        if outlook.refuges:
            drawing(two_clocks(shown.result, seen.ink, "full"))
        panel(words(f"No margin yet: {outlook.unavailable}."))
        return None
    return outlook


def drawing(svg: str, *, below_px: int = 12) -> None:
    """Put an inline drawing on the page; the page's own letters stand in it."""
    if svg:
        st.markdown(drawn(svg, below_px=below_px), unsafe_allow_html=True)


def drawn(svg: str, *, below_px: int = 12) -> str:
    """Return an inline drawing in its frame, not shown yet."""
    if not svg:
        return ""
    return f'<div class="mp-drawn" style="padding-bottom:{below_px}px">{svg}</div>'


def lacking(seen: Seen) -> str:
    """Return what the margin lacks, in words; empty when there is one."""
    found, shown = seen.picture.layers.get("margin"), seen.picture.shown("margin")
    if shown is None:
        return str(getattr(found, "reason", ""))
    return str(shown.result.outlook.unavailable or "")


def show(seen: Seen) -> None:
    """Show the one time axis, and under it what is left out of it."""
    outlook = outlook_of(seen)
    if outlook is None:
        need.show(seen, lacking(seen), "margin")
        return
    shown = seen.picture.shown("margin")
    drawing(two_clocks(getattr(shown, "result", outlook), seen.ink, "full", sea_line(seen)))
    said = total_words(outlook)
    panel(line(words(f"{said[0].upper()}{said[1:]}.")) + _older(seen))


def tables(seen: Seen) -> None:
    """Show the figures behind the axis, folded."""
    outlook = outlook_of(seen)
    if outlook is None:
        return
    with st.expander("Figures, level by level, with each level's source"):
        panel(line(words(margin_sentence(outlook))))
        for held in (refuge_table(outlook), level_table(outlook)):
            panel(wide(table(held.rows, held.heads)))
    if outlook.remarks:
        with st.expander(f"What the plan rests on and leaves out ({len(outlook.remarks)})"):
            panel("".join(line(words(remark)) for remark in outlook.remarks))
    caution(
        f"{CAUTION} From {outlook.draws} draws of everything uncertain together (seed "
        f"{outlook.seed}). Out: the hatch is shut behind the last of them; on deck is later."
    )


def sea_line(seen: Seen) -> SeaLine | None:
    """Return the sea on the axis: heights, limits, and when a whole sortie may begin."""
    shown, margin = seen.picture.shown("weather"), seen.picture.shown("margin")
    if shown is None or margin is None:
        return None
    outlook, dive = margin.result.outlook, getattr(shown.result, "dive", None)
    series, setting = outlook.sea, outlook.setting
    if series is None:
        return None
    heights = tuple(
        (from_us(int(at)), float(hs))
        for at, hs in zip(series.at_us, series.hs_m, strict=True)
        if hs == hs and (outlook.sea_ends_us is None or at <= outlook.sea_ends_us)
    )
    return SeaLine(
        heights=heights,
        launch_m=setting.limits.launch_hs_m if setting else None,
        recovery_m=setting.limits.recovery_hs_m if setting else None,
        starts=() if dive is None else dive.starts,
        said=_dive_words(dive),
    )


def _dive_words(dive: object) -> str:
    """Return whether a whole sortie may begin now, short enough for a bar."""
    at = getattr(dive, "at", None)
    may = getattr(dive, "open", None)
    if dive is None or at is None or may is None:
        return "not known"
    begins, until = getattr(dive, "begins", None), getattr(dive, "until", None)
    if getattr(dive, "in_doubt", False):
        return "in doubt: the forecast lies at a limit"
    if may:
        return (
            f"open until {clock_words(until, at)}" if until else "open to the end of the forecast"
        )
    return f"shut: no dive till {clock_words(begins, at)}" if begins else "shut: no hour in sight"


def small_html(seen: Seen) -> str:
    """Return the two clocks for beside the chart, with the margin in words."""
    shown = seen.picture.shown("margin")
    if shown is None:
        why = getattr(seen.picture.layers.get("margin"), "reason", "not worked out yet")
        return panelled(line(words(f"No margin: {why}", "mp-quiet")))
    outlook: Outlook = shown.result.outlook
    clocks = two_clocks(shown.result, seen.ink, "small") if outlook.refuges else ""
    clocks = drawn(clocks, below_px=0)
    if outlook.unavailable:  # what it lacks the five lines over the clocks say
        said = line(words(f"No margin yet: {outlook.lacks}.", "mp-quiet"))
        return clocks or panelled(said)
    older = _older(seen)  # that it is rough the strip says
    return clocks + (panelled(older) if older and not shown.result.rough else "")


def _older(seen: Seen) -> str:
    """Return of when the margin is, when it is an older or a rough one that stands meanwhile."""
    shown = seen.picture.shown("margin")
    if shown is None:
        return ""
    if shown.result.rough:
        return line(words(f"Rough, from {shown.result.outlook.draws} draws: refining."))
    if seen.moment.at - shown.result.at <= OLDER_THAN:
        return ""
    return line(words(f"worked out as of {clock_words(shown.result.at, seen.moment.at)}"))
