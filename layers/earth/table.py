"""A table as a layer reports it: heads with units, rows of plain values."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Generic, TypeVar

from layers.earth.said.alike import visible
from layers.earth.tells import NOTHING, Tells

Cell = str | float | int | bool | datetime | None
T = TypeVar("T")


def _seen(cell: Cell) -> Cell:
    return visible(cell) if isinstance(cell, str) else cell


@dataclass(frozen=True, slots=True)
class Column(Generic[T]):
    """One column: its head with the unit, and the cell of an item; None for not known."""

    head: str
    cell: Callable[[T], Cell]


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
    tells : frozenset of Tells
        What its rows give away that may be withheld from some readers.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    sources: tuple[str, ...] = field(default=())
    tells: frozenset[Tells] = NOTHING

    def __post_init__(self) -> None:
        for number, row in enumerate(self.rows):
            if len(row) != len(self.heads):
                raise ValueError(f"row {number} has {len(row)} cells under {len(self.heads)} heads")
        texts = (cell for row in self.rows for cell in row if isinstance(cell, str))
        if any(not (cell.isascii() and cell.isprintable()) for cell in texts):
            rows = tuple(tuple(map(_seen, row)) for row in self.rows)
            object.__setattr__(self, "rows", rows)

    @classmethod
    def of(
        cls,
        items: Iterable[T],
        *columns: Column[T],
        source: Callable[[T], str] | None = None,
        tells: frozenset[Tells] = NOTHING,
    ) -> Table:
        """Return a row an item, so that a head and what stands under it cannot part.

        Parameters
        ----------
        items : iterable
            What each row is of.
        columns : Column
            From left to right.
        source : callable, optional
            The ids of the records that an item rests on, joined by a space.
        """
        held: Sequence[T] = tuple(items)
        return cls(
            heads=tuple(column.head for column in columns),
            rows=tuple(tuple(column.cell(item) for column in columns) for item in held),
            sources=tuple(map(source, held)) if source else (),
            tells=tells,
        )

    def as_dicts(self) -> list[dict[str, Cell]]:
        """Return one dict a row, keyed by head."""
        return [dict(zip(self.heads, row, strict=True)) for row in self.rows]
