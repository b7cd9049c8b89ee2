"""Issues of forecasts: the newest known, the ones before it, never two spliced into one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import from_us, to_us
from layers.earth.position import Position
from layers.journal.known import Entry, Known
from layers.weather.forecast.fields import FieldGrid, unpacked_once


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """One issue of one model: all that came of it by the cut.

    ``pieces`` are its grids; they may carry other variables, other places or other steps of
    the same issue, which is no splice.
    """

    model: str
    issued_at_us: int
    pieces: tuple[FieldGrid, ...]
    adopted: bool
    rests_on: tuple[str, ...]

    @property
    def issued_at(self) -> datetime:
        """When it was issued, UTC."""
        return from_us(self.issued_at_us)

    @property
    def ends_at(self) -> datetime:
        """Its last time, UTC."""
        return from_us(max(int(piece.times_us[-1]) for piece in self.pieces))

    @property
    def names(self) -> frozenset[str]:
        """The variables it carries."""
        return frozenset(name for piece in self.pieces for name in piece.names)

    def covers(self, position: Position) -> bool:
        """Whether a place lies inside one of its grids."""
        west = (position.longitude_deg - np.array([p.longitudes_deg[0] for p in self.pieces])) % 360
        return any(
            piece.latitudes_deg[0] <= position.latitude_deg <= piece.latitudes_deg[-1]
            and west[index] <= piece.longitudes_deg[-1] - piece.longitudes_deg[0]
            for index, piece in enumerate(self.pieces)
        )

    def at(
        self, names: tuple[str, ...], latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints
    ) -> Floats:
        """Return variables at ``n`` places and times, shape (n, len(names)), NaN where none."""
        if len(self.pieces) == 1 and self.pieces[0].names == names:
            return self.pieces[0].at(latitudes_deg, longitudes_deg, at_us)
        values = np.full((len(at_us), len(names)), np.nan)
        for piece in self.pieces:
            here = [index for index, name in enumerate(names) if name in piece.names]
            if not here or not np.isnan(values[:, here]).any():
                continue
            there = [piece.names.index(names[index]) for index in here]
            found = piece.at(latitudes_deg, longitudes_deg, at_us)[:, there]
            values[:, here] = np.where(np.isnan(values[:, here]), found, values[:, here])
        return values


def issues_by_model(known: Known, at: datetime) -> dict[str, tuple[Issue, ...]]:
    """Return the issues issued by ``at``, oldest first, for each model."""
    held: dict[tuple[str, int], list[Entry]] = {}
    for entry in known.entries("weather.forecast"):
        if entry.value.issued_at <= at:
            key = (entry.value.model, to_us(entry.value.issued_at))
            held.setdefault(key, []).append(entry)
    found: dict[str, list[Issue]] = {}
    for (model, issued_at_us), entries in sorted(held.items()):
        found.setdefault(model, []).append(_issue(model, issued_at_us, entries, known.blob))
    return {model: tuple(issues) for model, issues in found.items()}


def _issue(
    model: str, issued_at_us: int, entries: list[Entry], fetch: Callable[[str], bytes]
) -> Issue:
    grids = [unpacked_once(entry.value.digest, fetch) for entry in entries]
    return Issue(
        model=model,
        issued_at_us=issued_at_us,
        pieces=tuple(joined(grids)),
        adopted=any(entry.adopted for entry in entries),
        rests_on=tuple(entry.id for entry in entries),
    )


def joined(grids: list[FieldGrid]) -> list[FieldGrid]:
    """Return grids of one issue with those on the same axes joined in time.

    Some services send one file a step. Of two that hold the same time the later one counts.
    """
    alike: dict[tuple[bytes, bytes, tuple[str, ...]], list[FieldGrid]] = {}
    for grid in grids:
        key = (grid.latitudes_deg.tobytes(), grid.longitudes_deg.tobytes(), grid.names)
        alike.setdefault(key, []).append(grid)
    return [held[0] if len(held) == 1 else _in_time(held) for held in alike.values()]


def _in_time(held: list[FieldGrid]) -> FieldGrid:
    steps = {int(at): grid.values[index] for grid in held for index, at in enumerate(grid.times_us)}
    times = sorted(steps)
    return FieldGrid(
        times_us=np.array(times, dtype=np.int64),
        latitudes_deg=held[0].latitudes_deg,
        longitudes_deg=held[0].longitudes_deg,
        names=held[0].names,
        values=np.stack([steps[at] for at in times]),
        has_gaps=any(grid.has_gaps for grid in held),
    )
