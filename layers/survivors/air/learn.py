"""The air learnt from what is told: every new measurement corrects the model.

An ensemble Kalman filter (Evensen 1994, J. Geophys. Res. 99 C5, 10143; from memory) over the
moles in a refuge and what changes them. Each draw is carried to the time of a reading by the
same steps that look ahead; the reading then moves every draw by what its quantities have in
common with it. What was expected of the reading is kept beside what was read.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layers.earth.units import PA_PER_BAR, R_J_PER_MOL_K
from layers.survivors.air.state import Air, Floats
from layers.survivors.air.step import Stepper

STEP_H = 1.0 / 6.0
# Chi-squared at 99.9 % for 1, 2, 3 quantities read together (any statistical table).
SURPRISE = {1: 10.83, 2: 13.82, 3: 16.27}


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is taken before anything is read; shares are one standard deviation.

    Parameters
    ----------
    volume_m3, volume_share
        Free gas volume.
    breath, breath_share : mol O2 a person-hour
        And the spread between and within people that does not average out.
    rq, rq_share
        Respiratory quotient.
    water_share, leak_share : per hour
        Of the volume, and of the gas, where nothing was said about water or gas coming in.
    hold_share
        How loosely people hold a partial pressure with their stores.
    pressure_bar, o2_percent, co2_percent
        Error of a reading.
    """

    volume_m3: float
    volume_share: float
    breath: float
    breath_share: float
    rq: float
    rq_share: float = 0.03
    water_share: float = 0.001
    leak_share: float = 0.001
    hold_share: float = 0.05
    pressure_bar: float = 0.02
    o2_percent: float = 0.3
    co2_percent: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A reading: bar absolute, per cent by volume, K; None where not read."""

    at_h: float
    pressure_bar: float
    o2_percent: float | None
    co2_percent: float | None
    kelvin: float | None
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """Stores counted: mol of oxygen they give, or of carbon dioxide they take.

    ``hold_kpa`` is the partial pressure held by using them; None takes what was last read.
    """

    at_h: float
    oxygen: bool
    mol: float
    share: float
    hold_kpa: float | None
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """Stores taken in, mol, with one standard deviation as a share."""

    at_h: float
    oxygen_mol: float
    absorbs_mol: float
    share: float
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """How many breathe from this time on."""

    at_h: float
    persons: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Water (m3/h) or air (mol/h) said to come in, with one standard deviation."""

    at_h: float
    water: bool
    rate: float
    sigma: float
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Breathed:
    """Air that people begin (or, negative, cease) to breathe out of bottles, mol/h."""

    at_h: float
    mol_per_h: float


Event = Sample | Count | Added | Present | Said | Breathed


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a reading showed against what was expected of it.

    ``sigmas`` is how far off, in standard deviations of model and instrument together;
    ``began_again`` that it was too far for chance and the model started again from it.
    """

    key: str
    quantity: str
    unit: str
    expected_p10: float
    expected_p50: float
    expected_p90: float
    read: float
    sigmas: float
    began_again: bool = False

    @property
    def off(self) -> float:
        """Read less expected."""
        return self.read - self.expected_p50


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """The air at a time, as all readings before it leave it."""

    air: Air
    persons: int
    corrections: tuple[Correction, ...]


def stream(seed: int, *names: object) -> np.random.Generator:
    """Return the generator that belongs to a name: the same whoever asks first."""
    words = [seed, zlib.crc32("|".join(map(str, names)).encode())]
    return np.random.default_rng(np.random.SeedSequence(words))


class Learner:
    """Carries one refuge's draws from event to event."""

    def __init__(self, prior: Prior, n_draws: int, seed: int, name: str) -> None:
        self.prior, self.n_draws, self.seed, self.name = prior, n_draws, seed, name
        self.air: Air | None = None
        self.at_h = 0.0
        self.persons = 0
        self.corrections: list[Correction] = []
        self._waiting: list[Event] = []  # told before the first reading

    def take(self, event: Event) -> None:
        """Carry the draws to an event and take it in."""
        if isinstance(event, Present):
            self.advance(event.at_h)
            self.persons = event.persons
        elif self.air is None and not isinstance(event, Sample):
            self._waiting.append(event)
        else:
            self.advance(event.at_h)
            self._take(event)

    def advance(self, at_h: float) -> None:
        """Carry the draws to a time."""
        span = at_h - self.at_h
        if self.air is not None and span > 0.0:
            steps = max(1, int(np.ceil(span / STEP_H - 1e-9)))
            stepper = Stepper(self.air, np.full((1, 1), float(self.persons)), span / steps)
            for _ in range(steps):
                stepper.step()
                stepper.stop_full()
            stepper.settle()
        self.at_h = max(self.at_h, at_h)

    def _take(self, event: Sample | Count | Added | Said | Breathed) -> None:
        if isinstance(event, Sample):
            if self.air is None:
                self._begin(event)
            else:
                self._read(event)
        elif isinstance(event, Count):
            self._count(event)
        elif isinstance(event, Added):
            self._add(event)
        elif isinstance(event, Said):
            self._said(event)
        elif self.air is not None:
            self.air.leak_mol_h += event.mol_per_h

    # The first reading ------------------------------------------------------------------------

    def _normal(self, *names: object) -> Floats:
        return stream(self.seed, self.name, *names).standard_normal((1, self.n_draws))

    def _begin(self, first: Sample) -> None:
        prior, ones = self.prior, np.ones((1, self.n_draws))
        volume = prior.volume_m3 * np.exp(prior.volume_share * self._normal("volume"))
        kelvin = ones * (first.kelvin or 283.15)
        o2, co2, inert = self._gas(first, volume, kelvin)
        breath = prior.breath * np.exp(prior.breath_share * self._normal("breath"))
        rq = prior.rq * np.exp(prior.rq_share * self._normal("rq"))
        self.air = Air(
            o2=o2,
            co2=co2,
            inert=inert,
            volume_m3=volume,
            oxygen_left=0.0 * ones,
            absorbs_left=0.0 * ones,
            breath=breath,
            rq=rq,
            water_m3_h=prior.water_share * volume * self._normal("water"),
            leak_mol_h=prior.leak_share * (o2 + co2 + inert) * self._normal("leak"),
            hold_o2_kpa=0.0 * ones,
            hold_co2_kpa=np.inf * ones,
            kelvin=kelvin,
        )
        for event in self._waiting:
            assert not isinstance(event, Present)
            self._take(event)
        self._waiting = []

    def _gas(self, sample: Sample, volume: Floats, kelvin: Floats) -> tuple[Floats, Floats, Floats]:
        """Return mol of oxygen, carbon dioxide and the rest as a reading leaves them."""
        prior, key = self.prior, sample.key
        bar = sample.pressure_bar + prior.pressure_bar * self._normal("bar", key)
        total = bar * PA_PER_BAR * volume / (R_J_PER_MOL_K * kelvin)
        o2 = 20.0 if sample.o2_percent is None else sample.o2_percent
        co2 = 0.5 if sample.co2_percent is None else sample.co2_percent
        # A gas that was not read is known only as ordinary air gone stale.
        o2_sigma = prior.o2_percent if sample.o2_percent is not None else 2.0
        co2_sigma = prior.co2_percent if sample.co2_percent is not None else 0.3
        o2_share = np.maximum(o2 + o2_sigma * self._normal("o2", key), 0.1) / 100.0
        co2_share = np.maximum(co2 + co2_sigma * self._normal("co2", key), 0.01) / 100.0
        return total * o2_share, total * co2_share, total * (1.0 - o2_share - co2_share)

    # Every later reading ----------------------------------------------------------------------

    def _read(self, sample: Sample) -> None:
        air = self.air
        assert air is not None
        if sample.kelvin is not None:
            air.kelvin[:] = sample.kelvin
        expected, read, sigma, names = self._expected(sample)
        spread = np.cov(expected).reshape(len(read), len(read)) + np.diag(sigma**2)
        off = read - expected.mean(axis=1)
        surprise = float(off @ np.linalg.solve(spread, off))
        again = surprise > SURPRISE[len(read)]
        self._keep(sample, names, expected, read, sigma, again)
        if again:
            self._begin_again(sample)
        else:
            self._assimilate(expected, read, sigma, sample.key)

    def _expected(self, sample: Sample) -> tuple[Floats, Floats, Floats, list[tuple[str, str]]]:
        air, prior = self.air, self.prior
        assert air is not None
        total = air.o2 + air.co2 + air.inert
        rows = [air.pressure_bar()[0]]
        read, sigma = [sample.pressure_bar], [prior.pressure_bar]
        names = [("pressure", "bar absolute")]
        if sample.o2_percent is not None:
            rows.append((100.0 * air.o2 / total)[0])
            read.append(sample.o2_percent)
            sigma.append(prior.o2_percent)
            names.append(("oxygen", "% by volume"))
        if sample.co2_percent is not None:
            rows.append((100.0 * air.co2 / total)[0])
            read.append(sample.co2_percent)
            sigma.append(prior.co2_percent)
            names.append(("carbon dioxide", "% by volume"))
        return np.array(rows), np.array(read), np.array(sigma), names

    def _keep(
        self,
        sample: Sample,
        names: list[tuple[str, str]],
        expected: Floats,
        read: Floats,
        sigma: Floats,
        again: bool,
    ) -> None:
        for row, (quantity, unit) in enumerate(names):
            noise = sigma[row] * self._normal("noise", sample.key, quantity)[0]
            seen = expected[row] + noise
            low, mid, high = np.percentile(seen, (10, 50, 90))
            self.corrections.append(
                Correction(
                    key=sample.key,
                    quantity=quantity,
                    unit=unit,
                    expected_p10=float(low),
                    expected_p50=float(mid),
                    expected_p90=float(high),
                    read=float(read[row]),
                    sigmas=float((read[row] - mid) / seen.std()),
                    began_again=again,
                )
            )

    def _assimilate(self, expected: Floats, read: Floats, sigma: Floats, key: str) -> None:
        """Move every draw by what it has in common with the reading (perturbed observations)."""
        state = self._state()
        noise = np.vstack([self._normal("seen", key, row) for row in range(len(read))])
        apart = read[:, None] + sigma[:, None] * noise - expected
        state_off = state - state.mean(axis=1, keepdims=True)
        seen_off = expected - expected.mean(axis=1, keepdims=True)
        cross = state_off @ seen_off.T / (self.n_draws - 1)
        spread = seen_off @ seen_off.T / (self.n_draws - 1) + np.diag(sigma**2)
        self._put_state(state + cross @ np.linalg.solve(spread, apart))

    def _rows(self) -> tuple[list[Floats], list[Floats]]:
        """Return the arrays moved in their logarithm, and those moved as they are."""
        air = self.air
        assert air is not None
        logs = [air.o2, air.co2, air.inert, air.volume_m3, air.breath, air.rq]
        logs += [row for row in (air.hold_o2_kpa, air.hold_co2_kpa) if _usable(row)]
        return logs, [air.water_m3_h, air.leak_mol_h, air.oxygen_left, air.absorbs_left]

    def _state(self) -> Floats:
        logs, plain = self._rows()
        return np.vstack([*(np.log(np.maximum(row, 1e-6)) for row in logs), *plain])

    def _put_state(self, state: Floats) -> None:
        logs, plain = self._rows()
        for row, values in zip(logs, state, strict=False):
            row[0] = np.exp(values)
        for row, values in zip(plain, state[len(logs) :], strict=True):
            row[0] = values
        air = self.air
        assert air is not None
        np.maximum(air.oxygen_left, 0.0, out=air.oxygen_left)
        np.maximum(air.absorbs_left, 0.0, out=air.absorbs_left)

    def _begin_again(self, sample: Sample) -> None:
        """Start again from a reading the model cannot explain; the stores stay as counted."""
        air, prior, key = self.air, self.prior, sample.key
        assert air is not None
        air.o2, air.co2, air.inert = self._gas(sample, air.volume_m3, air.kelvin)
        air.breath *= np.exp(prior.breath_share * self._normal("breath again", key))
        total = air.o2 + air.co2 + air.inert
        wider = 3.0  # what nobody saw coming may be larger than what was thought at first
        air.water_m3_h += (
            wider * prior.water_share * air.volume_m3 * self._normal("water again", key)
        )
        air.leak_mol_h += wider * prior.leak_share * total * self._normal("leak again", key)

    # Stores, and what was said ----------------------------------------------------------------

    def _count(self, count: Count) -> None:
        air = self.air
        assert air is not None
        row = air.oxygen_left if count.oxygen else air.absorbs_left
        before = row[0].mean()
        sigma = max(count.share * count.mol, 1.0)
        apart = abs(count.mol - before) / np.hypot(row[0].std(), sigma)
        if before <= 0.0 or apart > 4.0:
            row[:] = np.maximum(count.mol + sigma * self._normal("count", count.key), 0.0)
            if count.mol == 0.0:
                row[:] = 0.0
        else:
            self._assimilate(row.copy(), np.array([count.mol]), np.array([sigma]), count.key)
        self._hold(count)

    def _hold(self, count: Count) -> None:
        air = self.air
        assert air is not None
        held = air.hold_o2_kpa if count.oxygen else air.hold_co2_kpa
        known = _usable(held)
        if known and count.hold_kpa is None:
            return
        gas = air.o2 if count.oxygen else air.co2
        level = count.hold_kpa if count.hold_kpa is not None else np.median(air.partial_kpa(gas))
        if known and abs(np.median(held) / level - 1.0) < self.prior.hold_share:
            return  # as before; what was learnt about it stays
        held[:] = level * np.exp(
            self.prior.hold_share * self._normal("hold", count.oxygen, round(float(level), 3))
        )

    def _add(self, added: Added) -> None:
        air = self.air
        assert air is not None
        factor = np.maximum(1.0 + added.share * self._normal("added", added.key), 0.0)
        air.oxygen_left += added.oxygen_mol * factor
        air.absorbs_left += added.absorbs_mol * factor
        for oxygen, mol in ((True, added.oxygen_mol), (False, added.absorbs_mol)):
            if mol:
                self._hold(
                    Count(
                        at_h=added.at_h,
                        oxygen=oxygen,
                        mol=mol,
                        share=0.0,
                        hold_kpa=None,
                        key=added.key,
                    )
                )

    def _said(self, said: Said) -> None:
        air = self.air
        assert air is not None
        row = air.water_m3_h if said.water else air.leak_mol_h
        if not self.corrections:  # nothing has been learnt about it yet
            row[:] = said.rate + said.sigma * self._normal("said", said.key)
        else:
            self._assimilate(row.copy(), np.array([said.rate]), np.array([said.sigma]), said.key)


def _usable(row: Floats) -> bool:
    return bool(np.all(np.isfinite(row)) and np.all(row > 0.0))


def learn(
    prior: Prior,
    events: Iterable[Event],
    until_h: float,
    *,
    n_draws: int,
    seed: int,
    name: str,
) -> Learned | None:
    """Return the air at ``until_h`` as all events by then leave it; None before any reading.

    Parameters
    ----------
    events : iterable of Event
        In order of their time; those after ``until_h`` are left out.
    """
    learner = Learner(prior, n_draws, seed, name)
    for event in events:
        if event.at_h <= until_h:
            learner.take(event)
    learner.advance(until_h)
    if learner.air is None:
        return None
    return Learned(air=learner.air, persons=learner.persons, corrections=tuple(learner.corrections))
