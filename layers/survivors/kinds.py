"""The kinds of record the survivors layer owns."""

from __future__ import annotations

from layers.journal.kinds import Kind
from layers.survivors.model import Complement, Move, Place, Report, Seat
from layers.survivors.refusals import (
    refuse_complement,
    refuse_move,
    refuse_place,
    refuse_report,
)

KINDS: tuple[Kind, ...] = (
    Kind(
        name="survivors.complement",
        title="persons on board",
        model=Complement,
        refuse=refuse_complement,
    ),
    Kind(name="survivors.place", title="place for people", model=Place, refuse=refuse_place),
    Kind(name="survivors.report", title="headcount reported", model=Report, refuse=refuse_report),
    Kind(name="survivors.move", title="people moved", model=Move, refuse=refuse_move),
    Kind(name="survivors.seat", title="state of a rescue seat", model=Seat),
)
