"""When a report was made meets when she was lost.

What was heard or found on the bottom was heard after the loss; what moved, moved before it; a
search that ended before the loss proves nothing. A report that does not say which bears on where
she was at its time: under way along her track until the loss, at rest after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from layers.datum.before.prior import Prior, States
from layers.datum.evidence.likelihood import BearingTerm, Measured, PlaceTerm, RangeTerm
from layers.earth.arrays import Floats

SheWas = Literal["not said", "on the bottom", "under way"]
LYING = ("tap", "hammer", "knock", "pinger", "beacon", "indicator")
SPEAKING = ("telephone", "uwt", "voice")


class Missed(Protocol):
    """The chance of having missed her, by place."""

    def __call__(self, states: States) -> Floats:
        """Return it for each state, shape (n,)."""
        ...


def she_was(said: SheWas, by: str, heard: bool = False) -> SheWas:
    """Return whether she lay or moved, as said, or as what was heard implies.

    Tapping, a pinger or a beacon come from a boat at rest; what is only "heard" does too, unless
    it was her telephone, which works under way as well.
    """
    if said != "not said":
        return said
    plain = by.lower()
    if any(word in plain for word in LYING):
        return "on the bottom"
    if heard and not any(word in plain for word in SPEAKING):
        return "on the bottom"
    return "not said"


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """A report's time against the time of loss of each particle.

    Parameters
    ----------
    prior : Prior
        Says where she was before the loss.
    at_s : float
        Seconds after the prior's start.
    she_was : str
        "on the bottom", "under way" or "not said".
    """

    prior: Prior
    at_s: float
    she_was: SheWas

    @property
    def matters(self) -> bool:
        """Whether any particle is lost after the report, or may not be."""
        return self.at_s < self.prior.span_s or self.she_was == "under way"

    def then(self, states: States) -> tuple[States, Floats | None]:
        """Return her places at the time, and 1 where the report can be right, 0 where not.

        None stands for 1 everywhere.
        """
        if not self.matters:
            return states, None
        later = states.lost_s > self.at_s
        if self.she_was == "on the bottom":
            return states, np.where(later, 0.0, 1.0)
        x, y = self.prior.under_way(states, np.minimum(self.at_s, states.lost_s))
        moved = States(
            np.where(later, x, states.x_m), np.where(later, y, states.y_m), states.lost_s
        )
        return moved, np.where(later, 1.0, 0.0) if self.she_was == "under way" else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedReport:
    """A measured report that is right only where its time and the time of loss agree."""

    likelihood: Measured
    timing: Timing

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        places, can = self.timing.then(states)
        found = self.likelihood(places)
        if can is None:
            return found
        return np.asarray(np.where(can > 0.0, found, self.likelihood.wrong_part(places)))

    def wrong_part(self, states: States) -> Floats:
        """Return the density of the report if wrong, times the chance of that, shape (n,)."""
        return self.likelihood.wrong_part(self.timing.then(states)[0])

    def doubled_part(self, states: States) -> Floats:
        """Return the density of it with twice the stated error, times the chance of that."""
        if not isinstance(self.likelihood, BearingTerm | RangeTerm):
            return np.zeros(len(states))
        places, can = self.timing.then(states)
        found = self.likelihood.doubled_part(places)
        return found if can is None else np.where(can > 0.0, found, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedPlace(TimedReport):
    """The same for a place found on the bottom, which draws particles itself."""

    likelihood: PlaceTerm

    def draw(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return places to try, each of shape (count,)."""
        return self.likelihood.draw(count, rng)

    def density(self, x_m: Floats, y_m: Floats) -> Floats:
        """Return the density that they are drawn with, per square metre, shape (n,)."""
        return self.likelihood.density(x_m, y_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedAfter:
    """A look that saw nothing: counted for the part of it that came after the loss."""

    missed: Missed
    begun_s: float
    ended_s: float

    def __call__(self, states: States) -> Floats:
        """Return the chance of having been missed, shape (n,)."""
        found = self.missed(states)
        span = max(self.ended_s - self.begun_s, 1.0)
        part = np.clip((self.ended_s - states.lost_s) / span, 0.0, 1.0)
        return np.asarray(1.0 - part * (1.0 - found))


@dataclass(frozen=True, slots=True, kw_only=True)
class LossTerm:
    """What fixes the time of loss itself: a bang, a last signal, a consort's missed report.

    Parameters
    ----------
    low_s, high_s : float
        Seconds after the prior's start between which she was lost, infinite where open.
    soft_s : float
        Doubt of either end, one standard deviation.
    span_s : float
        Of the prior: a wrong one may have said any time in it.
    """

    low_s: float
    high_s: float
    soft_s: float
    span_s: float
    wrong: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        from scipy.special import ndtr  # imported here: slow to start

        inside = np.ones(len(states))
        for end, sign in ((self.low_s, 1.0), (self.high_s, -1.0)):
            if np.isfinite(end):
                inside = inside * ndtr(sign * (states.lost_s - end) / max(self.soft_s, 1.0))
        return (1.0 - self.wrong) * inside + self.wrong_part(states)

    def wrong_part(self, states: States) -> Floats:
        """Return the likelihood if the report is wrong, times the chance of that, shape (n,)."""
        # the width that a right one leaves open, its doubtful ends included
        width = min(self.high_s, self.span_s) - max(self.low_s, 0.0)
        open_s = max(width, 0.0) + self.soft_s / np.sqrt(np.pi)
        anything = min(open_s / max(self.span_s, 60.0), 1.0)
        return np.full(len(states), self.wrong * anything)
