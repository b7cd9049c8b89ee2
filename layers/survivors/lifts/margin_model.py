"""What the margin says at a moment: refuges, lifts, the two clocks, the decisions."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layers.earth.uncertain import NotKnown, Quantity, ends
from layers.earth.values import SeaSeries
from layers.survivors.chambers.chamber import Occupancy
from layers.survivors.decisions.choices import Decisions
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.sorties.sortie import Sortie
from layers.survivors.lifts.spread import Spread3, said_margin

NO_CHANCE = NotKnown(unit="chance")
NO_PERSONS = NotKnown(unit="persons")


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelOutlook:
    """One level of one refuge against the last one out, if nobody leaves.

    ``runs_out_h`` hours after now; ``margin`` hours to spare; ``chance`` that all are out before
    it; ``out_in_time`` persons expected. ``unknown`` says why nothing can be said of it; then the
    figures are None.
    """

    level: str
    source: str
    runs_out_h: Spread3 | None
    margin: Quantity
    chance: Quantity
    out_in_time: Quantity
    unknown: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeOutlook:
    """One refuge: how long they can last, when the last will be out, and the margin.

    Parameters
    ----------
    nobody, planned : Quantity
        The margin in hours: if nobody leaves (last out by the plan against air that everybody
        still breathes), which leads; and if the lifts go as planned.
    late_h : float or None
        Hours to spare if nobody leaves and the hatch shuts at its P90.
    chance : Quantity
        That all are out in time, as planned.
    out_in_time : Quantity
        Persons expected out in time, as planned.
    alone_h, runs_out_h : Spread3 or None
        When the first level is reached if nobody leaves and as planned, hours after now; None
        when nothing is known of the air.
    last_left_h, last_on_deck_h : Spread3 or None
        None without a plan; infinite where a share of draws never gets there.
    binding : str
        The level that comes first in most draws if nobody leaves; empty when none does.
    at_least : bool
        Whether ``alone_h`` counts no stores where some may be that nobody told of.
    at_most : bool
        Whether a level whose time is not known may come before ``alone_h``.
    """

    refuge: str
    persons: int
    stretcher: int
    pressure_bar_abs: float | None
    seat: str
    levels: tuple[LevelOutlook, ...]
    binding: str
    alone_h: Spread3 | None
    runs_out_h: Spread3 | None
    last_left_h: Spread3 | None
    last_on_deck_h: Spread3 | None
    nobody: Quantity
    planned: Quantity
    late_h: float | None
    chance: Quantity
    out_in_time: Quantity
    at_least: bool = False
    at_most: bool = False

    @property
    def how_sure(self) -> str:
        """What stands behind the hour of its first level: at most, at least, both or nothing."""
        if self.at_most:  # with untold stores too it bounds neither way
            return ", some not known" if self.at_least else " at most"
        return " at least" if self.at_least else ""

    @property
    def words(self) -> str:
        """The margin as it is said: ``after refuge: 7 h short``."""
        return f"{self.refuge} refuge: {said_margin(self.nobody)}"

    @property
    def known(self) -> bool:
        """Whether anything can be said of its margin."""
        return not isinstance(self.nobody, NotKnown)

    @property
    def short(self) -> bool:
        """Whether, in half the draws or more, somebody is not out in time."""
        most = ends(self.nobody)[1]
        return most is not None and most < 0

    @property
    def rank(self) -> tuple[int, float]:
        """Order of worry: what is short first, then what is not known, then the least to spare."""
        least, most = ends(self.nobody)
        if most is not None and most < 0:
            return 0, most
        if least is None and most is None:
            return 1, 0.0
        return 2, least if least is not None else (most or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftOutlook:
    """One lift: its people, and when it dives, leaves the seat and is back, hours after now.

    ``stopped`` says why a lift does not run, empty when it does.
    """

    key: str
    vehicle: str
    refuge: str
    walking: int
    stretcher: int
    seats: int
    ballast_kg: float
    state: str
    dive_h: Spread3
    left_h: Spread3
    back_h: Spread3
    chamber: str
    chamber_until_h: Spread3 | None
    pressure_bar_abs: float | None
    runs: float  # share of draws in which it runs within the horizon
    beyond_forecast: float  # share of draws in which it dives after the forecast ends
    unforecast: bool = False  # waits for an hour of which no forecast says that it may dive
    caught: float = 0.0  # share of draws in which it waits at the surface for the sea
    stopped: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Everything said about lifts, margin and decisions at a moment.

    ``unavailable`` says why there is no plan to run and what to ask for, ``lacks`` the same in
    one clause; then only how long they can last is known.
    ``out_in_time`` are persons expected out in time of ``to_bring``, who are all in the refuges
    and all not heard of; ``all_out`` the chance that it is all of them, ``refuges_out`` that it
    is all in the refuges.
    """

    at_us: int
    refuges: tuple[RefugeOutlook, ...] = ()
    lifts: tuple[LiftOutlook, ...] = ()
    held: tuple[LiftOutlook, ...] = ()
    all_out: Quantity = NO_CHANCE
    refuges_out: Quantity = NO_CHANCE
    out_in_time: Quantity = NO_PERSONS
    to_bring: int = 0
    not_heard: int = 0
    not_heard_said: str = ""
    chambers: Occupancy | None = None
    decisions: Decisions | None = None
    sorties: tuple[Sortie, ...] = ()
    setting: PlanSetting | None = None
    remarks: tuple[str, ...] = ()
    sea: SeaSeries | None = None
    sea_ends_us: int | None = None  # where the forecast ends; what follows is carried on
    undated: tuple[str, ...] = ()  # hours of the plan that nobody told, in words
    first_dive_us: int | None = None  # from when a vehicle can dive, sea and plan aside; P50
    unavailable: str = ""
    lacks: str = ""
    draws: int = 0
    seed: int = 0
    rests_on: tuple[str, ...] = ()

    @property
    def worst(self) -> RefugeOutlook | None:
        """The refuge to look at first: short, else not known, else the least to spare."""
        return min(self.refuges, key=lambda one: one.rank, default=None)

    def of(self, refuge: str) -> RefugeOutlook | None:
        """Return one refuge by name, None when nobody waits there."""
        return next((one for one in self.refuges if one.refuge == refuge), None)

    @property
    def next_lift(self) -> LiftOutlook | None:
        """The lift that dives next by the plan."""
        waits = (k for k in self.lifts if k.state == "waiting" and math.isfinite(k.dive_h.p50))
        return min(waits, key=lambda lift: lift.dive_h.p50, default=None)
