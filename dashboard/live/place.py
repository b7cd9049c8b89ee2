"""A place on the page into which a newer part can be put, and what a part is known by."""

from __future__ import annotations

import hashlib
from html import escape

import streamlit as st

from dashboard.view import Seen


def digest(content: str | bytes) -> str:
    """Return what tells one content of a part from another."""
    data = content.encode() if isinstance(content, str) else content
    return hashlib.blake2b(data, digest_size=6).hexdigest()


def can_change(seen: Seen) -> bool:
    """Whether what is shown is of now, and a newer one may take its place."""
    return seen.follows_now and seen.lost is None and not seen.catches_up


def place(name: str, seen: Seen, inner: str, neutral: str | None = None) -> None:
    """Put ready HTML on the page.

    Parameters
    ----------
    name : str
        Of a part in `dashboard.live.parts`, which makes it anew.
    inner : str
        What stands there now, escaped.
    neutral : str, optional
        The same as everybody gets it, where this viewer's own differs in its links.
    """
    st.html(f"<div{_words(name, seen, inner if neutral is None else neutral)}>{inner}</div>")


def place_drawn(name: str, seen: Seen, inner: str, css: str) -> None:
    """Put a drawing on the page, which only a page's text lets through.

    Its nodes are the framework's: a newer one is laid in its stead and leaves them alone.
    """
    words = _words(name, seen, inner)
    drawn = ' data-drawn="1"' if words else ""
    st.markdown(f'<div class="{escape(css)}"{words}{drawn}>{inner}</div>', unsafe_allow_html=True)


def _words(name: str, seen: Seen, inner: str) -> str:
    if not can_change(seen):
        return ""
    return f' data-part="{escape(name)}" data-made="{digest(inner)}"'
