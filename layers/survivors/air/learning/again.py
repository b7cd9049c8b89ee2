"""The air as learnt by now, to be run again under other decisions on the same draws."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Protocol

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.survivors.air import rhythm
from layers.survivors.air.endurance import NOT_REACHED_US, AirCurves, Endurance, OpenEnd
from layers.survivors.air.known import PodKnown, RefugeKnown
from layers.survivors.air.learning.cooling import kelvin_ahead
from layers.survivors.air.learning.events import Breathed
from layers.survivors.air.learning.trend import TRENDED, hours_to, quantity_of, sooner_if_right
from layers.survivors.air.model import Level
from layers.survivors.air.past_level import past_level
from layers.survivors.air.state import Air, AirChange, AirRun, LevelLine
from layers.survivors.air.step import run

HORIZON_H = 240.0
LINES = {
    "carbon dioxide": "co2",
    "low oxygen": "o2 low",
    "high oxygen": "o2 high",
    "pressure": "pressure",
    "flooding": "volume",
}
NEEDS = {
    "carbon dioxide": "carbon dioxide",
    "low oxygen": "oxygen",
    "high oxygen": "oxygen",
}


class PacesKept(dict[tuple[int, float], "tuple[AirChange, ...]"]):
    """What was worked out once by draws and hours; it is left behind when a model is stored."""

    LEFT_BEHIND = True  # for `layers.spelt`, too

    def __reduce__(self) -> tuple[type[PacesKept], tuple[()]]:
        """Return an empty one: it follows from the model, and is as large as all its draws."""
        return PacesKept, ()


class Leaves(Protocol):
    """People who leave a refuge, each draw at its own time."""

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

    ``air`` has a row for each of ``refuges``. Other accounts have the same, None where there is
    none: ``doubted`` if doubtful readings are right, ``unheld`` if stores that nobody told of held
    the gases until now and are spent. ``persons`` breathe that air now. Calling it never changes
    it, and the same call gives the same draws. ``read`` are the gases ever read in each refuge,
    ``unknown`` what is not known of any refuge, those without a reading included.
    """

    at: datetime
    refuges: tuple[RefugeKnown, ...]
    air: Air | None
    persons: tuple[int, ...]
    levels: tuple[tuple[Level, str], ...]
    seed: int
    doubted: Air | None = None
    unheld: Air | None = None
    read: tuple[frozenset[str], ...] = ()
    unknown: tuple[OpenEnd, ...] = ()
    horizon_h: float = HORIZON_H
    kept: PacesKept = field(default_factory=PacesKept, compare=False, repr=False)

    def __call__(
        self,
        *,
        n_draws: int,
        pods: bool,
        leaving: tuple[Leaves, ...],
        horizon_h: float | None = None,
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
        horizon_h : float, optional
            How far ahead levels are looked for: as far as the plan runs.
        """
        if self.air is None:
            return ()
        horizon_h = max(horizon_h or self.horizon_h, self.horizon_h)
        changes = (*self.changes(n_draws, horizon_h), *self._leaving(leaving, n_draws))
        if pods:
            changes += tuple(self.pod_changes(n_draws))
        ran = self.run(changes, n_draws, horizon_h=horizon_h)
        if self.unheld is not None:
            least = self.run(changes, n_draws, horizon_h=horizon_h, of=self.unheld)
            ran = replace(ran, reached_h=np.minimum(ran.reached_h, least.reached_h))
        other = None
        if self.doubted is not None:
            other = self.run(changes, n_draws, horizon_h=horizon_h, of=self.doubted)
        return self.endurance(ran, other)

    def curves(
        self, *, n_draws: int, pods: bool, leaving: tuple[Leaves, ...], step_h: float = 4.0
    ) -> AirCurves:
        """Return the pressure in each refuge ahead, draw by draw, on even hours."""
        hours = tuple(np.arange(0.0, self.horizon_h + 0.1, step_h).tolist())
        names = tuple(one.refuge for one in self.refuges)
        if self.air is None:
            none = np.empty((len(hours), 0, n_draws))
            return AirCurves(hours=hours, refuges=names, pressure_bar=none)
        changes = (*self.changes(n_draws), *self._leaving(leaving, n_draws))
        if pods:
            changes += tuple(self.pod_changes(n_draws))
        ran = self.run(changes, n_draws, snapshot_hours=hours)
        bars = np.array([one.pressure_bar() for one in ran.snapshots])
        return AirCurves(hours=hours, refuges=names, pressure_bar=bars)

    def run(
        self,
        changes: tuple[AirChange, ...],
        n_draws: int,
        *,
        extra: tuple[LevelLine, ...] = (),
        snapshot_hours: tuple[float, ...] = (),
        snapshot_draws: int = 0,
        horizon_h: float | None = None,
        of: Air | None = None,
    ) -> AirRun:
        """Return a run of the air from now on, or of another account of it.

        ``extra`` lines follow those of the levels.
        """
        whole = self.air if of is None else of
        assert whole is not None
        people = np.array(self.persons, dtype=np.float64)[:, None]
        air = whole if n_draws == whole.shape[1] else whole.block(slice(0, n_draws))
        return run(
            air,
            people,
            lines=(*(_line(level) for level, _ in self.watched()), *extra),
            changes=changes,
            hours=horizon_h or self.horizon_h,
            snapshot_hours=snapshot_hours,
            snapshot_draws=snapshot_draws,
        )

    def watched(self) -> list[tuple[Level, str]]:
        """Return the levels that the balance of the gas decides; the others go by trend."""
        return [(level, record) for level, record in self.levels if level.quantity in LINES]

    def endurance(self, ran: AirRun, other: AirRun | None = None) -> tuple[Endurance, ...]:
        """Return a run as times, with the levels that go by trend; what is not known is left out.

        ``other`` is the run in which doubtful readings are right.
        """
        start_us, found = to_us(self.at), []
        n_draws = ran.reached_h.shape[2]
        for c, refuge in enumerate(self.refuges):
            if not refuge.people:
                continue
            for number, (level, _) in enumerate(self.watched()):
                hours = ran.reached_h[number, c]
                if self._balanced(c, level, hours):
                    sooner = None if other is None else other.reached_h[number, c]
                    found.append(self._end(refuge, level, hours, sooner, start_us))
            for level, _ in self.levels:
                if level.quantity in TRENDED and level.holds_for(refuge.refuge):
                    ends = hours_to(refuge, level, self.at, n_draws, self.seed)
                    if not isinstance(ends, tuple):
                        told = (refuge, level, self.at, n_draws, self.seed)
                        sooner = sooner_if_right(*told)
                        found.append(self._end(refuge, level, ends, sooner, start_us, how="trend"))
        return tuple(found)

    def _balanced(self, c: int, level: Level, hours: Floats) -> bool:
        """Whether the balance can say when: the gas was read, and volume and people are known."""
        refuge = self.refuges[c]
        wanted = NEEDS.get(level.quantity)
        told = wanted is None or wanted in self.read[c]
        if not (level.holds_for(refuge.refuge) and told):
            return False
        return not refuge.unknown or bool(np.median(hours) <= 0.0)

    def _end(
        self,
        refuge: RefugeKnown,
        level: Level,
        hours: Floats,
        sooner: Floats | None,
        start_us: int,
        how: str = "balance",
    ) -> Endurance:
        if past_level(refuge, level) is not None:
            sooner = np.zeros_like(hours)
        shorter = None if sooner is None else np.minimum(sooner, hours)
        if shorter is not None and not _is_sooner(shorter, hours):
            shorter = None
        return Endurance(
            refuge=refuge.refuge,
            level=level.name,
            source=level.source,
            quantity=level.quantity,
            how=how,
            runs_out_us=_as_us(hours, start_us),
            at_least_us=None if shorter is None else _as_us(shorter, start_us),
        )

    def open_ends(self, ran: AirRun) -> tuple[OpenEnd, ...]:
        """Return the levels whose time is not known in a run, with what to ask for."""
        found = []
        for c, refuge in enumerate(self.refuges):
            if not refuge.people and not refuge.unknown:
                continue
            for number, (level, _) in enumerate(self.watched()):
                if not level.holds_for(refuge.refuge):
                    continue
                if not self._balanced(c, level, ran.reached_h[number, c]):
                    wanted = NEEDS.get(level.quantity)
                    not_read = wanted is not None and wanted not in self.read[c]
                    missing = (f"{wanted} in {refuge.refuge!r}",) if not_read else refuge.unknown
                    found.append(_open_end(refuge, level, missing))
            for level, _ in self.levels:
                if level.quantity in TRENDED and level.holds_for(refuge.refuge):
                    ends = hours_to(refuge, level, self.at, 2, self.seed)
                    if isinstance(ends, tuple):
                        found.append(_open_end(refuge, level, ends))
        return tuple(found)

    def _leaving(self, leaving: tuple[Leaves, ...], n_draws: int) -> list[AirChange]:
        rows = {refuge.refuge: c for c, refuge in enumerate(self.refuges)}
        start_us = to_us(self.at)
        found = []
        for one in leaving:
            if one.refuge in rows:
                found.append(
                    AirChange(
                        compartment=rows[one.refuge],
                        after_h=_after_h(one.at_us, start_us, n_draws),
                        persons=-float(one.persons),
                    )
                )
        return found

    def pod_changes(self, n_draws: int) -> list[AirChange]:
        """Return pods on their way as if taken in now with what they were packed with."""
        found = []
        for c, refuge in enumerate(self.refuges):
            for pod in pods_on_the_way(refuge):
                found.append(
                    AirChange(
                        compartment=c,
                        after_h=np.zeros(n_draws),
                        absorbs=pod.absorbs_mol,
                        oxygen=pod.oxygen_mol,
                    )
                )
        return found

    def changes(self, n_draws: int, horizon_h: float | None = None) -> tuple[AirChange, ...]:
        """Return what happens by itself: how breathing and warmth go, bottles spent."""
        asked = (n_draws, horizon_h or self.horizon_h)
        if asked not in self.kept:
            self.kept[asked] = self._changes(*asked)
        return self.kept[asked]

    def _changes(self, n_draws: int, horizon_h: float) -> tuple[AirChange, ...]:
        assert self.air is not None
        found: list[AirChange] = []
        for c, refuge in enumerate(self.refuges):
            now_h = (to_us(self.at) - to_us(refuge.origin)) / 3.6e9
            row = Air(
                **{name: getattr(self.air, name)[c : c + 1, :n_draws] for name in Air.__slots__}
            )
            breathing, _ = rhythm.paces(
                row,
                refuge.prior,
                refuge.activities,
                (now_h, now_h + horizon_h),
                seed=self.seed,
                name=refuge.refuge,
                compartment=c,
            )
            starts_h = [float(change.after_h[0]) for change in breathing]
            warm = kelvin_ahead(
                refuge, self.at, np.array([*starts_h, horizon_h]), row.kelvin[0], self.seed
            )
            found += [
                replace(each, kelvin=kelvin) for each, kelvin in zip(breathing, warm, strict=True)
            ]
            for event in refuge.events:
                if isinstance(event, Breathed) and event.at_h > now_h:
                    found.append(
                        AirChange(
                            compartment=c,
                            after_h=np.full(n_draws, event.at_h - now_h),
                            leak_mol_h=event.mol_per_h,
                        )
                    )
            for after_h, persons in refuge.presence_after(now_h):
                found.append(
                    AirChange(compartment=c, after_h=np.full(n_draws, after_h), persons=persons)
                )
        return tuple(found)


def _is_sooner(shorter: Floats, hours: Floats) -> bool:
    """Whether a level comes sooner: in the middle of the draws, or in more of them at all.

    Less than a quarter of an hour, or than one draw in twenty, is the width of the draws.
    """
    middle = [float(np.percentile(each, 50, method="nearest")) for each in (shorter, hours)]
    reached = [float(np.isfinite(each).mean()) for each in (shorter, hours)]
    return middle[0] < middle[1] - 0.25 or reached[0] > reached[1] + 0.05


def _after_h(at_us: Ints, start_us: int, n_draws: int) -> Floats:
    """Return hours after now, infinite for never."""
    draws = np.resize(np.asarray(at_us, dtype=np.int64), n_draws)
    hours = np.maximum((draws - start_us) / 3.6e9, 0.0)
    return np.where(draws == NOT_REACHED_US, np.inf, hours)


def pods_on_the_way(refuge: RefugeKnown) -> list[PodKnown]:
    """Return the pods planned or posted but not taken in."""
    return [pod for pod in refuge.pods if pod.state in ("planned", "posted")]


def _line(level: Level) -> LevelLine:
    return LevelLine(what=LINES[level.quantity], limit=level.limit)


def _as_us(hours: Floats, start_us: int) -> Ints:
    whole = np.where(np.isfinite(hours), hours, 0.0) * 3.6e9
    return np.where(np.isfinite(hours), start_us + np.rint(whole).astype(np.int64), NOT_REACHED_US)


def _open_end(refuge: RefugeKnown, level: Level, missing: tuple[str, ...]) -> OpenEnd:
    return OpenEnd(
        refuge=refuge.refuge, level=level.name, missing=missing, quantity=quantity_of(level)
    )
