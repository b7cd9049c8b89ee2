"""The same thing typed twice: asked, for a toast that was missed is typed again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from layers.earth.clock import clock_words, to_us
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.signature import read_signature
from layers.journal.store import Journal

LATELY = timedelta(hours=1)
ABOUT = timedelta(minutes=10)


def same_as(journal: Journal, draft: Draft) -> str:
    """Return what to ask when the same was recorded a short while ago; empty when it was not.

    The same is: kind, source and every figure, true within ten minutes of each other. The same
    fact from another source confirms it, and is no repetition.
    """
    now = journal.now()
    upto = journal.revision()
    known = Known(journal, journal.kinds, upto, now, bare=True)
    apart = Known(journal, journal.kinds, upto, now).apart
    draft = replace(draft, payload=apart.recorded(draft.payload))
    kind = journal.kinds[draft.kind]
    if kind.columns:
        number = _bulk(known, draft)
    else:
        number = next(
            (
                entry.record.seq
                for entry in reversed(known.entries(draft.kind))
                if now - entry.record.recorded_at <= LATELY
                and abs(entry.record.valid_at - draft.valid_at) <= ABOUT
                and entry.record.source == draft.source
                and dict(entry.record.payload) == dict(draft.payload)
            ),
            0,
        )
    if not number:
        return ""
    when = known.recorded_at(number)
    at = f" at {clock_words(when, now)}" if when else ""
    return f"The same was recorded as No. {number}{at}{_by(journal, number)}. Record it again?"


def _by(journal: Journal, number: int) -> str:
    """Return who recorded it, and in which room: another room asks otherwise than one's own."""
    found = journal.log(upto_seq=number, after_seq=number - 1, limit=1)
    who = read_signature(found[0].author).words() if found else ""
    return f" by {who}" if who else ""


def _bulk(known: Known, draft: Draft) -> int:
    """Return the number of the last row of the same subject, when it says the same."""
    kind = known.kinds[draft.kind]
    if not kind.by or kind.by not in draft.payload:
        return 0
    last = known.latest(draft.kind)
    for row, subject in enumerate(last[kind.by].tolist()):
        if subject != draft.payload[kind.by]:
            continue
        apart_us = abs(int(last["valid_at_us"][row]) - to_us(draft.valid_at))
        told = [c.name for c in kind.columns if draft.payload.get(c.name) is not None]
        same = all(last[name][row] == draft.payload[name] for name in told)
        if same and apart_us <= ABOUT.total_seconds() * 1e6:
            return int(last["seq"][row])
    return 0
