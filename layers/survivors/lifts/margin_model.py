"""What the margin says at a moment: refuges, lifts, the two clocks, the decisions."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layers.earth.values import Floats, Ints
from layers.survivors.chambers.chamber import Occupancy
from layers.survivors.decisions.choices import Decisions
from layers.survivors.lifts.plan import Setting
from layers.survivors.lifts.sortie import Sortie
from layers.survivors.lifts.spread import Spread3, margin_words


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelOutlook:
    """One level of one refuge against the last one out.

    ``runs_out_h`` and ``margin_h`` in hours (after now; spare when positive), ``chance`` that
    all are out before it, ``out_in_time`` persons expected.
    """

    level: str
    source: str
    runs_out_h: Spread3
    margin_h: Spread3
    chance: float
    out_in_time: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeOutlook:
    """One refuge: how long they can last, when the last will be out, and the margin.

    ``binding`` is the level that comes first in most draws. Hours are after the moment.
    """

    refuge: str
    persons: int
    stretcher: int
    pressure_bar_abs: float | None
    levels: tuple[LevelOutlook, ...]
    binding: str
    runs_out_h: Spread3
    last_left_h: Spread3
    last_on_deck_h: Spread3
    margin_h: Spread3
    chance: float
    out_in_time: float

    @property
    def words(self) -> str:
        """The margin as it is said: ``after refuge: 7 h short``."""
        return f"{self.refuge} refuge: {margin_words(self.margin_h.p50)}"

    @property
    def short(self) -> bool:
        """Whether, in half the draws or more, somebody is not out in time."""
        return self.margin_h.p50 < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftOutlook:
    """One lift: its people, and when it dives, leaves the seat and is back, hours after now."""

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
    runs: float  # share of draws in which it runs within the horizon
    beyond_forecast: float  # share of draws in which it dives after the forecast ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Clocks:
    """The two clocks against time, lives on the other axis.

    Parameters
    ----------
    at_us : ndarray of int64, shape (n,)
        The time axis.
    refuges : tuple of str
        In the order of the rows.
    lasting : ndarray, shape (r, n)
        Share of draws in which the refuge has reached no level yet.
    out : ndarray, shape (r, 3, n)
        Persons out of it by then: P10, P50, P90.
    """

    at_us: Ints
    refuges: tuple[str, ...]
    persons: tuple[int, ...]
    lasting: Floats
    out: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Everything said about lifts, margin and decisions at a moment.

    ``unavailable`` says why there is no plan to run; then the rest is empty.
    """

    at_us: int
    refuges: tuple[RefugeOutlook, ...] = ()
    lifts: tuple[LiftOutlook, ...] = ()
    held: tuple[LiftOutlook, ...] = ()
    clocks: Clocks | None = None
    out_in_time: Spread3 | None = None
    expected_out: float = math.nan
    chambers: Occupancy | None = None
    decisions: Decisions | None = None
    sorties: tuple[Sortie, ...] = ()
    setting: Setting | None = None
    remarks: tuple[str, ...] = ()
    unavailable: str = ""
    draws: int = 0
    seed: int = 0
    rests_on: tuple[str, ...] = ()

    @property
    def worst(self) -> RefugeOutlook | None:
        """The refuge with the smallest margin."""
        return min(self.refuges, key=lambda one: one.margin_h.p50, default=None)

    def of(self, refuge: str) -> RefugeOutlook | None:
        """Return one refuge by name, None when nobody waits there."""
        return next((one for one in self.refuges if one.refuge == refuge), None)
