"""What the forward port layer makes of what is known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.earth.arrays import Ints
from layers.earth.block import Block
from layers.earth.position import Position
from layers.earth.told import PlaceToTell, ThingHome
from layers.forward_port import model
from layers.forward_port.legs.legs import LegTime
from layers.forward_port.legs.ways_from import BySea
from layers.forward_port.ports.candidates import Candidates
from layers.forward_port.ports.fit import Fit, Verdict

DRAWS = 10_000
SEED = 20_270_313


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """P10, P50 and P90 of a time."""

    p10: datetime
    p50: datetime
    p90: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ActivityForecast:
    """One activity: as first planned, as it happened, as it is now expected.

    ``critical`` and ``waits_for_window`` are shares of the draws; ``saves_h`` is how much
    sooner the end comes for one hour less here. ``doubt`` says what its times rest on that nobody
    knows: then they are *not before*, and no spread.
    """

    key: str
    title: str
    resource: str
    known: bool
    doubt: str
    planned_start: datetime
    planned_finish: datetime
    start: Spread
    finish: Spread
    started_at: datetime | None
    finished_at: datetime | None
    critical: float
    waits_for_window: float
    saves_h: float
    leg: LegTime | None
    clearance: str
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionForecast:
    """One option: what fits, when it is ready, what holds it up, what is not known.

    ``ready_us`` and ``last_us`` are draws, shape (n_draws,), UTC microseconds. With a
    ``problem`` the chain could not be worked and the times are empty.
    """

    option: model.Option
    fits: tuple[Fit, ...]
    kills: tuple[str, ...]
    unknowns: tuple[str, ...]
    activities: tuple[ActivityForecast, ...]
    ready_us: Ints
    last_us: Ints
    first_sight: Spread | None
    ready: Spread | None
    last: Spread | None
    done_at: datetime | None  # the last activity has happened
    at_least: bool  # an activity of unknown length counts as nothing: not before
    sea_known: bool
    chosen: bool
    problem: str = ""

    @property
    def does_not_fit(self) -> int:
        """How many answers say that it does not fit."""
        return sum(1 for fit in self.fits if fit.verdict is Verdict.DOES_NOT)

    @property
    def not_known(self) -> int:
        """How many answers say that it is not known."""
        return sum(1 for fit in self.fits if fit.verdict is Verdict.NOT_KNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedPorts:
    """Ports of the published table near the datum, named, with what is not known counted."""

    found: Candidates
    names: tuple[str, ...]
    places: tuple[Position, ...]
    countries: tuple[str, ...]
    depths_m: tuple[float | None, ...]
    tides_m: tuple[float | None, ...]  # range between low and high water
    by_sea: tuple[BySea | None, ...]  # the way from the datum; None: not tested
    lifts: tuple[str, ...]
    runways: tuple[str, ...]
    ports: int
    runway_count: int
    depth_unknown: int
    runway_unknown: int
    away: tuple[str, ...] | None = None  # from the block told, in words; None: from the datum


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """The way home as known: who has what, and which places must know of it."""

    things: tuple[ThingHome, ...]
    places: tuple[PlaceToTell, ...]
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardPortResult:
    """Every option side by side at one time."""

    at: datetime
    now: datetime
    options: tuple[OptionForecast, ...]
    choices: tuple[tuple[model.Choice, datetime, str], ...]
    ports: tuple[model.Port, ...]
    airfields: tuple[model.Airfield, ...]
    where: Position | Block | None  # what ports are measured to
    published: PublishedPorts | None
    coast_tested: bool
    rests_on: tuple[str, ...]
    home: Home | None = None
    up_to_sailing: bool = False  # what follows is withheld: each way ends when its ship sails

    def main(self) -> OptionForecast | None:
        """Return the option chosen, else the one that is not killed and comes soonest."""
        rescue = [o for o in self.options if o.option.purpose == "rescue"]
        chosen = [o for o in rescue if o.chosen]
        if chosen:
            return chosen[0]
        worked = [(len(o.kills), o.last.p50, n) for n, o in enumerate(rescue) if o.last]
        if worked:
            return rescue[min(worked)[2]]
        return rescue[0] if rescue else None
