"""Which lift each vehicle runs next, draw by draw; a lost vehicle's lifts go to another.

In each draw a vehicle has the plan's lifts in their order. Where it is lost in that draw, the
lifts it has left go behind those of the vehicle that is turned round first and can take them; none
of them dives before the hour at which the lost one was due on deck, when the watch knows. Several
sorties that stand for one lift of the plan count as that lift: out when the last of them is.
"""

from __future__ import annotations

import numpy as np

from layers.earth.arrays import Bools, Ints
from layers.survivors.lifts.run.job import Job
from layers.survivors.lifts.run.windows import NEVER


class Queues:
    """The lifts that wait for each vehicle, in each draw; changed as they are run and lost.

    Parameters
    ----------
    job : Job
        The plan as numbers.
    """

    def __init__(self, job: Job) -> None:
        rows, draws, vehicles = len(job.lifts), job.n_draws, len(job.ready_s)
        own = job.base == np.arange(rows)
        self.job = job
        self.place = np.zeros((draws, vehicles), dtype=np.int64)
        waits = own & (job.forced_s == NEVER)
        queue = [np.flatnonzero((job.vehicle == v) & waits) for v in range(vehicles)]
        longest = rows if job.over else max(map(len, queue), default=0)
        self._lifts = np.full((vehicles, longest + 1), -1)
        for v, mine in enumerate(queue):
            self._lifts[v, : len(mine)] = mine
        if job.over:  # else the same in all draws
            self._lifts = np.repeat(self._lifts[None], draws, axis=0)
            self._after = np.zeros((rows, draws), dtype=np.int64)
            self._counts = np.repeat(own[:, None], draws, axis=1)

    def lift(self, rows: Ints, vehicle: Ints) -> Ints:
        """Return the lift that waits first for each vehicle in each of these draws, -1 for none."""
        place = self.place[rows, vehicle]
        if self.job.over:
            return np.asarray(self._lifts[rows, vehicle, place])
        return np.asarray(self._lifts[vehicle, place])

    def waiting(self) -> Bools:
        """Return whether a lift waits for a vehicle, shape (n_draws, V)."""
        draws, vehicles = self.place.shape
        return self.lift(np.arange(draws)[:, None], np.arange(vehicles)[None, :]) >= 0

    def not_before_s(self, lift: Ints, rows: Ints) -> Ints:
        """Return from when a lift may be dived for: a lost vehicle's once that is known."""
        return self._after[lift, rows] if self.job.over else np.zeros_like(rows)

    def hand_over(self, rows: Ints, vehicle: Ints, known_s: Ints, turned_s: Ints) -> None:
        """Give what a vehicle has left to another, where it is lost.

        Parameters
        ----------
        rows, vehicle, known_s : ndarray, shape (m,)
            In which draws, which vehicle, and when the watch knows, seconds after now.
        turned_s : ndarray, shape (n_draws, V)
            When each vehicle is turned round; ``NEVER`` for one that dives no more.
        """
        base, over = self.job.base, self.job.over
        if not over:
            return
        told = zip(rows.tolist(), vehicle.tolist(), known_s.tolist(), strict=True)
        for row, lost, known in told:
            line = self._lifts[row, lost]
            left = [n for n in line[self.place[row, lost] :].tolist() if n >= 0]
            for lift in dict.fromkeys(base[left].tolist()):
                able = [
                    v
                    for v in range(self.place.shape[1])
                    if v != lost and (lift, v) in over and turned_s[row, v] < NEVER
                ]
                if not able:
                    continue
                taker = min(able, key=lambda v: int(turned_s[row, v]))
                gone = [n for n in left if base[n] == lift]
                line[self.place[row, lost] :] = _without(line[self.place[row, lost] :], gone)
                self._counts[gone, row] = False
                parts = list(over[lift, taker])
                free = int((self._lifts[row, taker] >= 0).sum())
                if free + len(parts) >= self._lifts.shape[-1]:
                    continue
                self._lifts[row, taker, free : free + len(parts)] = parts
                self._counts[parts, row] = True
                self._after[parts, row] = known

    def planned(self) -> int:
        """Return how many lifts the plan has."""
        return int((self.job.base == np.arange(len(self.job.base))).sum())

    def latest(self, times_s: Ints) -> Ints:
        """Return by lift of the plan the last of times that count for it, shape (L, D)."""
        return self._joined(times_s, -NEVER, np.maximum)

    def first(self, times_s: Ints) -> Ints:
        """Return by lift of the plan the first of times that count for it, shape (L, D)."""
        return self._joined(times_s, NEVER, np.minimum)

    def ended(self, times_s: Ints) -> Ints:
        """Return by lift of the plan the last time that ever comes, ``NEVER`` for none."""
        found = self._joined(np.where(times_s < NEVER, times_s, -NEVER), -NEVER, np.maximum)
        return np.where(found > -NEVER, found, NEVER)

    def summed(self, values: Ints) -> Ints:
        """Return by lift of the plan the sum over all that was done for it, first axis L."""
        found = values[: self.planned()].copy()
        for n in range(len(found), len(values)):
            found[self.job.base[n]] += values[n]
        return found

    def _joined(self, values: Ints, nothing: int, join: np.ufunc) -> Ints:
        planned = self.planned()
        if planned == len(values):
            return values
        counted = np.where(self._counts, values, nothing)
        found = counted[:planned]
        for n in range(planned, len(values)):
            mine = self.job.base[n]
            found[mine] = join(found[mine], counted[n])
        return np.where(np.abs(found) == NEVER, NEVER, found)


def _without(line: Ints, gone: list[int]) -> Ints:
    """Return a queue with some lifts taken out and the rest moved up."""
    kept = [n for n in line.tolist() if n >= 0 and n not in gone]
    return np.array(kept + [-1] * (len(line) - len(kept)), dtype=line.dtype)
