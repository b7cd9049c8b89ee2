"""Small pieces of page text: everything that comes from a record is escaped here, once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

import streamlit as st

from layers.earth.said.alike import visible

ASIDE = re.compile(r" \([^)]*\)")
CLAUSES = (": ", "; ", ", ")


def panel(inner: str) -> None:
    """Show ready HTML in a panel; its parts have been through `words` or `table`.

    A table may be wider than its panel, which then scrolls: a keyboard must be able to reach it.
    """
    st.html(panelled(inner))


def panelled(inner: str) -> str:
    """Return ready HTML in a panel, not shown yet."""
    reach = ' tabindex="0"' if "<table" in inner else ""
    return f'<div class="mp-panel"{reach}>{inner}</div>'


def words(text: object, css: str = "") -> str:
    """Return text as an escaped span, with a class of ours."""
    attribute = f' class="{escape(css)}"' if css else ""
    return f"<span{attribute}>{escape(visible(str(text)))}</span>"


def a(address: str, text: object) -> str:
    """Return a link to an address of this server, its text escaped."""
    return f'<a href="{escape(address)}">{escape(visible(str(text)))}</a>'


def line(*parts: str) -> str:
    """Return ready parts as one line."""
    return f"<div>{' '.join(parts)}</div>"


def table(
    rows: Iterable[Sequence[object]], heads: Sequence[str] = (), figures: Sequence[int] = ()
) -> str:
    """Return rows of plain values as a table; the columns in ``figures`` stand right."""
    right = set(figures)

    def cells(values: Sequence[object], tag: str) -> str:
        return "".join(
            f"<{tag}{' class=n' if column in right else ''}>{escape(_plain(value))}</{tag}>"
            for column, value in enumerate(values)
        )

    head = f"<tr>{cells(heads, 'th')}</tr>" if heads else ""
    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in rows)
    return f"<table>{head}{body}</table>"


def _plain(value: object) -> str:
    return "not known" if value is None else visible(str(value))


def caution(text: str) -> None:
    """Show a caution beside the numbers it belongs to."""
    st.html(f'<div class="mp-caution">{escape(text)}</div>')


def wide(inner: str) -> str:
    """Return ready HTML that keeps its lines and scrolls sideways, by keyboard too."""
    style = "overflow-x:auto;white-space:nowrap"
    return f'<div class="mp-wide" tabindex="0" style="{style}">{inner}</div>'


def fitting(said: str, letters: float) -> str:
    """Return as many whole clauses of a text as have room, asides left out first.

    What is left out stands whole on the page that the words lead to.
    """
    if len(said) > letters:
        said = ASIDE.sub("", said)
    while len(said) > letters and (cut := max(said.rfind(mark) for mark in CLAUSES)) > 0:
        said = said[:cut]
    return said
