"""The same fact told with other digits: found by whose it is and when, before it is taken in.

An identity is all or nothing, and an export with fewer decimals has another. So of a kind that
says how two of its facts are compared (`Kind.same`) the journal's facts of the same owner and
time are looked up, and a draft that says what one of them says is there already.
"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import to_us
from layers.journal.kinds import Kind, Told
from layers.journal.record import Draft
from layers.journal.tables.schema import side_table

AT_ONCE = 500  # owners asked for in one question
NEAR_US = 1_000_000  # some exports keep whole seconds only
MOST_AT_A_TIME = 50  # of one owner; more are a profile, whose levels are told apart by identity


def told_again(connection: Connection, kind: Kind, drafts: Sequence[tuple[str, Draft]]) -> set[str]:
    """Return the ids of drafts of one kind that say what the journal holds with other digits."""
    if kind.same is None or not drafts:
        return set()
    by = kind.by
    whose = {str(draft.payload.get(by)) for _, draft in drafts}
    times_us = [to_us(at) for at in {draft.valid_at for _, draft in drafts}]
    held = _held(connection, kind, sorted(whose), min(times_us) - NEAR_US, max(times_us) + NEAR_US)
    found: set[str] = set()
    for id_, draft in drafts if held else ():
        at_us = to_us(draft.valid_at)
        rows = held.get((str(draft.payload.get(by)), at_us // NEAR_US), ())
        for row in rows if len(rows) <= MOST_AT_A_TIME else ():
            if kind.same((at_us, draft.payload), row):
                found.add(id_)
                break
    return found


def _held(
    connection: Connection, kind: Kind, whose: Sequence[str], first_us: int, last_us: int
) -> dict[tuple[str, int], list[Told]]:
    """Return the journal's facts of some owners in a span, by owner and each second about them."""
    table = side_table(kind)
    names = [column.name for column in kind.columns]
    asked = [table.c.valid_at_us, *(table.c[f"f_{name}"] for name in names)]
    by = table.c[f"f_{kind.by}"]
    found: dict[tuple[str, int], list[Told]] = {}
    for start in range(0, len(whose), AT_ONCE):
        part = list(whose[start : start + AT_ONCE])
        span = table.c.valid_at_us.between(first_us, last_us)
        for at_us, *values in connection.execute(sa.select(*asked).where(by.in_(part), span)):
            told = at_us, dict(zip(names, values, strict=True))
            owner = str(told[1][kind.by])
            for second in range(at_us // NEAR_US - 1, at_us // NEAR_US + 2):
                found.setdefault((owner, second), []).append(told)
    return found
