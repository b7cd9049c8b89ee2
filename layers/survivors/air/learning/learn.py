"""The air learnt from what is told: every new measurement corrects the model.

A reading that chance does not explain is *doubtful*: it is told at once and asked about, and
two accounts go on side by side, one without it and one that begins again from it. A later reading
that agrees with only one of them settles it, and so does a person. Until then the account with
it may only shorten what is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from layers.earth.units import PA_PER_BAR
from layers.survivors.air.learning.branch import Branch
from layers.survivors.air.learning.events import (
    Added,
    AirPrior,
    Breathed,
    BreathingRate,
    Correction,
    Count,
    Event,
    PeoplePresent,
    SaidInflow,
    Sample,
)
from layers.survivors.air.rhythm import Exertion
from layers.survivors.air.state import Air

# With people alive. 6 % oxygen at sea level (6.08 kPa): loss of consciousness, death in about
# 8 min (a university safety office's page, seen at second hand). Carbon dioxide: 15 kPa is far
# above what anybody stays conscious in (from memory, no page seen).
LEAST_O2_KPA, MOST_CO2_KPA = 6.08, 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AirDoubt:
    """A reading that waits for a person: which, and which of its quantities."""

    key: str
    quantities: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """The air at a time, as all readings before it leave it.

    ``doubted`` is the air if the doubtful reading is right after all, None without one; ``read``
    are the gases that were ever read, and ``doubted_read`` those of the other account.
    """

    air: Air
    persons: int
    corrections: tuple[Correction, ...]
    read: frozenset[str] = frozenset()
    doubted: Air | None = None
    doubted_read: frozenset[str] = frozenset()
    doubt: AirDoubt | None = None


class Learner:
    """Carries one refuge's draws from event to event."""

    def __init__(
        self,
        prior: AirPrior,
        n_draws: int,
        seed: int,
        name: str,
        activities: Sequence[Exertion] = (),
    ) -> None:
        self._begin_with = (prior, n_draws, seed, name)
        self.activities = activities
        self.main: Branch | None = None
        self.other: Branch | None = None
        self.doubt: AirDoubt | None = None
        self.doubtful: Sample | None = None
        self.at_h = 0.0
        self.persons = 0
        self.corrections: list[Correction] = []
        self._waiting: list[Event] = []  # told before the first reading

    def take(self, event: Event) -> None:
        """Carry the draws to an event and take it in."""
        if isinstance(event, PeoplePresent):
            self.advance(event.at_h)
            self.persons = event.persons
        elif self.main is None and not isinstance(event, Sample):
            self._waiting.append(event)
        else:
            self.advance(event.at_h)
            if isinstance(event, Sample):
                self._read(event)
            else:
                self._told(event)

    def advance(self, at_h: float) -> None:
        """Carry the draws to a time."""
        for branch in self._branches():
            branch.advance(self.at_h, at_h, self.persons, self.activities)
        self.at_h = max(self.at_h, at_h)

    def _branches(self) -> list[Branch]:
        return [branch for branch in (self.main, self.other) if branch is not None]

    def _told(
        self, event: Count | Added | BreathingRate | SaidInflow | Breathed | PeoplePresent
    ) -> None:
        for branch in self._branches():
            if isinstance(event, Count):
                branch.count(event)
            elif isinstance(event, Added):
                branch.add(event)
            elif isinstance(event, SaidInflow):
                branch.said(event, learnt=bool(self.corrections))
            elif isinstance(event, BreathingRate):
                branch.rate(event)
            elif isinstance(event, Breathed):
                branch.air.leak_mol_h += event.mol_per_h

    # Readings ---------------------------------------------------------------------------------

    def _read(self, sample: Sample) -> None:
        impossible = frozenset() if sample.sure else self._impossible(sample)
        if self.main is None:
            self._first(sample, impossible)
            return
        main, other = self.main, self.other
        off = main.far_off(sample) | impossible
        if sample.sure:
            self.corrections += main.correction(sample, frozenset(), again=bool(off))
            main.begin_again(sample) if off else main.take(sample)
            self.other = self.doubt = None
            return
        stands_by = other is not None and off and not other.far_off(sample) and not impossible
        if stands_by and other is not None and self._retold(sample):  # it cannot vouch for itself
            other.take(sample)
            main.take(sample, without=off)
            return
        if stands_by and other is not None:  # two readings agree against the model
            self.corrections += main.correction(sample, frozenset(), again=True)
            other.take(sample)
            self.main, self.other, self.doubt = other, None, None
            return
        self.corrections += main.correction(sample, off, again=False)
        if off:
            self.doubt, self.doubtful = AirDoubt(key=sample.key, quantities=off), sample
            self.other = main.copy()
            self.other.begin_again(sample)
            main.take(sample, without=off)
            return
        main.take(sample)
        if self.doubt is None or other is None:
            return
        if self.doubt.quantities & set(main.expected(sample)[0]):
            self.other = self.doubt = None  # read again, and as the model had it
        else:
            other.take(sample, without=other.far_off(sample))

    def _retold(self, sample: Sample) -> bool:
        """Return whether it is the reading in doubt told again."""
        return self.doubtful is not None and sample.retells(self.doubtful)

    def _first(self, sample: Sample, impossible: frozenset[str]) -> None:
        prior, n_draws, seed, name = self._begin_with
        kept = sample
        if "oxygen" in impossible:
            kept = replace(kept, o2_percent=None)
        if "carbon dioxide" in impossible:
            kept = replace(kept, co2_percent=None)
        self.main = Branch(prior, kept, n_draws, seed, name)
        if impossible:
            self.other = Branch(prior, sample, n_draws, seed, name)
            self.doubt = AirDoubt(key=sample.key, quantities=impossible)
            self.doubtful = sample
        for event in self._waiting:
            assert not isinstance(event, PeoplePresent | Sample)
            self._told(event)
        self._waiting = []

    def _impossible(self, sample: Sample) -> frozenset[str]:
        """Return the gases in which nobody could be alive, while people are taken to be."""
        if not self.persons:
            return frozenset()
        kpa_per_percent = sample.pressure_bar * PA_PER_BAR / 1e5
        found = set()
        if sample.o2_percent is not None and sample.o2_percent * kpa_per_percent < LEAST_O2_KPA:
            found.add("oxygen")
        if sample.co2_percent is not None and sample.co2_percent * kpa_per_percent > MOST_CO2_KPA:
            found.add("carbon dioxide")
        return frozenset(found)


def learn(
    prior: AirPrior,
    events: Iterable[Event],
    until_h: float,
    *,
    n_draws: int,
    seed: int,
    name: str,
    activities: Sequence[Exertion] = (),
) -> Learned | None:
    """Return the air at ``until_h`` as all events by then leave it; None before any reading.

    Parameters
    ----------
    events : iterable of Event
        In order of their time; those after ``until_h`` are left out.
    activities : sequence of Exertion
        What people were told to do, and when.
    """
    learner = Learner(prior, n_draws, seed, name, activities)
    for event in events:
        if event.at_h <= until_h:
            learner.take(event)
    learner.advance(until_h)
    if learner.main is None:
        return None
    other = learner.other
    return Learned(
        air=learner.main.air,
        persons=learner.persons,
        corrections=tuple(learner.corrections),
        read=frozenset(learner.main.read),
        doubted=None if other is None else other.air,
        doubted_read=frozenset() if other is None else frozenset(other.read),
        doubt=learner.doubt,
    )


def as_last_read(
    events: Iterable[Event], gases: frozenset[str], doubt: AirDoubt | None
) -> tuple[Event, ...]:
    """Return events in which only the last reading of some gases is left.

    Stores that nobody told of may have held such a gas: how it went from reading to reading then
    says nothing of how people breathe, of the room or of the instrument; what is there now does. A
    reading in doubt is none.
    """
    found = list(events)
    for gas in gases:
        told = [
            (n, one)
            for n, one in enumerate(found)
            if isinstance(one, Sample) and _read(one, gas) is not None
        ]
        kept = [n for n, one in told if doubt is None or one.key != doubt.key][-1:]
        for n, one in told:
            if n not in kept:
                found[n] = _unread(one, gas)
    return tuple(found)


def _read(sample: Sample, gas: str) -> float | None:
    return sample.o2_percent if gas == "oxygen" else sample.co2_percent


def _unread(sample: Sample, gas: str) -> Sample:
    if gas == "oxygen":
        return replace(sample, o2_percent=None)
    return replace(sample, co2_percent=None)
