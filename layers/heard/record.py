"""What was understood becomes drafts: the same line heard twice by one form is one record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime

from layers.heard.grammar import Grammar
from layers.heard.names import LineContext, around
from layers.heard.result import HeardLine, Understood
from layers.journal.known import Entry, Known
from layers.journal.record import Draft, Record, form_identity
from layers.journal.store import Journal

NOTE = "watch.note"
MOST_LOOKED_AT = 60  # newest records among which the one that is meant is looked for


def around_journal(grammar: Grammar, journal: Journal, now: datetime) -> LineContext:
    """Return what a line is heard in, from a journal as it stands.

    Parameters
    ----------
    grammar : Grammar
        Of the catalogue that the journal was opened with.
    now : datetime
        The journal's time, UTC.
    """
    seq = journal.revision()
    known = Known(journal, grammar.kinds, seq, now)

    def find(number: int) -> Record | None:
        found = journal.log(upto_seq=min(number, seq), after_seq=number - 1, limit=1)
        return found[0] if found and found[0].seq == number else None

    told = [name for name, form in grammar.forms.items() if form.heard.example
            and not any(role.sort == "record" for role in form.roles.values())]  # fmt: skip

    def newest() -> list[Record]:
        # what a person said in a line or a form, whatever feeds wrote meanwhile
        found = journal.log(upto_seq=seq, kinds=told, limit=MOST_LOOKED_AT)
        back = journal.log(upto_seq=seq, kinds=["journal.retract"], limit=MOST_LOOKED_AT)
        gone = {one.payload["target"] for one in back}
        return [one for one in found if one.id not in gone]

    return around(grammar.kinds, known, now, find=find, newest=newest)


def drafts_of(
    hearing: HeardLine, *, now: datetime, source: str, form_id: str, notes: bool = True
) -> list[Draft]:
    """Return the drafts of what a line told, in its order, its notes last.

    Parameters
    ----------
    now : datetime
        When it was heard, UTC.
    source : str
        Who said it, or who wrote it down.
    form_id : str
        Of the box when it opened: sent twice it is one record.
    notes : bool
        Whether what was not understood is kept as a note.
    """
    drafts = [
        draft_of(one, now=now, source=source, identity=form_identity(f"{form_id}:{number}"))
        for number, one in enumerate(hearing.understood)
    ]
    if notes:
        drafts += [
            note_of(text, now=now, source=source, identity=form_identity(f"{form_id}:note{number}"))
            for number, text in enumerate(hearing.notes)
        ]
    return drafts


def draft_of(one: Understood, *, now: datetime, source: str, identity: str) -> Draft:
    """Return the draft of one record that was understood."""
    return Draft(
        kind=one.kind,
        version=one.version,
        payload=dict(one.payload),
        valid_at=one.valid_at,
        heard_at=now,
        source=source,
        identity=identity,
    )


def note_of(
    text: str, *, now: datetime, source: str, identity: str, lacks: Sequence[str] = ()
) -> Draft:
    """Return the draft of a note: nothing of it is on the plot, as yet where it lacks something."""
    payload = {"text": text, "lacks": list(lacks)} if lacks else {"text": text}
    return Draft(
        kind=NOTE, payload=payload, valid_at=now, heard_at=now, source=source,
        identity=identity,
    )  # fmt: skip


def unfinished(known: Known | None) -> list[Entry]:
    """Return the facts that are kept until what they lack is told, in their order."""
    entries = known.entries(NOTE) if known is not None else ()
    return [entry for entry in entries if entry.value.lacks]


def made_whole(hearing: HeardLine, known: Known | None) -> list[Entry]:
    """Return the facts that lacked something and that a line tells with all their words."""
    if not hearing.understood:
        return []
    words = Counter(hearing.text.casefold().split())
    return [
        entry
        for entry in unfinished(known)
        if not Counter(entry.value.text.casefold().split()) - words
    ]


def whole_now(entry: Entry, number: int, *, now: datetime, source: str) -> Draft:
    """Return the draft that takes back what was kept, since a record tells it whole."""
    return Draft(
        kind="journal.retract",
        payload={"target": entry.id, "reason": f"told whole as No. {number}"},
        valid_at=now, heard_at=now, source=source, identity=form_identity(f"whole {entry.id}"),
    )  # fmt: skip
