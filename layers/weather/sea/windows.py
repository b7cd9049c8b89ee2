"""Working windows: when an operation is within its limits, and how surely it stays so.

The forecast's error is taken as normal with the running error as its standard deviation, alike
in hours that lie close together (correlation exp(-gap/12 h); an assumption of our own, common
practice, no source). Draws of it give the probability that a window holds; one set of draws
serves all operations, with a fixed seed, so that limits can be compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from layers.earth.clock import from_us
from layers.earth.values import WorkingWindow
from layers.journal.known import Entry, Known
from layers.weather.forecast.fields import Floats
from layers.weather.model import OPERATIONS, Limit
from layers.weather.sea.expected import STEP_US, Expected

Bools = npt.NDArray[np.bool_]
DRAWS = 2_000
CORRELATION_H = 12.0
SEED = 3_700  # any fixed number; every picture of the same records draws alike
SURE = 0.9


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
    and the screen says so.
    """

    operation: str
    limit: Limit
    windows: tuple[Window, ...]
    within_now: bool
    binding: tuple[str, ...]
    unchecked: tuple[str, ...]
    chance: Floats
    others_disagree: bool
    rests_on: str


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
    limits: dict[str, tuple[Entry, bool]], ahead: Expected, at: datetime
) -> tuple[OperationOutlook, ...]:
    """Return every limited operation with its windows, in the order of the work."""
    drawn = Draws(ahead)
    return tuple(
        outlook(entry.value, ahead, at, drawn, rests_on=entry.id, others_disagree=differ)
        for entry, differ in limits.values()
    )


class Draws:
    """Waves and wind as they may come: the forecast and drawn errors, shape (draws, n)."""

    def __init__(self, ahead: Expected, draws: int = DRAWS, seed: int = SEED) -> None:
        rng = np.random.default_rng(seed)
        n = len(ahead.at_us)
        self.hs_m = np.maximum(
            ahead.hs_m + ahead.hs_sigma_m * correlated(rng, draws, n), np.float32(0.0)
        )
        self.wind_kn = np.maximum(
            ahead.wind_kn + ahead.wind_sigma_kn * correlated(rng, draws, n), np.float32(0.0)
        )


def correlated(
    rng: np.random.Generator, draws: int, steps: int, correlation_h: float = CORRELATION_H
) -> npt.NDArray[np.float32]:
    """Return standard normal errors that fade with time: correlation exp(-gap/correlation_h)."""
    keep = np.float32(np.exp(-(STEP_US / 3.6e9) / correlation_h))
    fresh = np.float32(np.sqrt(1.0 - keep**2))
    noise = rng.standard_normal((steps, draws), dtype=np.float32)
    for step in range(1, steps):
        noise[step] = keep * noise[step - 1] + fresh * noise[step]
    return noise.T


@dataclass(frozen=True, slots=True, kw_only=True)
class _Check:
    """One limit against what is expected: per step, and per draw where it can err."""

    name: str
    kept: Bools
    drawn: Bools | None
    known: bool


def outlook(
    limit: Limit,
    ahead: Expected,
    at: datetime,
    drawn: Draws,
    *,
    rests_on: str = "",
    others_disagree: bool = False,
) -> OperationOutlook:
    """Return one operation's windows from ``at`` to the end of the forecast."""
    checks = _checks(limit, ahead, drawn)
    counted = [check for check in checks if check.known]
    first = ahead.at(at)
    kept = np.ones(len(ahead.at_us), dtype=np.bool_)
    draws_kept = np.ones(drawn.hs_m.shape, dtype=np.bool_)
    for check in counted:
        kept &= check.kept
        draws_kept &= check.kept if check.drawn is None else check.drawn
    needed = max(1, round(limit.duration_h * 3.6e9 / STEP_US))
    chance = chance_of_each_start(draws_kept, needed) if counted else np.zeros(len(kept))
    windows = _windows(limit, kept, draws_kept, chance, ahead, first, at) if counted else ()
    return OperationOutlook(
        operation=limit.operation,
        limit=limit,
        windows=windows,
        within_now=bool(counted) and bool(kept[first]),
        binding=tuple(check.name for check in counted if not check.kept[first]),
        unchecked=tuple(check.name for check in checks if not check.known),
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


def _checks(limit: Limit, ahead: Expected, drawn: Draws) -> list[_Check]:
    asked: list[tuple[str, Floats, float | None, bool, Floats | None]] = [
        ("Hs", ahead.hs_m, limit.hs_max_m, True, drawn.hs_m),
        ("wave period (short)", ahead.tp_s, limit.tp_min_s, False, None),
        ("wave period (long)", ahead.tp_s, limit.tp_max_s, True, None),
        ("wind", ahead.wind_kn, limit.wind_max_kn, True, drawn.wind_kn),
        ("surface current", ahead.current_surface_kn, limit.current_surface_max_kn, True, None),
        ("current at the seat", ahead.current_seat_kn, limit.current_seat_max_kn, True, None),
        ("visibility", ahead.visibility_nmi, limit.visibility_min_nmi, False, None),
    ]
    checks = []
    for name, values, bound, is_maximum, draws in asked:
        if bound is None:
            continue
        # NaN compares false: an hour of which nothing is known is not within limits.
        kept = values <= bound if is_maximum else values >= bound
        chance = None if draws is None else draws <= bound
        known = not bool(np.isnan(values).all())
        checks.append(_Check(name=name, kept=kept, drawn=chance, known=known))
    if limit.daylight_only:
        checks.append(_Check(name="daylight", kept=ahead.daylight, drawn=None, known=True))
    return checks


def _windows(
    limit: Limit,
    kept: Bools,
    draws_kept: Bools,
    chance: Floats,
    ahead: Expected,
    first: int,
    at: datetime,
) -> tuple[Window, ...]:
    needed = max(1, round(limit.duration_h * 3.6e9 / STEP_US))
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
    ahead: Expected,
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
