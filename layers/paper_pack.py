"""The whole state on paper, kept every hour for when the power goes, with forms to go on by hand.

One page of HTML, black on white, A4 when printed by any browser: it needs neither this program
nor a network. The forms have the columns that a heard line has, so that an hour kept on paper is
entered afterwards line by line, each with its own times.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta
from html import escape
from pathlib import Path

from layers import answer_words
from layers.answers import answers
from layers.catalogue import IN_WORDS, KINDS
from layers.contract import Shown
from layers.earth.clock import clock_words, dtg
from layers.earth.table import Table
from layers.journal.known import Known
from layers.journal.store import Journal
from layers.picture import Picture
from layers.watch.result import WatchState
from layers.watch.state import state

log = logging.getLogger(__name__)

FOLDER, KEPT = "paper", 48  # hours that are kept
MOST_ROWS, MOST_EVENTS, MOST_DECISIONS, BLANK = 14, 24, 6, 22
STYLE = """@page { size: A4; margin: 12mm } body { font: 11pt sans-serif; color: #000;
background: #fff; margin: 0 } h1 { font-size: 15pt; margin: 0 0 2mm } h2 { font-size: 12pt;
margin: 4mm 0 1mm; break-after: avoid } table { border-collapse: collapse; width: 100%;
font-size: 9.5pt } td, th { border: 0.3mm solid #000; padding: 0.8mm 1.5mm; text-align: left;
vertical-align: top } thead { display: table-header-group } tr { break-inside: avoid }
.answers td:first-child { font-size: 15pt; font-weight: bold; white-space: nowrap }
.form { break-before: page } .form td { height: 8mm } p { margin: 1mm 0 }"""
FORMS = {
    "What was heard, to be entered afterwards: one line each, with its own times": (
        "True at (Z)", "Heard at (Z)", "From whom", "As it was said", "Entered as No.",
    ),
    "Who is where": ("At (Z)", "Place", "Walking", "On stretchers", "Dead", "Told by"),
    "Air, as read": (
        "At (Z)", "Refuge", "Pressure (bar abs)", "O2 (%)", "CO2 (%)", "Temperature (°C)", "By",
    ),
}  # fmt: skip


def paper(made: Picture, watch: WatchState, name: str, *, exercise: bool) -> str:
    """Return the whole state as one page of HTML to print.

    Parameters
    ----------
    made : Picture
        Of now, as the watch reads it.
    watch : WatchState
        At the same moment.
    name : str
        The journal's.
    exercise : bool
        Whether it is one: every sheet then says so.
    """
    at = made.moment.at
    plate = f"EXERCISE {name.removeprefix('Exercise ').upper()}" if exercise else name
    found = answers(made, watch)
    said = (
        *answer_words.persons(found), answer_words.margin(found), answer_words.dive(found),
        answer_words.sortie(found), answer_words.next_decision(found),
        answer_words.first_out(found), answer_words.oldest(found),
    )  # fmt: skip
    names = {"margin": "margin", "dive": "dive", "sortie": "sortie under way",
             "next_decision": "next decision", "first_out": "first out"}  # fmt: skip
    rows = [
        (" ".join(part for part in (one.figure, one.unit) if part),
         ", ".join(part for part in (names.get(one.key, ""), one.word, one.more) if part))
        for one in said
    ]  # fmt: skip
    parts = [
        f"<h1>{escape(plate)}: {escape(dtg(at))}, as known then</h1>",
        f"<p>{escape(watch.stage_words())}. Kept by itself every hour. For the watch alone. It "
        "supports and does not replace the authorised people; not for navigation.</p>",
        _table(rows, (), "answers"),
        _due(watch, at),
        _decided(watch, at),
        *(_layer(layer.title, made.layers.get(layer.key)) for layer in IN_WORDS),
        *(_form(title, heads, plate) for title, heads in FORMS.items()),
    ]
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(plate)} '
        f"{escape(dtg(at))}</title><style>{STYLE}</style><body>{''.join(parts)}</body></html>"
    )


def _table(rows: Sequence[Sequence[object]], heads: tuple[str, ...], css: str = "") -> str:
    head = "".join(f"<th>{escape(one)}</th>" for one in heads)
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(_said(cell))}</td>' for cell in row)}</tr>" for row in rows
    )
    return f'<table class="{css}">{f"<thead><tr>{head}</tr></thead>" if head else ""}{body}</table>'


def _said(cell: object) -> str:
    return "not known" if cell is None else str(cell)


def _due(watch: WatchState, at: datetime) -> str:
    rows: list[Sequence[object]] = [
        (
            clock_words(event.at, at),
            event.when_words(at),
            f"{event.sort}: {event.who}, {event.what}",
        )
        for event in watch.events[:MOST_EVENTS]
    ]
    return f"<h2>What is due</h2>{_table(rows, ('At', '', 'What'))}" if rows else ""


def _decided(watch: WatchState, at: datetime) -> str:
    rows: list[Sequence[object]] = [
        (clock_words(one.entry.record.valid_at, at), one.entry.value.what, one.entry.value.reasons)
        for one in reversed(watch.decisions)
        if not one.replaced_by
    ]
    heads = ("At", "Decided", "Because")
    return f"<h2>Decided</h2>{_table(rows[:MOST_DECISIONS], heads)}" if rows else ""


def _layer(title: str, shown: object) -> str:
    """Return a layer's sentence and the first rows of its table; why there is none, else."""
    if not isinstance(shown, Shown):
        why = str(getattr(shown, "reason", "not worked out"))
        return f"<h2>{escape(title)}</h2><p>{escape(why)}</p>"
    table: Table = shown.table
    left = len(table.rows) - MOST_ROWS
    more = f"<p>and {left} rows more</p>" if left > 0 else ""
    rows = [tuple(row) for row in table.rows[:MOST_ROWS]]
    held = _table(rows, tuple(map(str, table.heads))) if rows else ""
    return f"<h2>{escape(title)}</h2><p>{escape(shown.sentence)}</p>{held}{more}"


def _form(title: str, heads: tuple[str, ...], plate: str) -> str:
    rows: list[Sequence[object]] = [("",) * len(heads)] * BLANK
    return f'<div class="form"><h2>{escape(plate)}: {escape(title)}</h2>{_table(rows, heads)}</div>'


class HourlyPaper:
    """Keeps the state on paper in the data folder, once an hour; the oldest go.

    Parameters
    ----------
    folder : Path
        The data folder; the papers lie in ``paper/`` of it, this account's alone.
    journal : Journal
        For what the watch's book says.
    """

    def __init__(self, folder: Path, journal: Journal) -> None:
        self._folder, self._journal = folder / FOLDER, journal
        self._last: datetime | None = None

    def keep(self, made: Picture) -> Path | None:
        """Write the paper of a picture of now, if none of its hour is kept; return where."""
        hour = made.moment.at.replace(minute=0, second=0, microsecond=0)
        if self._last is not None and hour - self._last < timedelta(hours=1):
            return None
        known = Known(self._journal, KINDS, made.upto_seq, made.moment.as_of)
        name, exercise = self._journal.name, self._journal.exercise
        text = paper(made, state(known, made.moment), name, exercise=exercise)
        place = self._folder / f"state-{made.moment.at:%y%m%d-%H%M}Z.html"
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            part = place.with_suffix(".part")
            part.touch(mode=0o600)
            part.write_text(text, encoding="utf-8")
            part.replace(place)
            for old in sorted(self._folder.glob("state-*.html"))[:-KEPT]:
                old.unlink(missing_ok=True)
        except OSError as fault:  # a full disk is said under the strip; the next minute tries again
            log.warning("the paper of %s could not be kept: %s", dtg(hour), fault.strerror)
            return None
        self._last = hour
        return place
