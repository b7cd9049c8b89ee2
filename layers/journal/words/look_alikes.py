"""A name that a person types and that looks like another on the plot is refused.

Two units, places or people whose names nobody can tell apart would be one on every screen, paper
and export. Where a name is first typed is the one place at which both are known; whoever types it
says the other's name, or one that looks different. A kind that asks whether a near name is meant
asks first, for an answer can be pressed. What comes by itself is not refused: it is told apart
where it is read (`apart.py`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sqlalchemy.engine import Connection

from layers.earth.errors import RecordRefused
from layers.earth.said.alike import visible
from layers.journal.known import Known
from layers.journal.record import Draft, Record
from layers.journal.tables.names import read_names
from layers.journal.words.apart import (
    look_of,
    named,
    now_named,
    standing,
    told_apart_in,
)


def as_recorded(draft: Draft, connection: Connection, before_seq: int, known: Known) -> Draft:
    """Return a draft with names as they are recorded, where one was chosen as it is told apart."""
    if "‹" not in str(draft.payload):
        return draft
    apart = told_apart_in(read_names(connection, known.kinds, before_seq).alike(before_seq), known)
    return replace(draft, payload=apart.recorded(draft.payload))


def refuse_look_alike(draft: Draft, connection: Connection, before_seq: int, known: Known) -> None:
    """Refuse a name that looks like another and is not it.

    Parameters
    ----------
    draft : Draft
        What a person typed; of a correction the fields that it changes.
    before_seq : int
        The last record that stands whatever becomes of this writing.

    Raises
    ------
    RecordRefused
        Says both names, and where the other stands.
    """
    fixing = draft.kind == "journal.correct"
    payload = draft.payload.get("fields", {}) if fixing else draft.payload
    told = list(named(payload))
    if not told:
        return
    held = read_names(connection, known.kinds, before_seq).held
    for _, name in told:
        others = held.get(look_of(name), {})
        if not others or set(others) == {name} or _says(others.get(name, ()), name, known):
            continue
        for other, said in others.items():
            if other == name or (seen := _says(said, other, known)) is None:
                continue
            if fixing and known.with_ids([str(draft.payload["target"])]) and any(
                other == old for _, old in now_named(str(draft.payload["target"]), known)
            ):  # fmt: skip
                continue  # the slip itself is mended
            raise RecordRefused(
                f"{visible(name)} looks like {visible(other)}, which is another name, of No. "
                f"{seen.seq}: nobody could tell them apart",
                accepted=f"{visible(other)}, if that is meant, or a name that looks different",
            )


def _says(said: Iterable[tuple[int, str]], name: str, known: Known) -> Record | None:
    return standing((id_ for _, id_ in said), name, known)
