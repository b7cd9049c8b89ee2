"""Where a page says that nothing is known of something, its form is one press away."""

from __future__ import annotations

import re

import streamlit as st

from dashboard.panels.text import panel, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS

# words of what is lacking -> the kinds that tell it, first match first
NEEDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (r"how many were on board|on board|counted|complement|muster", ("survivors.complement",)),
    (r"last known position|bears on where", (
        "datum.lkp", "datum.intended_movement", "datum.bearing", "datum.sighting")),
    (r"position of any ship|no position", ("tracks.vessel", "tracks.position")),
    (r"limits of the lifts|limits? of launch|limits? of recovery", ("survivors.lift_limits",)),
    (r"limits? of (an|the) operation|no limit", ("weather.limit",)),
    (r"observation|weather|waves|wind|sea ", ("weather.observation", "weather.place_of_work")),
    (r"place of work", ("weather.place_of_work",)),
    (r"vehicle|when .* can (first )?dive", ("survivors.vehicle",)),
    (r"planned lift|plan of lifts|no lift", ("survivors.lift",)),
    (r"\bdepth\b(?! grid)", ("survivors.lift_limits", "weather.place_of_work")),
    (r"\bair\b|oxygen|carbon dioxide|reading", ("survivors.air",)),
    (r"volume", ("survivors.compartment",)),
    (r"stores|absorbent|canister|candle", ("survivors.stores",)),
    (r"\blevel\b", ("survivors.level",)),
    (r"\bseat\b", ("survivors.seat",)),
    (r"response|\bports?\b|first out|option", (
        "forward_port.port", "forward_port.ship", "forward_port.option")),
    (r"searcher", ("datum.searcher",)),
    (r"profile|sound speed", ("transponders.sound_source", "transponders.listener")),
    (r"transponder|net ", ("transponders.drop",)),
)  # fmt: skip


def kinds_for(text: str) -> tuple[str, ...]:
    """Return the kinds whose forms tell what a sentence says is lacking."""
    found: list[str] = []
    for pattern, kinds in NEEDS:
        if re.search(pattern, text, re.IGNORECASE):
            found += kinds
    return tuple(dict.fromkeys(found))[:6]


def said(seen: Seen, sentence: str, key: str, *kinds: str) -> None:
    """Say that nothing is known of something, with a press for each form that would tell it."""
    panel(words(sentence))
    show(seen, sentence, key, kinds)


def show(seen: Seen, text: str, key: str, kinds: tuple[str, ...] = ()) -> None:
    """Show a press for each form that would tell what is lacking, and the form pressed.

    Parameters
    ----------
    seen : Seen
        Who is looking; who may not write is shown nothing.
    text : str
        The sentence that says what is lacking; it has been shown already.
    key : str
        Tells two such places on a page apart.
    kinds : tuple of str
        What tells it; found from the words of the sentence if none is given.
    """
    kinds = kinds or kinds_for(text)
    if not kinds or not seen.writable:
        return
    chosen = st.pills(
        "What would tell it", kinds, format_func=lambda name: f"Add: {KINDS[name].title}",
        key=f"need.{key}", label_visibility="collapsed",
    )  # fmt: skip
    if chosen:
        record_form.show(seen, KINDS[chosen], key=f"need.{key}")
