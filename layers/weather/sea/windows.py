"""Working windows: when an operation is within its limits, and how surely it stays so.

Every limit has its error: waves, period, wind, currents and visibility are drawn together from the
one model of the sea (``layers.earth.sea.draws``) that the lifts and the response chain draw from
too; only daylight is sure. A length of time is never rounded down. What was observed near the
place in the last hours goes before what was forecast for now.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Bools, Floats
from layers.earth.clock import from_us
from layers.earth.sea.draws import SeaDraws
from layers.earth.told import SURE
from layers.earth.values import WorkingWindow
from layers.journal.known import Entry, Known
from layers.weather.model import OPERATIONS, Limit
from layers.weather.sea.expected import STEP_US, ExpectedSea
from layers.weather.sea.pulled import ObservedNear

DRAWS = 2_000
OBSERVED_HOLDS = 6  # steps for which an observation of now outside a limit shuts it: one hour


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One span within limits, at least as long as its operation.

    ``holds_probability``: all of it stays within limits. ``start_probability``: an operation
    begun as it opens (now, for one that is open) is done within limits. ``sure_from`` and
    ``sure_to``: the first and last times at which an operation can begin and be done within
    limits with 90 %, None if there is none. ``decide_by``: latest hour to decide so that the
    operation ends before it closes, None where the end is not seen.
    """

    operation: str
    opens: datetime
    closes: datetime | None
    open_now: bool
    holds_probability: float
    start_probability: float
    sure_from: datetime | None
    sure_to: datetime | None
    decide_by: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationOutlook:
    """One operation: its limits, whether it may be done now, and its windows.

    ``chance`` is, for each step of what is expected, the probability that an operation begun
    then is done within limits. ``binding`` names what is outside its limit now; ``unchecked``
    the limits that nothing known can be held against: the windows are reckoned without them,
    and the screen says so. ``unforecast`` names what was only observed, held on: it tells how it
    is now and opens no window ahead.
    """

    operation: str
    limit: Limit
    windows: tuple[Window, ...]
    within_now: bool
    binding: tuple[str, ...]
    unchecked: tuple[str, ...]
    unforecast: tuple[str, ...]
    chance: Floats
    others_disagree: bool
    rests_on: str

    @property
    def why_none(self) -> str:
        """Why no window is seen, in words; empty where only the sea ahead forbids it."""
        if self.unforecast:
            return f"no forecast of the {' and the '.join(self.unforecast)}"
        return f"outside now: {', '.join(self.binding)}" if self.binding else ""


def limits_in_force(known: Known, at: datetime) -> dict[str, tuple[Entry, bool]]:
    """Return the limits of each operation: adopted, else newest; and whether others differ."""
    held: dict[str, list[Entry]] = {}
    for entry in known.entries("weather.limit"):
        if entry.record.valid_at <= at:
            held.setdefault(entry.value.operation, []).append(entry)
    found: dict[str, tuple[Entry, bool]] = {}
    for operation in OPERATIONS:
        if operation in held:
            chosen = max(
                held[operation], key=lambda e: (e.adopted, e.record.valid_at, e.record.seq)
            )
            found[operation] = (chosen, any(e.disputed for e in held[operation]))
    return found


def outlooks(
    limits: dict[str, tuple[Entry, bool]], ahead: ExpectedSea, at: datetime, drawn: SeaDraws
) -> tuple[OperationOutlook, ...]:
    """Return every limited operation with its windows, in the order of the work."""
    return tuple(
        outlook(entry.value, ahead, at, drawn, rests_on=entry.id, others_disagree=differ)
        for entry, differ in limits.values()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One limit against what is expected, shape (n,), and per draw, (draws or 1, n).

    ``known`` says at which steps there is something to hold against it; ``kept`` is false where
    nothing is known. ``variable`` is its name in the series, empty for daylight.
    """

    name: str
    variable: str
    bound: float
    kept: Bools
    drawn: Bools
    known: Bools


# title, variable, field of the limit, whether it is a greatest value, unit
LIMITS: tuple[tuple[str, str, str, bool, str], ...] = (
    ("Hs", "hs_m", "hs_max_m", True, "m"),
    ("wave period (short)", "tp_s", "tp_min_s", False, "s"),
    ("wave period (long)", "tp_s", "tp_max_s", True, "s"),
    ("wind", "wind_kn", "wind_max_kn", True, "kn"),
    ("surface current", "current_surface_kn", "current_surface_max_kn", True, "kn"),
    ("current at the seat", "current_seat_kn", "current_seat_max_kn", True, "kn"),
    ("visibility", "visibility_nmi", "visibility_min_nmi", False, "nmi"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstLimit:
    """One value observed now, held against one limit of one operation."""

    operation: str
    name: str
    value: float
    bound: float
    greatest: bool
    unit: str
    seen: ObservedNear

    @property
    def within(self) -> bool:
        """Whether the limit is kept."""
        return self.value <= self.bound if self.greatest else self.value >= self.bound

    @property
    def words(self) -> str:
        """As it is said: ``Hs 2.8 m over 2.5 (observed at TENACE, 1249Z)``."""
        over = "within" if self.within else ("over" if self.greatest else "under")
        return f"{self.name} {self.value:.3g} {self.unit} {over} {self.bound:g}"


def against(limit: Limit, seen: Mapping[str, ObservedNear]) -> tuple[AgainstLimit, ...]:
    """Return each limit of an operation that an observation of now can be held against."""
    return tuple(
        AgainstLimit(
            operation=limit.operation,
            name=name,
            value=seen[variable].value,
            bound=getattr(limit, field),
            greatest=greatest,
            unit=unit,
            seen=seen[variable],
        )
        for name, variable, field, greatest, unit in LIMITS
        if getattr(limit, field) is not None and variable in seen
    )


def steps_of(duration_h: float) -> int:
    """Return how many ten-minute steps hold a length of time: raised, never rounded down."""
    return max(1, math.ceil(duration_h * 3.6e9 / STEP_US - 1e-9))


def outlook(
    limit: Limit,
    ahead: ExpectedSea,
    at: datetime,
    drawn: SeaDraws,
    *,
    rests_on: str = "",
    others_disagree: bool = False,
) -> OperationOutlook:
    """Return one operation's windows from ``at`` to the end of the forecast."""
    found = checks(limit, ahead, drawn)
    counted = [check for check in found if check.known.any()]
    first = ahead.at(at)
    kept = np.ones(len(ahead.at_us), dtype=np.bool_)
    draws_kept = np.ones((1, len(kept)), dtype=np.bool_)
    for check in counted:
        kept &= check.kept
        draws_kept = draws_kept & check.drawn
    over = [each.name for each in against(limit, ahead.seen) if not each.within]
    if over:  # observed now goes before what was forecast for now
        kept[first : first + OBSERVED_HOLDS] = False
        draws_kept[:, first : first + OBSERVED_HOLDS] = False
    needed = steps_of(limit.duration_h)
    said = (ahead.not_forecast(check.variable) for check in counted)
    unforecast = tuple(dict.fromkeys(what for what in said if what))
    chance = chance_of_each_start(draws_kept, needed) if counted else np.zeros(len(kept))
    windows = _windows(limit, kept, draws_kept, chance, ahead, first, at) if counted else ()
    if unforecast:
        chance, windows = np.full(len(kept), np.nan), ()
    outside = [check.name for check in counted if not check.kept[first]]
    return OperationOutlook(
        operation=limit.operation,
        limit=limit,
        windows=windows,
        within_now=bool(counted) and bool(kept[first]),
        binding=tuple(dict.fromkeys((*over, *outside))),
        unchecked=tuple(check.name for check in found if not check.known.any()),
        unforecast=unforecast,
        chance=chance,
        others_disagree=others_disagree,
        rests_on=rests_on,
    )


def chance_of_each_start(draws_kept: Bools, needed: int) -> Floats:
    """Return, per step, the share of draws that stay within limits for ``needed`` steps.

    NaN where the forecast ends before the operation would.
    """
    steps = draws_kept.shape[1]
    broken = np.zeros((draws_kept.shape[0], steps + 1), dtype=np.int32)
    np.cumsum(~draws_kept, axis=1, out=broken[:, 1:])
    chance = np.full(steps, np.nan)
    if steps >= needed:
        whole = broken[:, needed:] == broken[:, : steps + 1 - needed]
        chance[: steps + 1 - needed] = whole.mean(axis=0)
    return chance


def checks(limit: Limit, ahead: ExpectedSea, drawn: SeaDraws) -> list[Check]:
    """Return every limit of an operation against what is expected."""
    found = []
    for name, variable, field, greatest, _ in LIMITS:
        bound = getattr(limit, field)
        if bound is None:
            continue
        # NaN compares false: an hour of which nothing is known is not within limits.
        values, draws = getattr(ahead, variable), getattr(drawn, variable)
        found.append(
            Check(
                name=name,
                variable=variable,
                bound=bound,
                kept=values <= bound if greatest else values >= bound,
                drawn=draws <= bound if greatest else draws >= bound,
                known=~np.isnan(values),
            )
        )
    if limit.daylight_only:
        light = ahead.daylight
        found.append(
            Check(
                name="daylight",
                variable="",
                bound=1.0,
                kept=light,
                drawn=light[None, :],
                known=np.ones(len(light), dtype=np.bool_),
            )
        )
    return found


def _windows(
    limit: Limit,
    kept: Bools,
    draws_kept: Bools,
    chance: Floats,
    ahead: ExpectedSea,
    first: int,
    at: datetime,
) -> tuple[Window, ...]:
    needed = steps_of(limit.duration_h)
    found = []
    for start, stop in spans(kept[first:]):
        opens, closes = first + start, first + stop
        if closes - opens >= needed:
            holds = float(draws_kept[:, opens:closes].all(axis=1).mean())
            starts = chance[opens : closes - needed + 1]
            found.append(_window(limit, holds, starts, ahead, (opens, closes), at))
    return tuple(found)


def spans(kept: Bools) -> list[tuple[int, int]]:
    """Return the runs of steps that are kept, each from its first to after its last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], kept, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _window(
    limit: Limit,
    holds: float,
    starts: Floats,
    ahead: ExpectedSea,
    ends: tuple[int, int],
    at: datetime,
) -> Window:
    opens, closes = ends
    sure = np.flatnonzero(starts >= SURE) + opens
    closing = from_us(ahead.at_us[closes]) if closes < len(ahead.at_us) else None
    lead = timedelta(hours=limit.duration_h + limit.notice_h)
    opening = max(from_us(ahead.at_us[opens]), at)
    return Window(
        operation=limit.operation,
        opens=opening,
        closes=closing,
        open_now=opening <= at,
        holds_probability=holds,
        start_probability=float(starts[0]),
        sure_from=max(from_us(ahead.at_us[sure[0]]), at) if len(sure) else None,
        sure_to=max(from_us(ahead.at_us[sure[-1]]), at) if len(sure) else None,
        decide_by=None if closing is None else closing - lead,
    )


def handed(all_outlooks: Sequence[OperationOutlook]) -> tuple[WorkingWindow, ...]:
    """Return the windows as other layers get them."""
    return tuple(
        WorkingWindow(
            operation=window.operation,
            opens=window.opens,
            closes=window.closes,
            holds_probability=window.holds_probability,
            decide_by=window.decide_by,
        )
        for each in all_outlooks
        for window in each.windows
    )
