"""What every report is read against, and what a report becomes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.datum.before.prior import Prior
from layers.datum.evidence.grading import Grading
from layers.datum.evidence.likelihood import Likelihood
from layers.datum.evidence.shared import Member
from layers.datum.evidence.timed import Timing
from layers.datum.probability.particles import Term
from layers.datum.result import Drawn, Evidence
from layers.earth.arrays import Floats
from layers.earth.plane import Plane
from layers.earth.units import M_PER_NMI
from layers.earth.values import DepthGrid, HearingRange, ListenersChance, SoundSpeedProfile
from layers.journal.known import Entry

# A place on the bottom taken for her by mistake may lie anywhere she may be; at least (10 nmi)^2.
ELSEWHERE_M2 = (10.0 * M_PER_NMI) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """One report ready to count: what it says, its term, and whose error it shares.

    ``owner`` names the observer whose reports are taken together, ``member`` is this one.
    """

    evidence: Evidence
    term: Term | None
    owner: str = ""
    member: Member | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceSetting:
    """What every report is read against."""

    plane: Plane
    start: datetime
    prior: Prior
    grading: Grading
    profile: SoundSpeedProfile | None
    wrecks: tuple[Entry, ...]
    depths: DepthGrid | None = None
    hearing: tuple[HearingRange, ...] = ()
    listening: ListenersChance | None = None
    area_m2: float = ELSEWHERE_M2  # that she may lie in before any evidence
    places_m: tuple[Floats, Floats] | None = None  # some of these places on the plane

    @property
    def elsewhere_per_m2(self) -> float:
        """Density of places taken for her by mistake."""
        return 1.0 / max(self.area_m2, ELSEWHERE_M2)

    def seconds(self, at: datetime) -> float:
        """Return seconds after the start of the prior."""
        return (at - self.start).total_seconds()

    def wrong_range_per_m(
        self, latitude_deg: float, longitude_deg: float, longest_m: float
    ) -> float:
        """Return the density of a wrong range: anything she may be off, at least twice as far."""
        reach_m = 0.0
        if self.places_m is not None:
            x, y = self.plane.point(latitude_deg, longitude_deg)
            away = np.hypot(self.places_m[0] - x, self.places_m[1] - y)
            reach_m = float(np.quantile(away, 0.95))
        return 1.0 / max(2.0 * longest_m, reach_m)

    def depth_m(self, latitude_deg: float, longitude_deg: float) -> tuple[float, float] | None:
        """Return the middle and the spread of the depths she may lie in, by the depth grid.

        Over the places of the prior; the one place stands in where there are none.
        """
        if self.depths is None:
            return None
        lat, lon = np.array([latitude_deg]), np.array([longitude_deg])
        if self.places_m is not None:
            lat, lon = self.plane.unproject(*self.places_m)
        found = self.depths.depth_m(lat, lon)
        found = found[np.isfinite(found) & (found > 0.0)]
        if not len(found):
            return None
        return float(np.median(found)), float(np.std(found))


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What a record says: its likelihood, words, drawing, and whose error it shares."""

    likelihood: Likelihood | None
    says: str
    drawn: Drawn
    owner: str = ""
    timing: Timing | None = None
