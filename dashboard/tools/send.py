"""Sending what a person records: the one way from a page into the journal.

What the journal asks first is kept with what was to be sent: pressed again, it is recorded.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace

import streamlit as st

from dashboard.cache import opened
from dashboard.view import Seen
from layers.earth.errors import AskedFirst
from layers.journal.actor import Actor
from layers.journal.record import Draft, canonical
from layers.journal.store import Appended, Journal

ASKED = "asked_first"


def send(seen: Seen, drafts: Sequence[Draft]) -> Appended:
    """Record drafts together.

    Raises
    ------
    AskedFirst
        Somebody else has told what these may repeat or contradict; sent again they are taken.
    MusterplotError
        They cannot be recorded.
    """
    return _send(seen.pen, seen.actor, drafts)


def send_as(actor: Actor, drafts: Sequence[Draft]) -> Appended:
    """Record drafts of an actor, as `send` does."""
    return _send(opened.pen(), actor, drafts)


def _send(pen: Journal, actor: Actor, drafts: Sequence[Draft]) -> Appended:
    held: dict[str, tuple[str, ...]] = st.session_state.setdefault(ASKED, {})
    told = [replace(one, answered=held.get(_digest(one), ())) for one in drafts]
    try:
        return pen.append(actor, told)
    except AskedFirst as question:
        for one in drafts:
            key = _digest(one)
            held[key] = (*held.get(key, ()), *question.about)
        raise


def _digest(draft: Draft) -> str:
    return hashlib.sha256(f"{draft.kind} {canonical(draft.payload)}".encode()).hexdigest()
