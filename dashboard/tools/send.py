"""Sending what a person records: the one way from a page into the journal.

What the journal asks first is kept with what was to be sent: pressed again, it is recorded.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import streamlit as st

from dashboard.cache import opened
from dashboard.tools.forms import refusal
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.errors import AskedFirst, MusterplotError
from layers.journal.actor import Actor
from layers.journal.record import Draft, canonical, form_identity
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


def draft_now(
    seen: Seen,
    kind: str,
    payload: Mapping[str, Any],
    *,
    form: str = "",
    source: str = "",
    valid_at: datetime | None = None,
) -> Draft:
    """Return a record as it is told now; its source is who sends it where no other is named.

    Parameters
    ----------
    form : str
        What tells this sending from another; without it every sending is one of its own.
    valid_at : datetime, optional
        When it was true, UTC; without it now.
    """
    return Draft(
        kind=kind,
        payload=payload,
        valid_at=valid_at or seen.now,
        heard_at=seen.now,
        source=source.strip() or seen.actor.name,
        identity=form_identity(form or uuid.uuid4().hex),
        version=KINDS[kind].version,
    )


def pressed(seen: Seen, *drafts: Draft, key: str = "") -> None:
    """Record what a press stands for and draw the page anew; why not is said in its place.

    ``key`` is of `refusal`, for a place that shows it by itself.
    """
    try:
        send(seen, drafts)
    except MusterplotError as reason:
        if key:
            refusal.keep(key, reason)
        else:
            st.error(str(reason))
        return
    refusal.forget(key)
    st.rerun()


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
