"""The air as learnt by now, to be run again under other decisions on the same draws."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import numpy as np

from layers.earth.clock import to_us
from layers.earth.values import Ints
from layers.survivors.air.endurance import NOT_REACHED_US, Endurance
from layers.survivors.air.known import PodKnown, RefugeKnown
from layers.survivors.air.learn import Breathed
from layers.survivors.air.model import Level
from layers.survivors.air.state import Air, Change, Floats, Line, Run, forward
from layers.survivors.air.step import run

HORIZON_H = 240.0
LINES = {
    "carbon dioxide": "co2",
    "low oxygen": "o2 low",
    "high oxygen": "o2 high",
    "pressure": "pressure",
}


class Leaves(Protocol):
    """People who leave a refuge at a time."""

    @property
    def at_us(self) -> Ints:
        """When, UTC microseconds, draw by draw; ``NOT_REACHED_US`` where they never do."""
        ...

    @property
    def refuge(self) -> str:
        """From where."""
        ...

    @property
    def persons(self) -> int:
        """How many."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class AirModel:
    """The air as learnt by now, ready to be run again under other decisions.

    ``air`` has a row for each of ``refuges``; calling it never changes it, and the same call
    gives the same draws.
    """

    at: datetime
    refuges: tuple[RefugeKnown, ...]
    air: Air | None
    persons: tuple[int, ...]
    levels: tuple[tuple[Level, str], ...]
    seed: int

    def __call__(
        self,
        *,
        n_draws: int,
        pods: bool,
        leaving: tuple[Leaves, ...],
        horizon_h: float = HORIZON_H,
    ) -> tuple[Endurance, ...]:
        """Return when each level is reached, with people leaving and, if asked, pods taken in.

        Parameters
        ----------
        n_draws : int
            The first so many draws.
        pods : bool
            Count pods that are planned or posted as taken in now.
        leaving : tuple of Leaves
            People brought out: those who stay breathe on. Draw by draw.
        horizon_h : float
            How far ahead levels are looked for: as far as the plan runs.
        """
        if self.air is None:
            return ()
        changes = (*self._spent(n_draws), *self._leaving(leaving, n_draws))
        if pods:
            changes += tuple(self.pod_changes(n_draws))
        return self.endurance(self.run(changes, n_draws, hours=max(horizon_h, HORIZON_H)))

    def run(
        self,
        changes: tuple[Change, ...],
        n_draws: int,
        *,
        extra: tuple[Line, ...] = (),
        snapshot_hours: tuple[float, ...] = (),
        snapshot_draws: int = 0,
        hours: float = HORIZON_H,
    ) -> Run:
        """Return a run of the air from now on; ``extra`` lines follow those of the levels."""
        assert self.air is not None
        people = np.array(self.persons, dtype=np.float64)[:, None]
        air = self.air if n_draws == self.air.shape[1] else self.air.block(slice(0, n_draws))
        return run(
            forward(air),
            people,
            lines=(*(_line(level) for level, _ in self.watched()), *extra),
            changes=changes,
            hours=hours,
            snapshot_hours=snapshot_hours,
            snapshot_draws=snapshot_draws,
        )

    def watched(self) -> list[tuple[Level, str]]:
        """Return the levels that the moles decide; temperature and the like go by trend."""
        return [(level, record) for level, record in self.levels if level.quantity in LINES]

    def endurance(self, ran: Run) -> tuple[Endurance, ...]:
        """Return a run as times."""
        start_us, found = to_us(self.at), []
        for c, refuge in enumerate(self.refuges):
            for number, (level, _) in enumerate(self.watched()):
                found.append(
                    Endurance(
                        refuge=refuge.refuge,
                        level=level.name,
                        source=level.source,
                        runs_out_us=_as_us(ran.reached_h[number, c], start_us),
                    )
                )
        return tuple(found)

    def _leaving(self, leaving: tuple[Leaves, ...], n_draws: int) -> list[Change]:
        rows = {refuge.refuge: c for c, refuge in enumerate(self.refuges)}
        start_us = to_us(self.at)
        return [
            Change(
                compartment=rows[one.refuge],
                after_h=_after_h(one.at_us, start_us, n_draws),
                persons=-float(one.persons),
            )
            for one in leaving
            if one.refuge in rows
        ]

    def pod_changes(self, n_draws: int) -> list[Change]:
        """Return pods on their way as if taken in now with what they were packed with."""
        found = []
        for c, refuge in enumerate(self.refuges):
            for pod in pods_on_the_way(refuge):
                found.append(
                    Change(
                        compartment=c,
                        after_h=np.zeros(n_draws),
                        absorbs=pod.absorbs_mol,
                        oxygen=pod.oxygen_mol,
                    )
                )
        return found

    def _spent(self, n_draws: int) -> list[Change]:
        """Return when air breathed from bottles is spent, where that lies ahead."""
        found = []
        for c, refuge in enumerate(self.refuges):
            now_h = (to_us(self.at) - to_us(refuge.origin)) / 3.6e9
            for event in refuge.events:
                if isinstance(event, Breathed) and event.at_h > now_h:
                    found.append(
                        Change(
                            compartment=c,
                            after_h=np.full(n_draws, event.at_h - now_h),
                            leak_mol_h=event.mol_per_h,
                        )
                    )
        return found

    def changes(self, n_draws: int) -> tuple[Change, ...]:
        """Return what happens by itself."""
        return tuple(self._spent(n_draws))


def _after_h(at_us: Ints, start_us: int, n_draws: int) -> Floats:
    """Return hours after now, infinite for never."""
    draws = np.resize(np.asarray(at_us, dtype=np.int64), n_draws)
    hours = np.maximum((draws - start_us) / 3.6e9, 0.0)
    return np.where(draws == NOT_REACHED_US, np.inf, hours)


def pods_on_the_way(refuge: RefugeKnown) -> list[PodKnown]:
    """Return the pods planned or posted but not taken in."""
    return [pod for pod in refuge.pods if pod.state in ("planned", "posted")]


def _line(level: Level) -> Line:
    return Line(what=LINES[level.quantity], limit=level.limit)


def _as_us(hours: Floats, start_us: int) -> Ints:
    whole = np.where(np.isfinite(hours), hours, 0.0) * 3.6e9
    return np.where(np.isfinite(hours), start_us + np.rint(whole).astype(np.int64), NOT_REACHED_US)
