"""The strip: EXERCISE, time, and the answers, in sight on every page; a click leads to each."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st

from dashboard import state
from dashboard.live.place import place
from dashboard.panels import health, sound
from dashboard.view import Seen
from layers import answer_words
from layers.answer_words import WordedAnswer
from layers.answers import Answers
from layers.catalogue import LAYERS
from layers.contract import View
from layers.earth.clock import dtg

UNNAMED = ("Musterplot", "Operation")  # what a journal is called that nobody named
PART = "strip"
MODES = {View.KNOWN: "as known then", View.HINDSIGHT: "hindsight", View.EXPECTED: "by plan"}


def show(seen: Seen) -> None:
    """Put the strip on top of the page."""
    with st.container(key="strip"):
        place(PART, seen, html(seen, seen.answers), html(seen, seen.answers, plain=True))


def html(seen: Seen, answers: Answers, *, plain: bool = False) -> str:
    """Return the strip; every text in it is escaped here.

    ``plain``: as everybody gets it, its links without a viewer's own view; the page puts that in.
    """
    link = plain_link if plain else state.link
    trouble = health.sentences(seen) if seen.writable else []
    cells = (
        _exercise(seen),
        _time(seen),
        _cell(answer_words.persons(answers), link(_page("persons"))),
        _cell([_named("Margin", answer_words.margin(answers))], link(_page("margin"))),
        _cell([_named("Dive", answer_words.dive(answers))], link(_page("dive"))),
        _cell([answer_words.oldest(answers)], link("feeds")),
        _alarms(answer_words.alarms(answers), trouble, link("watch")),
    )
    rings = sound.told(seen) if seen.writable else ""  # who is told no alarms counts none
    strip = f'<div class="mp-strip" role="status" aria-live="polite"{rings}>{"".join(cells)}</div>'
    return strip + _trouble(trouble)


def plain_link(page: str) -> str:
    """Return the address of a page without anybody's view."""
    return f"./{page}"


def _trouble(found: Sequence[str]) -> str:
    """Return what is wrong with this computer or the journal, in plain words under the strip."""
    if not found:
        return ""
    said = escape(" · ".join(found))
    return f'<div class="mp-trouble" role="alert" title="{said}"><b>{said}</b></div>'


def _page(question: str) -> str:
    """Return the page of the layer that answers a question."""
    return next((layer.address for layer in LAYERS if question in layer.answers), "plot")


def _exercise(seen: Seen) -> str:
    """Return that it is an exercise with its name; of an operation its name, to the watch alone."""
    if not seen.exercise:
        own = seen.journal.name
        if seen.release.guarded or own in UNNAMED:
            return ""
        return f'<div class="cell op" title="{escape(own)}"><span>{escape(own)}</span></div>'
    name = seen.exercise.removeprefix("Exercise ")
    return f'<div class="cell ex"><span>EXERCISE <br>{escape(name.upper())}</span></div>'


def _time(seen: Seen) -> str:
    at = dtg(seen.moment.at)
    clock, _, day = at.partition(" ")
    mode = "now" if seen.follows_now else MODES[seen.moment.view]
    if seen.lost is not None:
        mode = "as of then, link lost"
    elif seen.catches_up:
        mode = "as of then, newer to come"
    told = [mode, seen.watch.stage_words()] + ([] if seen.writable else ["reading only"])
    moved = "" if seen.follows_now and seen.lost is None and not seen.catches_up else " moved"
    return (
        f'<div class="cell time{moved}" data-answer="time" data-mode="{escape(mode)}"><span>'
        f"<span><b>{clock}</b> <i>{day}</i></span>"
        f"<small>{escape(' · '.join(told))}</small></span></div>"
    )


def _named(name: str, said: WordedAnswer) -> tuple[str, WordedAnswer]:
    return name, said


def _cell(found: Sequence[WordedAnswer | tuple[str, WordedAnswer]], address: str) -> str:
    parts, late = [], False
    for one in found:
        name, said = one if isinstance(one, tuple) else ("", one)
        late = late or said.late
        head = f"<i>{name}</i> " if name else ""
        unit = f" <i>{escape(said.unit)}</i>" if said.unit else ""
        told = ", ".join(part for part in (said.word, said.more) if part)
        word = told if said.late or not said.known else said.word
        css = ' class="pob"' if said.key.endswith("on_board") else ""
        parts.append(
            f'<span{css} data-answer="{said.key}"><span>{head}<b>{escape(said.figure)}</b>{unit}'
            f'</span><small title="{escape(told)}">{escape(word)}</small></span>'
        )
    css = "cell late" if late else "cell"
    if any(one.key.startswith("persons") for one in found if isinstance(one, WordedAnswer)):
        css += " people"
    return f'<a class="{css}" href="{escape(address)}" target="_self">{"".join(parts)}</a>'


def _alarms(said: WordedAnswer, trouble: list[str], address: str) -> str:
    count = (int(said.figure) if said.known else 0) + len(trouble)
    figure = count if said.known or trouble else said.figure
    some = " some" if count else ""
    word = said.word if not trouble else "alarms" if count > 1 else "alarm"
    title = escape("; ".join(trouble))
    return (
        f'<a class="cell alarms{some}" href="{escape(address)}" target="_self" '
        f'title="{title}"><span data-answer="{said.key}"><b>{figure}</b>'
        f"<small>{word}</small></span></a>"
    )
