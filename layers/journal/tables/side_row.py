"""A row of a kind's side table, made from a record's payload."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from layers.earth.errors import RecordRefused
from layers.journal.kinds import Kind


class SideRow:
    """Makes the rows of a kind's side table, after the five columns all have.

    Parameters
    ----------
    kind : Kind
        One with columns.
    """

    def __init__(self, kind: Kind) -> None:
        self._names = tuple(column.name for column in kind.columns)
        of_type = {
            sql: tuple(place for place, column in enumerate(kind.columns) if column.sql == sql)
            for sql in ("INTEGER", "TEXT")
        }
        self._integers, self._texts = of_type["INTEGER"], of_type["TEXT"]

    def __call__(self, payload: Mapping[str, Any], fixed: tuple[Any, ...]) -> tuple[Any, ...]:
        """Return a record's row.

        Parameters
        ----------
        payload : mapping
            As the kind's model has checked it.
        fixed : tuple
            seq, id, source, and the times of being true and heard, microseconds.

        Raises
        ------
        InputError
            A number that no database can hold.
        """
        values = [*map(payload.get, self._names)]
        for place in self._integers:
            value = values[place]
            if value is not None and not -(2**63) <= value < 2**63:
                raise RecordRefused(
                    f"{value} is too large",
                    where=f"{fixed[2]}, {self._names[place]}",
                    accepted="64 bits",
                )
        for place in self._texts:
            value = values[place]
            if value is not None and "\x00" in value:
                values[place] = value.replace("\x00", "\ufffd")  # here only; the payload keeps it
        return (*fixed, *values)
