"""Forecast held against observation: the running error, used as the forecast's uncertainty.

Each observation at sea of the last three days is compared with what every issue before it said for
its place and time, and sorted by lead (observation time less issue time). The mean of the errors
is the bias: it is taken out of what is expected. Their scatter about it is the error that is left
in, with the doubt of the bias itself, which is larger the more the errors of one hour resemble
those of the next, and those of one issue those of the issue before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_H
from layers.earth.units import M_S_PER_KN
from layers.weather.forecast.issues import Issue
from layers.weather.observed import ObservedSea

LEADS_H = (0.0, 6.0, 12.0, 24.0, 48.0, 72.0, 120.0, 240.0)
LOOK_BACK_S = 72 * 3600.0
ENOUGH_PAIRS = 6

# Until enough pairs exist: an assumption of our own, said wherever it is used. One standard
# deviation at lead 0 and its growth a day; common practice, no source.
ASSUMED: dict[str, tuple[float, float]] = {
    "hs_m": (0.3, 0.3),
    "wind_kn": (3.0, 2.0),
    "wind_m_s": (1.5, 1.0),
    "current_m_s": (0.15, 0.05),
}
COMPONENTS = ("wind_m_s", "current_m_s")  # east and north counted together
WORTH = 3.0  # independent pairs that what is known of a shorter lead is worth; our own, no source
MOST_WIDENED = 2.0  # a scatter seen over too short a time is widened to at most this many times
FLOOR: dict[str, float] = {"hs_m": 0.1, "wind_kn": 1.0, "wind_m_s": 0.5, "current_m_s": 0.05}
TITLES: dict[str, tuple[str, str]] = {
    "hs_m": ("Hs", "m"),
    "wind_kn": ("wind speed", "kn"),
    "wind_m_s": ("wind, per component", "m/s"),
    "current_m_s": ("current, per component", "m/s"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorBin:
    """Forecast less observed, for leads ``from_h`` up to ``to_h``.

    ``left`` is the standard deviation that is left once the bias is taken out: the scatter about
    the mean joined with the mean's own standard error, for as many independent pairs as there
    are (``independent``, at most ``pairs``).
    """

    from_h: float
    to_h: float
    pairs: int
    bias: float
    rms: float
    independent: float
    left: float

    @property
    def middle_h(self) -> float:
        """The lead that its figures stand for."""
        return (self.from_h + self.to_h) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningError:
    """The running error of one model for one quantity."""

    model: str
    quantity: str
    bins: tuple[ErrorBin, ...]

    @property
    def measured(self) -> bool:
        """Whether there are enough pairs anywhere to use it."""
        return any(b.pairs >= ENOUGH_PAIRS for b in self.bins)

    def bias(self, lead_h: Floats) -> Floats:
        """Return what the forecast is too high by, for leads in hours; 0 where not measured.

        Straight between the middles of the bins with enough pairs, the last one's beyond. What
        few independent pairs say of a long lead leans on what more of them say of a shorter one.
        A quantity of two components has no bias of one sign: 0.
        """
        enough = self._enough()
        if not enough or self.quantity in COMPONENTS:
            return np.zeros(np.shape(lead_h))
        kept = [enough[0].bias]
        for one in enough[1:]:
            kept.append(_carried(one.independent, one.bias, kept[-1]))
        return np.asarray(np.interp(lead_h, [b.middle_h for b in enough], kept))

    def sigma(self, lead_h: Floats) -> Floats:
        """Return one standard deviation of what is left without the bias, never falling with lead.

        At the middle of each bin with enough pairs, straight between them; beyond the last, and
        where its pairs are worth few independent ones, it goes on growing as the assumption does.
        Without any: the assumption alone. Of two components the root mean square, for their bias
        stays in.
        """
        start, per_day = ASSUMED[self.quantity]
        enough = self._enough()
        if not enough:
            return np.asarray(start + per_day * np.maximum(lead_h, 0.0) / 24.0)
        middles = np.array([b.middle_h for b in enough])
        each = [b.rms if self.quantity in COMPONENTS else b.left for b in enough]
        for place in range(1, len(each)):
            grown = each[place - 1] + per_day * (middles[place] - middles[place - 1]) / 24.0
            held = _carried(enough[place].independent, each[place] ** 2, grown**2)
            each[place] = float(np.sqrt(held))
        spread = np.maximum(np.maximum.accumulate(each), FLOOR[self.quantity])
        beyond = np.maximum(lead_h - middles[-1], 0.0) / 24.0 * per_day
        return np.asarray(np.interp(lead_h, middles, spread) + beyond)

    def _enough(self) -> list[ErrorBin]:
        return [b for b in self.bins if b.pairs >= ENOUGH_PAIRS]


Errors = Mapping[tuple[str, str], RunningError]


def running_errors(
    by_model: Mapping[str, tuple[Issue, ...]], seen: ObservedSea, at_us: int
) -> dict[tuple[str, str], RunningError]:
    """Return the running error of every model and quantity, by (model, quantity)."""
    recent = seen.only(seen.at_sea & (seen.at_us >= at_us - int(LOOK_BACK_S * 1e6)))
    found: dict[tuple[str, str], RunningError] = {}
    for model, issues in by_model.items():
        pairs = _pairs(issues, recent)
        for quantity, held in pairs.items():
            found[model, quantity] = RunningError(
                model=model, quantity=quantity, bins=_binned(*held)
            )
    return found


NAMES = (
    "hs_m",
    "wind_east_m_s",
    "wind_north_m_s",
    "current_east_m_s",
    "current_north_m_s",
)


Pairs = tuple[Floats, Floats, Ints]  # leads in hours, forecast less observed, times observed


def _pairs(issues: tuple[Issue, ...], seen: ObservedSea) -> dict[str, Pairs]:
    """Return, per quantity, leads in hours, forecast less observed and when that was."""
    parts: dict[str, list[Pairs]] = {quantity: [] for quantity in ASSUMED}
    for issue in issues:
        rows = (seen.at_us >= issue.issued_at_us) & (
            seen.at_us <= issue.issued_at_us + int(LEADS_H[-1] * US_PER_H)
        )
        if not rows.any():
            continue
        said = issue.at(NAMES, seen.latitude_deg[rows], seen.longitude_deg[rows], seen.at_us[rows])
        lead_h = (seen.at_us[rows] - issue.issued_at_us) / US_PER_H
        hs, wind_e, wind_n, current_e, current_n = said.T
        speed_kn = np.hypot(wind_e, wind_n) / M_S_PER_KN
        at_us = seen.at_us[rows]
        twice, both_us = np.concatenate((lead_h, lead_h)), np.concatenate((at_us, at_us))
        parts["hs_m"].append((lead_h, hs - seen.hs_m[rows], at_us))
        parts["wind_kn"].append((lead_h, speed_kn - seen.wind_kn[rows], at_us))
        parts["wind_m_s"].append(
            (
                twice,
                np.concatenate(
                    (wind_e - seen.wind_east_m_s[rows], wind_n - seen.wind_north_m_s[rows])
                ),
                both_us,
            )
        )
        parts["current_m_s"].append(
            (
                twice,
                np.concatenate(
                    (
                        current_e - seen.current_east_m_s[rows],
                        current_n - seen.current_north_m_s[rows],
                    )
                ),
                both_us,
            )
        )
    return {quantity: _joined(held) for quantity, held in parts.items()}


def _joined(held: list[Pairs]) -> Pairs:
    if not held:
        return np.empty(0), np.empty(0), np.empty(0, dtype=np.int64)
    lead_h, error, at_us = (np.concatenate(part) for part in zip(*held, strict=True))
    known = ~np.isnan(error)
    return lead_h[known], error[known], at_us[known]


def _binned(lead_h: Floats, error: Floats, at_us: Ints) -> tuple[ErrorBin, ...]:
    place = np.searchsorted(LEADS_H, lead_h, side="right") - 1
    bins = []
    for index in range(len(LEADS_H) - 1):
        rows = place == index
        here = error[rows]
        if len(here):
            independent = independent_of(_in_time(here, at_us[rows]))
            bins.append(
                ErrorBin(
                    from_h=LEADS_H[index],
                    to_h=LEADS_H[index + 1],
                    pairs=len(here),
                    bias=float(here.mean()),
                    rms=float(np.sqrt(np.mean(here**2))),
                    independent=independent,
                    left=_left(here, independent),
                )
            )
    return tuple(bins)


def _in_time(errors: Floats, at_us: Ints) -> Floats:
    """Return one error for each time observed: issues held against one sea err alike."""
    _, which = np.unique(at_us, return_inverse=True)
    return np.asarray(np.bincount(which, weights=errors) / np.bincount(which))


def independent_of(errors: Floats) -> float:
    """Return how many independent ones a run of errors in order of time is worth.

    Notes
    -----
    ``n (1 - r) / (1 + r)`` for errors of which neighbours correlate by ``r`` (Bayley &
    Hammersley, The "effective" number of independent observations in an autocorrelated time
    series, J. R. Stat. Soc. Suppl. 8 (1946); here for a first-order process).
    """
    n = len(errors)
    off = errors - errors.mean()
    whole = float(off @ off)
    if n < 3 or whole <= 1e-12:
        return float(n)
    alike = float(np.clip((off[1:] @ off[:-1]) / whole + 1.0 / n, 0.0, 0.98))
    return max(1.0, n * (1.0 - alike) / (1.0 + alike))


def _carried(independent: float, own: float, before: float) -> float:
    """Return a bin's own figure leant on that of the lead before, by what its pairs are worth."""
    return (independent * own + WORTH * before) / (independent + WORTH)


def _left(errors: Floats, independent: float) -> float:
    scatter = float(errors.std())
    unbiased = scatter * min(MOST_WIDENED, np.sqrt(independent / max(independent - 1.0, 1e-9)))
    return float(np.hypot(unbiased, unbiased / np.sqrt(independent)))
