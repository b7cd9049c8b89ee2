"""A table as a layer reports it: heads with units, rows of plain values."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

Cell = str | float | int | bool | datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under heads; a head says its unit, a cell that is not known is ``None``.

    Parameters
    ----------
    heads : tuple of str
        Column heads, units included: ``"Range (nmi)"``.
    rows : tuple of tuple
        One tuple a row, as long as ``heads``.
    sources : tuple of str
        Per row, the ids of the records it rests on, joined by a space; may be empty.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    sources: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        for number, row in enumerate(self.rows):
            if len(row) != len(self.heads):
                raise ValueError(f"row {number} has {len(row)} cells under {len(self.heads)} heads")

    def as_dicts(self) -> list[dict[str, Cell]]:
        """Return one dict a row, keyed by head."""
        return [dict(zip(self.heads, row, strict=True)) for row in self.rows]
