"""What another room has done to this room's records: told here at once, until it is seen."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import streamlit as st

from dashboard import duty
from dashboard.panels.text import line, words
from dashboard.view import Seen
from layers.journal.holds import opinion_words
from layers.journal.record import Record
from layers.journal.side_by_side import signed_words
from layers.journal.signature import Signature, read_signature

LATELY = timedelta(hours=4)  # a watch
SEEN = "changed.seen"


def show(seen: Seen) -> None:
    """Show what others changed of this room's records, with the press that puts it away."""
    if not seen.writable or seen.release.guarded:
        return
    told = [one for one in by_others(seen) if one[0].id not in _put_away()]
    if not told:
        return
    with st.container(key="changed"), st.popover(f"Changed by others: {len(told)}"):
        for opinion, target in reversed(told[-8:]):
            said = opinion_words(seen.known, opinion, 120)
            who = signed_words(opinion, seen.now)
            st.html(
                line(f"<b>{words(f'No. {target.seq}')}</b>", words(said), words(who, "mp-quiet"))
            )
        ids = [opinion.id for opinion, _ in told]
        st.button("Seen", key="changed.put_away", on_click=_put_away().update, args=(ids,))


def by_others(seen: Seen) -> Iterator[tuple[Record, Record]]:
    """Give the opinions of another room about this room's records, oldest first, with those."""
    here = Signature("", duty.room(), duty.server()).desk
    lately = [
        opinion
        for opinions in seen.known.opinions().values()
        for opinion in opinions
        if seen.now - opinion.recorded_at <= LATELY
        and read_signature(opinion.author).desk != here
        and read_signature(opinion.author).server
    ]
    targets = seen.known.with_ids({str(opinion.payload["target"]) for opinion in lately})
    for opinion in sorted(lately, key=lambda one: one.seq):
        target = targets.get(str(opinion.payload["target"]))
        if target is not None and read_signature(target.author).desk == here:
            yield opinion, target


def _put_away() -> set[str]:
    held: set[str] = st.session_state.setdefault(SEEN, set())
    return held
