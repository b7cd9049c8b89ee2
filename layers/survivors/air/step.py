"""The air of closed compartments in moles, carried ahead exactly for many draws at once.

Well mixed ideal gas in each compartment. People take oxygen and give carbon dioxide; water
coming in takes volume; air leaking in adds moles, and what leaks out is of the mixture there;
oxygen stores hold oxygen up and absorbent holds carbon dioxide down for as long as they last.
Between two events everything is linear in time, so each draw goes from its own next event to the
next one after it: there is no step, and a level is placed where its line is crossed.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.earth.units import R_J_PER_MOL_K
from layers.survivors.air.chemistry import AIR_O2_FRACTION
from layers.survivors.air.state import Air, AirChange, AirRun, LevelLine

KPA_PER_BAR = 100.0
LEAST_VOLUME_SHARE = 0.02  # flooding stops here; nobody is alive long before
LEAKED_SHARE = 0.1  # of all gas: so much leaks out before the mixture is looked at again
MOST_LEAKED_H = 0.2  # of all gas an hour; more is no leak
SMALL_MOL = 1e-6  # less than this is as good as nothing, and keeps rounding from making events
MOVED = ("o2", "co2", "inert", "volume_m3", "oxygen_left", "absorbs_left")


@dataclass(slots=True)
class _Rates:
    """How fast everything moves now, an hour, and how long that holds."""

    o2: Floats
    co2: Floats
    inert: Floats
    volume_m3: Floats
    oxygen_left: Floats
    absorbs_left: Floats
    holds_h: Floats


class Flow:
    """The air of flat draws (compartments and draws in one row), moved in place."""

    def __init__(self, air: Air, persons: Floats) -> None:
        self.air = air
        for name in MOVED:
            setattr(self, name, getattr(air, name).reshape(-1).copy())
        self.o2: Floats
        self.co2: Floats
        self.inert: Floats
        self.volume_m3: Floats
        self.oxygen_left: Floats
        self.absorbs_left: Floats
        self.persons = np.array(np.broadcast_to(persons, air.shape), dtype=np.float64).reshape(-1)
        self.kelvin = air.kelvin.reshape(-1).copy()
        self.breath, self.rq = air.breath.reshape(-1), air.rq.reshape(-1)
        self.water = air.water_m3_h.reshape(-1)
        self.leak = air.leak_mol_h.reshape(-1).copy()
        self._whole = np.maximum(self.o2 + self.co2 + self.inert, SMALL_MOL)
        self.pace = np.ones(self.o2.shape)
        hold = air.hold_co2_kpa.reshape(-1)
        self._holds = np.isfinite(hold)
        self._hold_co2_kpa = np.where(self._holds, hold, 0.0)
        self._hold_o2_kpa = air.hold_o2_kpa.reshape(-1)
        self._least = self.volume_m3 * LEAST_VOLUME_SHARE
        self.warmed()

    def warmed(self) -> None:
        """Let what a temperature decides follow it."""
        self.per_kpa = 1000.0 / (R_J_PER_MOL_K * self.kelvin)  # mol/m3 for 1 kPa
        self._hold_co2 = self._hold_co2_kpa * self.per_kpa
        self._hold_o2 = self._hold_o2_kpa * self.per_kpa

    def rates(self) -> _Rates:
        """Let the stores catch up, and return how fast everything moves from here."""
        # below none while some of those brought out have air of their own: who stays breathes it on
        used = np.maximum(self.persons, 0.0) * self.breath * self.pace
        full = self.volume_m3 <= self._least * (1.0 + 1e-9)
        d_volume = np.where(full & (self.water > 0.0), 0.0, -self.water)
        holds = np.full(used.shape, np.inf)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            filling = d_volume < 0.0
            holds = np.where(filling, (self._least - self.volume_m3) / d_volume, holds)
            comes_in = np.maximum(self.leak, 0.0)
            out = np.clip(-self.leak / self._whole, 0.0, MOST_LEAKED_H)
            holds = np.where(out > 0.0, np.minimum(holds, LEAKED_SHARE / out), holds)
            made = used * self.rq - out * self.co2
            d_co2, d_absorbs, holds = self._absorbed(made, d_volume, holds)
            d_o2 = AIR_O2_FRACTION * comes_in - out * self.o2 - used
            d_o2, d_oxygen, holds = self._given(d_o2, d_volume, holds)
        d_inert = (1.0 - AIR_O2_FRACTION) * comes_in - out * self.inert
        return _Rates(d_o2, d_co2, d_inert, d_volume, d_oxygen, d_absorbs, holds)

    def _absorbed(
        self, made: Floats, d_volume: Floats, holds: Floats
    ) -> tuple[Floats, Floats, Floats]:
        excess = self.co2 - self._hold_co2 * self.volume_m3
        has = self._holds & (self.absorbs_left > SMALL_MOL)
        taken = np.where(has, np.clip(excess, 0.0, self.absorbs_left), 0.0)
        self.co2 -= taken
        self.absorbs_left -= taken
        excess -= taken
        has &= self.absorbs_left > SMALL_MOL
        rises = made - self._hold_co2 * d_volume
        grows = has & (rises > 0.0)
        at_hold = grows & (excess >= -SMALL_MOL)
        holds = np.where(at_hold, np.minimum(holds, self.absorbs_left / rises), holds)
        holds = np.where(grows & ~at_hold, np.minimum(holds, -excess / rises), holds)
        return (
            np.where(at_hold, self._hold_co2 * d_volume, made),
            np.where(at_hold, -rises, 0.0),
            holds,
        )

    def _given(
        self, d_o2: Floats, d_volume: Floats, holds: Floats
    ) -> tuple[Floats, Floats, Floats]:
        lack = self._hold_o2 * self.volume_m3 - self.o2
        has = (self._hold_o2 > 0.0) & (self.oxygen_left > SMALL_MOL)
        given = np.where(has, np.clip(lack, 0.0, self.oxygen_left), 0.0)
        self.o2 += given
        self.oxygen_left -= given
        lack -= given
        has &= self.oxygen_left > SMALL_MOL
        falls = self._hold_o2 * d_volume - d_o2
        grows = has & (falls > 0.0)
        at_hold = grows & (lack >= -SMALL_MOL)
        holds = np.where(at_hold, np.minimum(holds, self.oxygen_left / falls), holds)
        holds = np.where(grows & ~at_hold, np.minimum(holds, -lack / falls), holds)
        return (
            np.where(at_hold, self._hold_o2 * d_volume, d_o2),
            np.where(at_hold, -falls, 0.0),
            holds,
        )

    def move(self, rate: _Rates, hours: Floats) -> None:
        """Move everything by its rate for so many hours a draw."""
        for name in MOVED:
            row = getattr(self, name)
            row += getattr(rate, name) * hours
        for row in (self.o2, self.oxygen_left, self.absorbs_left):
            np.maximum(row, 0.0, out=row)


class _Events:
    """What happens to each draw, in the order of its own times."""

    def __init__(
        self, changes: tuple[AirChange, ...], cut: slice, shape: tuple[int, int], ends: Floats
    ) -> None:
        rows, n = shape
        count = len(changes) + len(ends)
        time = np.full((count, rows, n), np.inf)
        self.persons, self.absorbs, self.oxygen, self.leak = np.zeros((4, count))
        self.pace: dict[int, Floats] = {}
        self.kelvin: dict[int, Floats] = {}
        for k, change in enumerate(changes):
            time[k, change.compartment] = np.maximum(_some(change.after_h, cut), 0.0)
            self.persons[k], self.absorbs[k] = change.persons, change.absorbs
            self.oxygen[k], self.leak[k] = change.oxygen, change.leak_mol_h
            for given, kept in ((change.pace, self.pace), (change.kelvin, self.kelvin)):
                if given is not None:
                    wide = np.ones((rows, n))
                    wide[change.compartment] = _some(given, cut)
                    kept[k] = wide.reshape(-1)
        for k, hour in enumerate(ends):  # snapshots, and the horizon last
            time[len(changes) + k] = hour
        self.time = time.reshape(count, rows * n)
        self.first_end = len(changes)
        self.order = np.argsort(self.time, axis=0, kind="stable")
        self.place = np.zeros(rows * n, dtype=np.intp)
        self._all = np.arange(rows * n)

    def next_h(self) -> Floats:
        """Return when each draw's next event is."""
        return np.asarray(self.time[self.order[self.place, self._all], self._all])

    def take(self, flow: Flow, hit: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
        """Let the next event of these draws happen; return which it was."""
        which = self.order[self.place[hit], hit]
        flow.persons[hit] += self.persons[which]
        flow.absorbs_left[hit] += self.absorbs[which]
        flow.oxygen_left[hit] += self.oxygen[which]
        flow.leak[hit] += self.leak[which]
        happened = set(which.tolist())
        for k in self.pace.keys() & happened:
            mine = hit[which == k]
            flow.pace[mine] = self.pace[k][mine]
        warmer = self.kelvin.keys() & happened
        for k in warmer:
            mine = hit[which == k]
            flow.kelvin[mine] = self.kelvin[k][mine]
        if warmer:
            flow.warmed()
        return np.asarray(which)


def _some(values: Floats, draws: slice) -> Floats:
    """Return the values of some draws; one value stands for all."""
    return values if values.size == 1 else values[draws]


class _Watch:
    """When one line is first reached, draw by draw."""

    def __init__(self, line: LevelLine, flow: Flow, shape: tuple[int, int]) -> None:
        self.what = line.what
        self.limit = np.broadcast_to(np.atleast_1d(line.limit)[:, None], shape).reshape(-1)
        self.limit_kpa = self.limit * (KPA_PER_BAR if line.what == "pressure" else 1.0)
        self.reached_h = np.full(flow.o2.shape, np.inf)

    def look(self, flow: Flow, rate: _Rates, now_h: Floats, hours: Floats) -> None:
        """Note the draws that reach the line within the coming hours."""
        per_m3 = self.limit_kpa * flow.per_kpa
        left, falls = self._left(flow, per_m3), -self._left(rate, per_m3)
        if self.what == "volume":
            left = left - self.limit
        with np.errstate(divide="ignore", invalid="ignore"):
            after = np.where(left <= SMALL_MOL, 0.0, np.where(falls > 0.0, left / falls, np.inf))
        fresh = (after <= hours) & np.isinf(self.reached_h)
        self.reached_h[fresh] = (now_h + after)[fresh]

    def _left(self, of: Flow | _Rates, per_m3: Floats) -> Floats:
        """Return how far it is to the line, mol or m3; of the rates, how that changes an hour."""
        if self.what == "absorbent":
            return of.absorbs_left
        if self.what == "oxygen stores":
            return of.oxygen_left
        if self.what == "volume":
            return of.volume_m3
        line = per_m3 * of.volume_m3
        if self.what == "co2":
            return line - of.co2
        if self.what == "pressure":
            return line - of.co2 - of.o2 - of.inert
        return of.o2 - line if self.what == "o2 low" else line - of.o2


def run(
    air: Air,
    persons: Floats,
    *,
    lines: tuple[LevelLine, ...] = (),
    changes: tuple[AirChange, ...] = (),
    hours: float = 240.0,
    snapshot_hours: tuple[float, ...] = (),
    snapshot_draws: int = 0,
    block: int = 2_500,
) -> AirRun:
    """Return when each line is reached, and the air at the hours asked for.

    Parameters
    ----------
    air : Air
        Left unchanged.
    persons : ndarray, broadcast to (n_compartments, n_draws)
        Who breathes at the start.
    changes : tuple of AirChange
        Each draw takes them at its own times.
    hours : float
        The horizon, h.
    snapshot_draws : int
        How many draws the snapshots hold; 0 for all.
    block : int
        Draws carried together; small enough to stay in the processor's cache.
    """
    n_compartments, n_draws = air.shape
    everyone = np.broadcast_to(persons, air.shape)
    kept = snapshot_draws or n_draws
    reached = np.full((len(lines), n_compartments, n_draws), np.inf)
    pieces: list[list[Air]] = [[] for _ in snapshot_hours]
    for start in range(0, n_draws, block):
        cut = slice(start, min(start + block, n_draws))
        wanted = snapshot_hours if start < kept else ()
        found, snapshots = _run_block(
            air.block(cut), everyone[:, cut], lines, changes, cut, hours, wanted
        )
        reached[:, :, cut] = found
        for piece, snapshot in zip(pieces, snapshots, strict=False):
            piece.append(snapshot.block(slice(0, kept - start)))
    return AirRun(reached_h=reached, snapshots=tuple(_side_by_side(piece) for piece in pieces))


def _side_by_side(pieces: list[Air]) -> Air:
    return Air(**{f.name: np.hstack([getattr(p, f.name) for p in pieces]) for f in fields(Air)})


def _run_block(
    air: Air,
    persons: Floats,
    lines: tuple[LevelLine, ...],
    changes: tuple[AirChange, ...],
    cut: slice,
    hours: float,
    snapshot_hours: tuple[float, ...],
) -> tuple[Floats, list[Air]]:
    flow = Flow(air, persons)
    events = _Events(changes, cut, air.shape, np.array([*snapshot_hours, hours]))
    watches = [_Watch(line, flow, air.shape) for line in lines]
    snapshots = [air.copy() for _ in snapshot_hours]
    now_h = np.zeros(flow.o2.shape)
    last = len(events.time) - 1
    going = np.ones(flow.o2.shape, dtype=bool)
    while going.any():
        rate = flow.rates()
        ahead = np.minimum(events.next_h(), hours) - now_h
        span = np.where(going, np.maximum(np.minimum(ahead, rate.holds_h), 0.0), 0.0)
        for watch in watches:
            watch.look(flow, rate, now_h, span)
        flow.move(rate, span)
        now_h = now_h + span
        hit = np.flatnonzero(going & (ahead <= rate.holds_h))
        now_h[hit] = np.minimum(events.next_h(), hours)[hit]
        which = events.take(flow, hit)
        for k in range(len(snapshots)):
            mine = hit[which == events.first_end + k]
            for name in (*MOVED, "kelvin") if len(mine) else ():
                getattr(snapshots[k], name).reshape(-1)[mine] = getattr(flow, name)[mine]
        ended = (which == last) | (events.time[which, hit] > hours)
        going[hit[ended]] = False
        events.place[hit[~ended]] += 1
    found = np.array([watch.reached_h for watch in watches])
    return found.reshape(len(lines), *air.shape), snapshots


def advance(air: Air, persons: float, hours: float, changes: tuple[AirChange, ...] = ()) -> None:
    """Carry one compartment's draws ahead in place."""
    ran = run(
        air, np.full((1, 1), persons), changes=changes, hours=hours, snapshot_hours=(hours,)
    ).snapshots[0]
    for name in MOVED:
        getattr(air, name)[:] = getattr(ran, name)
