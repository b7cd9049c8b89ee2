"""Beside the chart, one number a line: sortie, next decision, first out, dive, feeds."""

from __future__ import annotations

from html import escape

from dashboard.live.place import place
from dashboard.panels import health
from dashboard.panels.text import panel, panelled
from dashboard.view import Seen
from layers import answer_words
from layers.answer_words import WordedAnswer

PART = "five_lines"


def show(seen: Seen) -> None:
    """Show the five lines."""
    place(PART, seen, panel_html(seen))


def panel_html(seen: Seen) -> str:
    """Return the five lines in their panel."""
    return panelled(html(seen))


def first_out(seen: Seen) -> None:
    """Show the one line that the response is for, on its page."""
    panel(_line("First out", answer_words.first_out(seen.answers)))


def html(seen: Seen) -> str:
    """Return the five lines; every text in them is escaped here."""
    found = seen.answers
    lines = (
        ("Sortie under way", answer_words.sortie(found)),
        ("Next decision", answer_words.next_decision(found)),
        ("First out", answer_words.first_out(found)),
        ("Dive, a whole sortie", answer_words.dive(found)),
        ("Feeds", _feeds(seen)),
    )
    return "".join(_line(name, said) for name, said in lines)


def _line(name: str, said: WordedAnswer) -> str:
    css = "mp-line late" if said.late else "mp-line"
    words = escape("; ".join(part for part in (said.word, said.more) if part))
    figure = escape(" ".join(part for part in (said.figure, said.unit) if part))
    return (
        f'<div class="{css}" data-answer="{said.key}"><i>{escape(name)}</i><b>{figure}</b>'
        f"<small>{words}</small></div>"
    )


def _feeds(seen: Seen) -> WordedAnswer:
    if seen.release.guarded:
        return WordedAnswer(key="feeds", figure="–", word="withheld here", known=False)
    fresh, whole, oldest = health.counts(seen)
    if not whole:
        return WordedAnswer(key="feeds", figure="none", word="no feed is followed", known=False)
    word = "all fresh" if oldest is None else health.silent_words(*oldest)
    now = "" if seen.follows_now else "now: "
    return WordedAnswer(key="feeds", figure=f"{fresh} of {whole}", word=f"{now}{word}")
