"""The air of closed compartments in moles, stepped for many draws at once.

Well mixed ideal gas in each compartment. People take oxygen and give carbon dioxide; water
coming in takes volume; air leaking in adds moles; oxygen stores hold oxygen up and absorbent
holds carbon dioxide down for as long as they last.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import numpy.typing as npt

from layers.earth.units import PA_PER_BAR, R_J_PER_MOL_K
from layers.survivors.air.chemistry import AIR_O2_FRACTION
from layers.survivors.air.state import Air, Change, Floats, Line, Run

Bools = npt.NDArray[np.bool_]
LEAST_VOLUME_SHARE = 0.02  # flooding stops here; nobody is alive long before
LOOK_STEPS = 6  # lines are looked at once an hour, crossings placed within it
NEVER = 2**62
STORE_LINES = ("absorbent", "oxygen stores")


class Stepper:
    """Steps one block of draws in place.

    Between two changes everything but the stores is linear in time, so a step only moves two
    lines and cuts them to what the stores allow: ``excess`` is the carbon dioxide above what is
    held had nothing been absorbed since, ``lack`` the oxygen below what is held had nothing been
    given since. ``settle`` turns them back into moles.
    """

    def __init__(self, air: Air, persons: Floats, step_h: float) -> None:
        self.air, self.step_h = air, step_h
        self.persons = np.array(np.broadcast_to(persons, air.shape), dtype=np.float64)
        per_kpa = 1000.0 / (R_J_PER_MOL_K * air.kelvin)  # mol/m3 for 1 kPa
        held = np.isfinite(air.hold_co2_kpa)
        self.hold_co2 = np.where(held, air.hold_co2_kpa, 0.0) * per_kpa
        self.hold_o2 = air.hold_o2_kpa * per_kpa
        self._uses_absorbent = held
        self._least = air.volume_m3 * LEAST_VOLUME_SHARE
        self.d_volume = np.zeros(air.shape)
        self.since = self.epoch = 0
        self.absorbed, self.given = np.zeros(air.shape), np.zeros(air.shape)
        self.excess, self.lack = np.empty(air.shape), np.empty(air.shape)
        self.rate()

    def rate(self) -> None:
        """Work out what a step does; again after persons, stores or leak have changed."""
        air, h = self.air, self.step_h
        used = self.persons * air.breath
        self.d_o2 = h * (AIR_O2_FRACTION * air.leak_mol_h - used)
        self.d_co2 = h * used * air.rq
        self.d_inert = h * (1.0 - AIR_O2_FRACTION) * air.leak_mol_h
        # Stopped well ahead of being full, so that it is not done again at every step.
        filling = air.volume_m3 - 12 * LOOK_STEPS * h * air.water_m3_h > self._least
        self.d_volume = np.where(filling, -h * air.water_m3_h, 0.0)
        self._d_excess = self.d_co2 - self.hold_co2 * self.d_volume
        self._d_lack = self.hold_o2 * self.d_volume - self.d_o2
        self._rebase()

    def _rebase(self) -> None:
        air = self.air
        np.subtract(air.co2, self.hold_co2 * air.volume_m3, out=self.excess)
        np.subtract(self.hold_o2 * air.volume_m3, air.o2, out=self.lack)
        self.absorbed[:] = 0.0
        self.given[:] = 0.0
        self.absorbs = np.where(self._uses_absorbent, air.absorbs_left, 0.0)
        self.gives = air.oxygen_left.copy()
        self.since = 0
        self.epoch += 1
        room = air.volume_m3 - self._least
        lasts = np.divide(
            room, -self.d_volume, out=np.full(air.shape, np.inf), where=self.d_volume < 0
        )
        self._full_after = float(np.min(lasts)) - LOOK_STEPS

    def settle(self) -> None:
        """Bring the moles, the volume and the stores up to date."""
        air, n = self.air, self.since
        air.volume_m3 += n * self.d_volume
        air.co2[:] = self.excess + self.hold_co2 * air.volume_m3 - self.absorbed
        air.o2[:] = np.maximum(self.hold_o2 * air.volume_m3 - self.lack + self.given, 0.0)
        air.inert += n * self.d_inert
        air.absorbs_left -= self.absorbed
        air.oxygen_left -= self.given
        self._rebase()

    def stop_full(self) -> None:
        """Stop the water where a compartment is all but full."""
        if self.since >= self._full_after:
            self.settle()
            self.rate()

    def step(self) -> None:
        """Take one step."""
        self.since += 1
        self.excess += self._d_excess
        np.maximum(self.absorbed, self.excess, out=self.absorbed)
        np.minimum(self.absorbed, self.absorbs, out=self.absorbed)
        self.lack += self._d_lack
        np.maximum(self.given, self.lack, out=self.given)
        np.minimum(self.given, self.gives, out=self.given)


class _Watch:
    """Finds when one line is first reached, draw by draw."""

    def __init__(self, line: Line, stepper: Stepper) -> None:
        shape = stepper.air.shape
        self.line, self.stepper = line, stepper
        self.reached_h = np.full(shape, np.inf)
        self.alive: Bools = np.ones(shape, dtype=bool)
        self.count = self.alive.size
        self._now: Bools = np.empty(shape, dtype=bool)
        self._margin = np.empty(shape)
        scale = 1000.0 if line.what != "pressure" else PA_PER_BAR
        self._per_m3 = line.limit * scale / (R_J_PER_MOL_K * stepper.air.kelvin)
        self._epoch = -1
        self._not_before = self._careful = 0

    def look(self, k: int, *, now: bool = False) -> None:
        """Note the draws that have reached the line after ``k`` steps."""
        if self.count == 0:
            return
        if self._epoch != self.stepper.epoch:
            self._rebase()
        if k < self._not_before and not now:
            return
        self._margin_left()
        np.greater(self._margin, 0.0, out=self._now)
        np.logical_and(self._now, self.alive, out=self._now)
        count = int(np.count_nonzero(self._now))
        if count == self.count:
            self._not_before = self._next_look(k)
            return
        fresh = np.flatnonzero(np.not_equal(self.alive, self._now))
        self.reached_h.reshape(-1)[fresh] = k * self.stepper.step_h - self._overshoot_h(fresh, k)
        self.alive, self._now = self._now, self.alive
        self.count = count
        self._not_before = k + LOOK_STEPS

    def _rebase(self) -> None:
        """Set up the part of the margin that is linear in time, and how fast it can shrink."""
        step, air, what = self.stepper, self.stepper.air, self.line.what
        self._epoch = step.epoch
        if what in STORE_LINES:
            self._not_before = 0
            return
        co2_base = self._per_m3 * air.volume_m3 - air.co2
        co2_rate = self._per_m3 * step.d_volume - step.d_co2
        if what == "co2":
            self._base, self._rate = co2_base, co2_rate
        elif what == "pressure":
            self._base = co2_base - air.o2 - air.inert
            self._rate = co2_rate - step.d_o2 - step.d_inert
        else:
            sign = 1.0 if what == "o2 low" else -1.0
            self._base = sign * (air.o2 - self._per_m3 * air.volume_m3)
            self._rate = sign * (step.d_o2 - self._per_m3 * step.d_volume)
        # Stores that give make pressure and oxygen fall less fast; they give what is used.
        shrinks = self._rate if what == "co2" else self._rate - np.abs(step.d_o2)
        self._fastest = float(np.max(-shrinks))
        self._not_before, self._careful = 0, 2

    def _next_look(self, k: int) -> int:
        """Return the step before which no draw can reach the line."""
        self._careful -= 1
        if self.line.what in STORE_LINES or self._careful > 0:  # stores may be catching up
            return k + LOOK_STEPS
        if self._fastest <= 0.0:
            return NEVER
        least = float(np.min(self._margin[self.alive]))
        return k + max(LOOK_STEPS, int(least / self._fastest))

    def _margin_left(self) -> None:
        """Fill in how far each draw is from the line, mol; 0 or less is reached."""
        step, what, margin = self.stepper, self.line.what, self._margin
        if what == "absorbent":
            np.subtract(step.absorbs, step.absorbed, out=margin)
            return
        if what == "oxygen stores":
            np.subtract(step.gives, step.given, out=margin)
            return
        np.multiply(self._rate, step.since, out=margin)
        margin += self._base
        if what in ("co2", "pressure"):
            margin += step.absorbed
        if what == "o2 low":
            margin += step.given
        elif what != "co2":
            margin -= step.given

    def _overshoot_h(self, fresh: npt.NDArray[np.intp], k: int) -> Floats:
        """Return how long before this step's end the line was crossed, stores being spent."""
        if k == 0 or self.line.what in STORE_LINES:
            return np.zeros(len(fresh))
        falls = -self._rate.reshape(-1)[fresh]
        past = -self._margin.reshape(-1)[fresh]
        late = np.divide(past, falls, out=np.zeros(len(fresh)), where=falls > 0.0)
        return np.clip(late, 0.0, float(LOOK_STEPS)) * self.stepper.step_h


def run(
    air: Air,
    persons: Floats,
    *,
    lines: tuple[Line, ...] = (),
    changes: tuple[Change, ...] = (),
    hours: float = 240.0,
    step_h: float = 1.0 / 6.0,
    snapshot_hours: tuple[float, ...] = (),
    snapshot_draws: int = 0,
    block: int = 10_000,
) -> Run:
    """Return when each line is reached, and the air at the hours asked for.

    Parameters
    ----------
    air : Air
        Left unchanged.
    persons : ndarray, broadcast to (n_compartments, n_draws)
        Who breathes at the start.
    changes : tuple of Change
        Taken at the nearest step.
    hours, step_h : float
        The horizon and the step, h.
    snapshot_draws : int
        How many draws the snapshots hold; 0 for all.
    block : int
        Draws stepped together; small enough to stay in the processor's cache.
    """
    n_compartments, n_draws = air.shape
    everyone = np.broadcast_to(persons, air.shape)
    kept = snapshot_draws or n_draws
    reached = np.full((len(lines), n_compartments, n_draws), np.inf)
    pieces: list[list[Air]] = [[] for _ in snapshot_hours]
    for start in range(0, n_draws, block):
        cut = slice(start, min(start + block, n_draws))
        stepper = Stepper(air.block(cut), everyone[:, cut], step_h)
        wanted = snapshot_hours if start < kept else ()
        taken = _run_block(stepper, lines, _due(changes, cut, step_h), hours, wanted)
        reached[:, :, cut] = taken.reached_h
        for piece, snapshot in zip(pieces, taken.snapshots, strict=False):
            piece.append(snapshot.block(slice(0, kept - start)))
    return Run(
        reached_h=reached,
        snapshots=tuple(_side_by_side(piece) for piece in pieces),
    )


def _side_by_side(pieces: list[Air]) -> Air:
    return Air(**{f.name: np.hstack([getattr(p, f.name) for p in pieces]) for f in fields(Air)})


Due = dict[int, list[tuple[Change, npt.NDArray[np.intp]]]]


def _due(changes: tuple[Change, ...], cut: slice, step_h: float) -> Due:
    """Return the changes by step, with the draws of this block they touch."""
    due: Due = {}
    for change in changes:
        after = change.after_h[cut]
        steps = np.where(np.isfinite(after), np.rint(after / step_h), -1).astype(np.int64)
        steps = np.where((after <= 0.0) & np.isfinite(after), 0, steps)
        for step in np.unique(steps[steps >= 0]):
            due.setdefault(int(step), []).append((change, np.flatnonzero(steps == step)))
    return due


def _apply(stepper: Stepper, due: list[tuple[Change, npt.NDArray[np.intp]]]) -> None:
    stepper.settle()
    air = stepper.air
    for change, draws in due:
        c = change.compartment
        left = stepper.persons[c, draws] + change.persons
        stepper.persons[c, draws] = np.maximum(left, 0.0)
        air.absorbs_left[c, draws] += change.absorbs
        air.oxygen_left[c, draws] += change.oxygen
        air.leak_mol_h[c, draws] += change.leak_mol_h
    stepper.rate()


def _run_block(
    stepper: Stepper,
    lines: tuple[Line, ...],
    due: Due,
    hours: float,
    snapshot_hours: tuple[float, ...],
) -> Run:
    step_h, snapshots = stepper.step_h, []
    watches = [_Watch(line, stepper) for line in lines]
    wanted = {round(hour / step_h) for hour in snapshot_hours}
    for k in range(round(hours / step_h) + 1):
        if k:
            stepper.step()
        stepper.stop_full()
        if k in due:
            for watch in watches:
                watch.look(k, now=True)
            _apply(stepper, due[k])
        for watch in watches:
            watch.look(k)
        if k in wanted:
            stepper.settle()
            snapshots.append(stepper.air.copy())
    reached = np.array([watch.reached_h for watch in watches])
    return Run(
        reached_h=reached.reshape(len(lines), *stepper.air.shape), snapshots=tuple(snapshots)
    )
