"""What stays the same whatever is decided: people, draws, sea, response chain, air."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.values import ForwardPortValue, SeaSeries
from layers.survivors.air.endurance import AirCurves, Endurance, RefugePeople
from layers.survivors.lifts.allowed import Starts
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.ample import Unstored
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.windows import ClosedSpans, sea_spans, waves_seen

US = 1_000_000
AIR_HORIZON_H = 240.0


@dataclass(frozen=True, slots=True, eq=False)
class Leaving:
    """People who leave a refuge, so that the air of the rest lasts longer: draw by draw.

    ``at_us`` has shape (n_draws,), UTC microseconds; ``NOT_REACHED_US`` where they never do.
    """

    at_us: Ints
    refuge: str
    persons: int

    def key(self) -> tuple[str, int, bytes]:
        """Return what tells two of them apart."""
        return self.refuge, self.persons, hashlib.blake2b(self.at_us.tobytes()).digest()


class AirAhead(Protocol):
    """The air of the refuges run again: other stores, other people leaving, same draws."""

    def __call__(
        self,
        *,
        n_draws: int,
        pods: bool,
        leaving: tuple[Leaving, ...],
        horizon_h: float = AIR_HORIZON_H,
    ) -> tuple[Endurance, ...]:
        """Return when each level is reached, with ``pods`` planned ones counted as taken in."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A case of weather and flooding to try plans against.

    ``later_s`` and ``higher_m`` shift the sea; ``sooner`` shortens what is left of every
    endurance by that share (flooding or leaks worse than thought).
    """

    title: str
    later_s: int = 0
    higher_m: float = 0.0
    sooner: float = 0.0


AS_EXPECTED = Case(title="as expected")
PressureAt = Callable[[str, float], float | None]
Curves = Callable[[int], AirCurves]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanGround:
    """What stays the same whatever is decided.

    Parameters
    ----------
    waves, errors : ndarray, shape (n_draws, n), or None
        Heights, and the forecast's errors in standard deviations, over the times of ``series``,
        which is carried on beyond ``forecast_ends_us``. Without errors the watch is taken to
        know the sea to come.
    missing : mapping of str to tuple of str
        By refuge, what is not known of its air: every level when ``unread`` names it, some
        levels when it does not.
    unread : frozenset of str
        Refuges of whose air nothing can be said.
    not_heard : int
        Persons on board whose place nobody has told; ``not_heard_said`` as it is said.
    not_there : mapping of str to tuple of int and str
        By refuge, how many counted in it are by another account not there, and that in words.
    pressure_at : callable or None
        ``pressure_at(refuge, hours)``: the pressure expected there, bar absolute, so many hours
        after now; None: it stays as it is.
    curves : callable or None
        ``curves(n_draws)``: the same draw by draw, on the draws of the air.
    """

    people: tuple[RefugePeople, ...]
    uniforms: Uniforms
    series: SeaSeries | None
    waves: Floats | None
    response: ForwardPortValue | None
    air: AirAhead
    forecast_ends_us: int | None = None
    errors: Floats | None = None
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    not_heard: int = 0
    not_heard_said: str = ""
    not_there: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    pressure_at: PressureAt | None = None
    curves: Curves | None = None
    ran: list[tuple[tuple[object, ...], Any]] = field(default_factory=list)
    bars: dict[int, AirCurves] = field(default_factory=dict)
    unstored: Unstored = field(default_factory=dict)
    unforecast: tuple[str, ...] = ()  # what of the sea ahead no forecast tells, in words
    sortie_starts: Starts = ()  # as the weather tells when a whole sortie may begin
    held: dict[tuple[object, ...], tuple[Endurance, ...]] = field(default_factory=dict)
    seas: dict[tuple[object, ...], ClosedSpans] = field(default_factory=dict)

    @property
    def n_draws(self) -> int:
        """How many draws of everything."""
        return self.uniforms.n_draws

    def pressures(self) -> dict[str, float | None]:
        """Return the pressure in each refuge now, bar absolute."""
        return {place.refuge: place.pressure_bar_abs for place in self.people}

    def pressure(self, refuge: str, hours: float) -> float | None:
        """Return the pressure expected in a refuge so many hours after now, bar absolute."""
        now = self.pressures().get(refuge)
        if self.pressure_at is None or not np.isfinite(hours) or hours <= 0.0:
            return now
        return self.pressure_at(refuge, hours) or now

    def pressures_ahead(self, n_draws: int) -> AirCurves | None:
        """Return the pressure ahead in the first so many draws, worked out once."""
        if self.curves is None:
            return None
        if n_draws not in self.bars:
            self.bars[n_draws] = self.curves(n_draws)
        return self.bars[n_draws]

    def sea(self, setting: PlanSetting, case: Case, lead_h: float = 0.0) -> ClosedSpans:
        """Return what the sea forbids under a plan's limits, worked out once for each.

        ``lead_h`` is how long before a recovery it is decided on.
        """
        limits = setting.limits
        key = (
            limits.launch_hs_m,
            limits.recovery_hs_m,
            limits.through_water_kn,
            limits.mating_kn,
            limits.daylight_only,
            case.later_s,
            case.higher_m,
            lead_h,
        )
        if key not in self.seas:
            seen = None
            if self.series is not None and self.errors is not None:
                seen = waves_seen(self.series, self.errors, lead_h)
            self.seas[key] = sea_spans(
                self.series,
                self.waves,
                limits,
                setting.at_us,
                case.later_s,
                case.higher_m,
                seen,
            )
        return self.seas[key]

    def endurance(
        self, pods: bool, leaving: tuple[Leaving, ...], horizon_h: float = AIR_HORIZON_H
    ) -> tuple[Endurance, ...]:
        """Return the endurance, each variant run once."""
        key = (pods, tuple(one.key() for one in leaving), horizon_h)
        if key not in self.held:
            self.held[key] = self.air(
                n_draws=self.n_draws, pods=pods, leaving=leaving, horizon_h=horizon_h
            )
        return self.held[key]


def fewer(ground: PlanGround, n_draws: int) -> PlanGround:
    """Return the ground with its first draws only: draw i stays draw i."""
    if n_draws >= ground.n_draws:
        return ground
    waves = None if ground.waves is None else ground.waves[:n_draws]
    errors = None if ground.errors is None else ground.errors[:n_draws]
    return replace(
        ground,
        uniforms=Uniforms(n_draws, ground.uniforms.seed),
        waves=waves,
        errors=errors,
        held={},
        seas={},
        ran=[],
    )
