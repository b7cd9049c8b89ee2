"""One account of a refuge's air: draws that are carried ahead, read against, and corrected.

An ensemble Kalman filter (Evensen 1994, J. Geophys. Res. 99 C5, 10143; from memory) over the
moles in a refuge, what changes them, how breathing swings, and what each instrument keeps
reading wrong. Each draw is carried to the time of a reading by the same rules that look ahead;
the reading then moves every draw by what its quantities have in common with it.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.units import PA_PER_BAR, R_J_PER_MOL_K
from layers.survivors.air import rhythm
from layers.survivors.air.drawn import normals
from layers.survivors.air.learning.events import (
    Added,
    AirPrior,
    BreathingRate,
    Correction,
    Count,
    SaidInflow,
    Sample,
    shared_error,
)
from layers.survivors.air.rhythm import Exertion
from layers.survivors.air.state import Air
from layers.survivors.air.step import SMALL_MOL, advance

NAMES = {
    "pressure": "bar absolute",
    "oxygen": "% by volume",
    "carbon dioxide": "% by volume",
}
GASES = ("oxygen", "carbon dioxide")
# A gas that was never read is carried as stale air, very widely, and is told to nobody.
NOT_READ = {"oxygen": (18.0, 4.0), "carbon dioxide": (1.5, 1.0)}
FAR_OFF = 3.5  # standard deviations; a chance of 5 in 10,000 for one quantity
# Chi-squared at 99.9 % for 1, 2, 3 quantities read together (any statistical table).
SURPRISE = {1: 10.83, 2: 13.82, 3: 16.27}


class Branch:
    """The draws of one refuge; ``read`` are the gases that were ever read."""

    def __init__(self, prior: AirPrior, first: Sample, n_draws: int, seed: int, name: str) -> None:
        self.prior, self.n_draws, self.seed, self.name = prior, n_draws, seed, name
        self.bias: dict[tuple[str, str], Floats] = {}
        self.read: set[str] = set()
        self.read_at_h: dict[tuple[str, str], float] = {}  # by instrument and quantity, the last
        self.told: dict[tuple[str, bool], tuple[float, float]] = {}  # stores, inflow: when, what
        ones = np.ones((1, n_draws))
        volume = prior.volume_m3 * np.exp(prior.volume_share * self.normal("volume"))
        kelvin = ones * (first.kelvin or 283.15)
        o2, co2, inert = self._gas(first, volume, kelvin)
        self._heard(first)
        self.air = Air(
            o2=o2,
            co2=co2,
            inert=inert,
            volume_m3=volume,
            oxygen_left=0.0 * ones,
            absorbs_left=0.0 * ones,
            breath=prior.breath * np.exp(prior.breath_share * self.normal("breath")),
            rq=prior.rq * np.exp(prior.rq_share * self.normal("rq")),
            water_m3_h=prior.water_share * volume * self.normal("water"),
            leak_mol_h=prior.leak_share * (o2 + co2 + inert) * self.normal("leak"),
            hold_o2_kpa=0.0 * ones,
            hold_co2_kpa=np.inf * ones,
            kelvin=kelvin,
        )
        rhythm.begun(self.air, prior, seed, name)

    def normal(self, *names: object) -> Floats:
        """Return the draws that belong to a name, shape (1, n_draws)."""
        return normals(self.seed, self.n_draws, self.name, *names)[None, :]

    def copy(self) -> Branch:
        """Return a branch that goes its own way from here."""
        return copy.deepcopy(self)

    def advance(
        self, from_h: float, until_h: float, persons: int, activities: Sequence[Exertion]
    ) -> None:
        """Carry the draws from one time to another."""
        if until_h <= from_h:
            return
        changes, wander = rhythm.paces(
            self.air, self.prior, activities, (from_h, until_h), seed=self.seed, name=self.name
        )
        advance(self.air, float(persons), until_h - from_h, tuple(changes))
        self.air.wander[0] = wander

    # What an instrument reads ------------------------------------------------------------------

    def _bias(self, instrument: str, quantity: str) -> Floats:
        key = (instrument, quantity)
        if key not in self.bias:
            share = {
                "pressure": self.prior.bias_bar,
                "oxygen": self.prior.bias_o2,
                "carbon dioxide": self.prior.bias_co2,
            }[quantity]
            self.bias[key] = share * self.normal("bias", instrument, quantity)
        return self.bias[key]

    def _sigma(self, quantity: str) -> float:
        prior = self.prior
        return {
            "pressure": prior.pressure_bar,
            "oxygen": prior.o2_percent,
            "carbon dioxide": prior.co2_percent,
        }[quantity]

    def _gas(self, sample: Sample, volume: Floats, kelvin: Floats) -> tuple[Floats, Floats, Floats]:
        """Return mol of oxygen, carbon dioxide and the rest as a reading leaves them."""
        noise = self.prior.pressure_bar * self.normal("bar", sample.key)
        bar = sample.pressure_bar + noise - self._bias(sample.instrument, "pressure")
        total = bar * PA_PER_BAR * volume / (R_J_PER_MOL_K * kelvin)
        o2 = self._share(sample, "oxygen", sample.o2_percent, 0.1)
        co2 = self._share(sample, "carbon dioxide", sample.co2_percent, 0.01)
        return total * o2, total * co2, total * np.maximum(1.0 - o2 - co2, 0.01)

    def _share(self, sample: Sample, gas: str, read: float | None, least: float) -> Floats:
        noise = self.normal(gas, sample.key)
        if read is None:
            mean, sigma = NOT_READ[gas]
            return np.asarray(np.maximum(mean + sigma * noise, least) / 100.0)
        self.read.add(gas)
        true = (read + self._sigma(gas) * noise) / (1.0 + self._bias(sample.instrument, gas))
        return np.asarray(np.maximum(true, least) / 100.0)

    def expected(self, sample: Sample) -> tuple[list[str], Floats, Floats, Floats]:
        """Return the quantities read, what the draws expect of them, what was read, its error."""
        air = self.air
        total = air.o2 + air.co2 + air.inert
        names, rows, read = ["pressure"], [], [sample.pressure_bar]
        rows.append((air.pressure_bar() + self._bias(sample.instrument, "pressure"))[0])
        for gas, mol, value in (
            ("oxygen", air.o2, sample.o2_percent),
            ("carbon dioxide", air.co2, sample.co2_percent),
        ):
            if value is not None and gas in self.read:
                names.append(gas)
                bias = 1.0 + self._bias(sample.instrument, gas)
                rows.append((100.0 * mol / total * bias)[0])
                read.append(value)
        sigma = np.array([self._sigma(name) for name in names])
        return names, np.array(rows), np.array(read), sigma

    def far_off(self, sample: Sample) -> frozenset[str]:
        """Return the quantities of a reading that chance does not explain."""
        names, expected, read, sigma = self.expected(sample)
        spread = np.atleast_2d(np.cov(expected)) + np.diag(sigma**2)
        off = read - expected.mean(axis=1)
        sizes = np.abs(off) / np.sqrt(np.diag(spread))
        far = {name for name, size in zip(names, sizes, strict=True) if size > FAR_OFF}
        if not far and float(off @ np.linalg.solve(spread, off)) > SURPRISE[len(names)]:
            far = {names[int(np.argmax(sizes))]}
        return frozenset(far)

    def correction(
        self, sample: Sample, doubtful: frozenset[str], *, again: bool
    ) -> list[Correction]:
        """Return what a reading shows against what is expected of it."""
        names, expected, read, sigma = self.expected(sample)
        found = []
        for row, name in enumerate(names):
            noise = sigma[row] * self.normal("noise", sample.key, name)[0]
            seen = expected[row] + noise
            low, mid, high = np.percentile(seen, (10, 50, 90))
            found.append(
                Correction(
                    key=sample.key,
                    quantity=name,
                    unit=NAMES[name],
                    expected_p10=float(low),
                    expected_p50=float(mid),
                    expected_p90=float(high),
                    read=float(read[row]),
                    sigmas=float((read[row] - mid) / seen.std()),
                    began_again=again,
                    doubtful=name in doubtful,
                )
            )
        return found

    # Taking a reading in -----------------------------------------------------------------------

    def take(self, sample: Sample, without: frozenset[str] = frozenset()) -> None:
        """Move every draw by a reading; the quantities in ``without`` are left out."""
        if sample.kelvin is not None:
            self.air.kelvin[:] = sample.kelvin
        names, expected, read, sigma = self.expected(sample)
        wider = np.array([self._retold(sample, name) for name in names])
        keep = [n for n, name in enumerate(names) if name not in without and wider[n] < np.inf]
        if keep:
            self._assimilate(expected[keep], read[keep], (sigma * wider)[keep], sample.key)
        for gas in GASES:
            if gas not in self.read and gas not in without:
                self._first_read(sample, gas)
        self._heard(sample, without)

    def _heard(self, sample: Sample, without: frozenset[str] = frozenset()) -> None:
        """Keep when each quantity was last read by an instrument."""
        values = (sample.pressure_bar, sample.o2_percent, sample.co2_percent)
        for name, value in zip(NAMES, values, strict=True):
            if value is not None and name not in without:
                self.read_at_h[sample.instrument, name] = sample.at_h

    def _retold(self, sample: Sample, quantity: str) -> float:
        """Return by how much the error of a reading is wider for what is new in it.

        Of two with one standard deviation s and a share r of their errors in common, the mean is
        good to s²(1 + r)/2; so the second adds what one with s²(1 + r)/(1 - r) would add.
        """
        before_h = self.read_at_h.get((sample.instrument, quantity))
        shared = 0.0 if before_h is None else shared_error(sample.at_h - before_h)
        return np.inf if shared >= 1.0 else float(np.sqrt((1.0 + shared) / (1.0 - shared)))

    def _told_before(self, what: str, which: bool, at_h: float, value: float) -> bool:
        """Return whether the same was told within minutes, and keep it."""
        before = self.told.get((what, which))
        self.told[what, which] = (at_h, value)
        return (
            before is not None
            and shared_error(at_h - before[0]) > 0.5
            and bool(np.isclose(value, before[1], rtol=1e-3))
        )

    def _first_read(self, sample: Sample, gas: str) -> None:
        value = sample.o2_percent if gas == "oxygen" else sample.co2_percent
        if value is None:
            return
        air = self.air
        total = air.o2 + air.co2 + air.inert
        mol = total * self._share(sample, gas, value, 0.01)
        row = air.o2 if gas == "oxygen" else air.co2
        air.inert[:] = np.maximum(air.inert + row - mol, 0.01 * total)
        row[:] = mol

    def begin_again(self, sample: Sample) -> None:
        """Start again from a reading the model cannot explain; the stores stay as counted."""
        air, prior, key = self.air, self.prior, sample.key
        self._heard(sample)
        if sample.kelvin is not None:
            air.kelvin[:] = sample.kelvin
        held = sample
        total = air.o2 + air.co2 + air.inert
        for gas, row in (("oxygen", air.o2), ("carbon dioxide", air.co2)):
            name = "o2_percent" if gas == "oxygen" else "co2_percent"
            if getattr(sample, name) is None and gas in self.read:
                share = float(np.mean(100.0 * row / total))
                held = replace(held, **{name: share})  # type: ignore[arg-type]  # one of two floats
        air.o2, air.co2, air.inert = self._gas(held, air.volume_m3, air.kelvin)
        # nothing is held better than it was read, or its stores would deny the reading at once
        for held_kpa, mol, worse in (
            (air.hold_co2_kpa, air.co2, np.maximum), (air.hold_o2_kpa, air.o2, np.minimum)
        ):  # fmt: skip
            worse(held_kpa, air.partial_kpa(mol), out=held_kpa, where=usable(held_kpa))
        air.breath *= np.exp(prior.breath_share * self.normal("breath again", key))
        wider = 3.0  # what nobody saw coming may be larger than what was thought at first
        water = wider * prior.water_share * air.volume_m3
        air.water_m3_h += water * self.normal("water again", key)
        air.leak_mol_h += wider * prior.leak_share * total * self.normal("leak again", key)

    def _assimilate(self, expected: Floats, read: Floats, sigma: Floats, key: str) -> None:
        """Move every draw by what it has in common with the reading (perturbed observations)."""
        owed = self._owe()
        state = self._state()
        noise = np.vstack([self.normal("seen", key, row) for row in range(len(read))])
        apart = read[:, None] + sigma[:, None] * noise - expected
        state_off = state - state.mean(axis=1, keepdims=True)
        seen_off = expected - expected.mean(axis=1, keepdims=True)
        cross = state_off @ seen_off.T / (self.n_draws - 1)
        spread = seen_off @ seen_off.T / (self.n_draws - 1) + np.diag(sigma**2)
        self._put_state(state + cross @ np.linalg.solve(spread, apart))
        self._settle(owed)

    def _owe(self) -> list[tuple[Floats, Floats, Floats, float]]:
        """Carry spent stores below none by what the gas has gone past them; return those pools.

        A store falls evenly whether it still holds its gas or not, and a reading moves such a
        straight line well. Cut off at none, a draw that is spent could only ever get some back.
        """
        air, found = self.air, []
        for left, gas, held, sign in (
            (air.absorbs_left, air.co2, air.hold_co2_kpa, 1.0),
            (air.oxygen_left, air.o2, air.hold_o2_kpa, -1.0),
        ):
            if usable(held) and np.any(left > SMALL_MOL):
                past = sign * (gas - self._mol(held))
                left -= np.where(left > SMALL_MOL, 0.0, np.maximum(past, 0.0))
                found.append((left, gas, held, sign))
        return found

    def _settle(self, owed: list[tuple[Floats, Floats, Floats, float]]) -> None:
        """Let what is left of each store hold its gas, and what is owed be none."""
        for left, gas, held, sign in owed:
            past = sign * (gas - self._mol(held))
            gas -= sign * np.where(left > SMALL_MOL, np.maximum(past, 0.0), 0.0)
            np.maximum(left, 0.0, out=left)

    def _mol(self, kpa: Floats) -> Floats:
        """Return mol of a gas at a partial pressure."""
        return np.asarray(1000.0 * kpa * self.air.volume_m3 / (R_J_PER_MOL_K * self.air.kelvin))

    def _rows(self) -> tuple[list[Floats], list[Floats]]:
        """Return the arrays moved in their logarithm, and those moved as they are."""
        air = self.air
        logs = [air.o2, air.co2, air.inert, air.volume_m3, air.breath, air.rq]
        logs += [row for row in (air.hold_o2_kpa, air.hold_co2_kpa) if usable(row)]
        plain = [air.water_m3_h, air.leak_mol_h, air.oxygen_left, air.absorbs_left]
        plain += [air.swing_cos, air.swing_sin, air.wander, *self.bias.values()]
        return logs, plain

    def _state(self) -> Floats:
        logs, plain = self._rows()
        return np.vstack([*(np.log(np.maximum(row, 1e-6)) for row in logs), *plain])

    def _put_state(self, state: Floats) -> None:
        logs, plain = self._rows()
        for row, values in zip(logs, state, strict=False):
            row[0] = np.exp(values)
        for row, values in zip(plain, state[len(logs) :], strict=True):
            row[0] = values

    # Stores, and what was said -----------------------------------------------------------------

    def count(self, count: Count) -> None:
        """Take in a count of stores."""
        if self._told_before("count", count.oxygen, count.at_h, count.mol):
            self._hold(count)
            return
        row = self.air.oxygen_left if count.oxygen else self.air.absorbs_left
        before = row[0].mean()
        sigma = max(count.share * count.mol, 1.0)
        apart = abs(count.mol - before) / np.hypot(row[0].std(), sigma)
        if before <= 0.0 or apart > 4.0:
            row[:] = np.maximum(count.mol + sigma * self.normal("count", count.key), 0.0)
            if count.mol == 0.0:
                row[:] = 0.0
        else:
            self._assimilate(row.copy(), np.array([count.mol]), np.array([sigma]), count.key)
        self._hold(count)

    def _hold(self, count: Count) -> None:
        air = self.air
        held = air.hold_o2_kpa if count.oxygen else air.hold_co2_kpa
        known = usable(held)
        if known and count.hold_kpa is None:
            return
        if count.hold_kpa is None:
            # what is there now: a level between the draws would lift, by its stores and at once,
            # all that lie below it, and the gas would stand better than anybody read it
            held[:] = air.partial_kpa(air.o2 if count.oxygen else air.co2)
            return
        level = count.hold_kpa
        if known and abs(np.median(held) / level - 1.0) < self.prior.hold_share:
            return  # as before; what was learnt about it stays
        held[:] = level * np.exp(
            self.prior.hold_share * self.normal("hold", count.oxygen, round(float(level), 3))
        )

    def add(self, added: Added) -> None:
        """Take in stores that came."""
        air = self.air
        factor = np.maximum(1.0 + added.share * self.normal("added", added.key), 0.0)
        air.oxygen_left += added.oxygen_mol * factor
        air.absorbs_left += added.absorbs_mol * factor
        for oxygen, mol in ((True, added.oxygen_mol), (False, added.absorbs_mol)):
            if mol:
                none: dict[str, Any] = {"share": 0.0, "hold_kpa": None, "key": added.key}
                self._hold(Count(at_h=added.at_h, oxygen=oxygen, mol=mol, **none))

    def said(self, said: SaidInflow, *, learnt: bool) -> None:
        """Take in what was said of water or gas coming in; the readings may know better."""
        if self._told_before("inflow", said.water, said.at_h, said.rate):
            return
        row = self.air.water_m3_h if said.water else self.air.leak_mol_h
        if not learnt:
            row[:] = said.rate + said.sigma * self.normal("said", said.key)
        else:
            self._assimilate(row.copy(), np.array([said.rate]), np.array([said.sigma]), said.key)

    def rate(self, rate: BreathingRate) -> None:
        """Let people breathe by another figure from now on; what was learnt of them stays."""
        self.air.breath *= rate.breath_ratio
        self.air.rq *= rate.rq_ratio


def usable(row: Floats) -> bool:
    """Return whether a level is held at all."""
    return bool(np.all(np.isfinite(row)) and np.all(row > 0.0))
