"""Forecast held against observation: the running error, used as the forecast's uncertainty.

Each observation at sea of the last three days is compared with what every issue before it said for
its place and time, and sorted by lead (observation time less issue time).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.earth.units import M_S_PER_KN
from layers.weather.forecast.fields import Floats
from layers.weather.forecast.issues import Issue
from layers.weather.observed import Observed

LEADS_H = (0.0, 6.0, 12.0, 24.0, 48.0, 72.0, 120.0, 240.0)
LOOK_BACK_S = 72 * 3600.0
ENOUGH_PAIRS = 6
US_PER_H = 3.6e9

# Until enough pairs exist: an assumption of our own, said wherever it is used. One standard
# deviation at lead 0 and its growth a day; common practice, no source.
ASSUMED: dict[str, tuple[float, float]] = {
    "hs_m": (0.3, 0.3),
    "wind_kn": (3.0, 2.0),
    "wind_m_s": (1.5, 1.0),
    "current_m_s": (0.15, 0.05),
}
FLOOR: dict[str, float] = {"hs_m": 0.1, "wind_kn": 1.0, "wind_m_s": 0.5, "current_m_s": 0.05}
TITLES: dict[str, tuple[str, str]] = {
    "hs_m": ("Hs", "m"),
    "wind_kn": ("wind speed", "kn"),
    "wind_m_s": ("wind, per component", "m/s"),
    "current_m_s": ("current, per component", "m/s"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorBin:
    """Forecast less observed, for leads ``from_h`` up to ``to_h``."""

    from_h: float
    to_h: float
    pairs: int
    bias: float
    rms: float


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

    def sigma(self, lead_h: Floats) -> Floats:
        """Return one standard deviation for leads in hours, never falling with lead.

        The root mean square at the middle of each bin with enough pairs, straight between
        them; beyond the last it goes on growing as the assumption does. Without any: the
        assumption alone.
        """
        start, per_day = ASSUMED[self.quantity]
        enough = [b for b in self.bins if b.pairs >= ENOUGH_PAIRS]
        if not enough:
            return np.asarray(start + per_day * np.maximum(lead_h, 0.0) / 24.0)
        middles = np.array([(b.from_h + b.to_h) / 2 for b in enough])
        rms = np.maximum(np.maximum.accumulate([b.rms for b in enough]), FLOOR[self.quantity])
        beyond = np.maximum(lead_h - middles[-1], 0.0) / 24.0 * per_day
        return np.asarray(np.interp(lead_h, middles, rms) + beyond)


Errors = Mapping[tuple[str, str], RunningError]


def running_errors(
    by_model: Mapping[str, tuple[Issue, ...]], seen: Observed, at_us: int
) -> dict[tuple[str, str], RunningError]:
    """Return the running error of every model and quantity, by (model, quantity)."""
    recent = seen.only(seen.at_sea & (seen.at_us >= at_us - int(LOOK_BACK_S * 1e6)))
    found: dict[tuple[str, str], RunningError] = {}
    for model, issues in by_model.items():
        pairs = _pairs(issues, recent)
        for quantity, (lead_h, error) in pairs.items():
            found[model, quantity] = RunningError(
                model=model, quantity=quantity, bins=_binned(lead_h, error)
            )
    return found


NAMES = (
    "hs_m",
    "wind_east_m_s",
    "wind_north_m_s",
    "current_east_m_s",
    "current_north_m_s",
)


def _pairs(issues: tuple[Issue, ...], seen: Observed) -> dict[str, tuple[Floats, Floats]]:
    """Return, per quantity, leads in hours and forecast less observed."""
    parts: dict[str, list[tuple[Floats, Floats]]] = {quantity: [] for quantity in ASSUMED}
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
        twice = np.concatenate((lead_h, lead_h))
        parts["hs_m"].append((lead_h, hs - seen.hs_m[rows]))
        parts["wind_kn"].append((lead_h, speed_kn - seen.wind_kn[rows]))
        parts["wind_m_s"].append(
            (
                twice,
                np.concatenate(
                    (wind_e - seen.wind_east_m_s[rows], wind_n - seen.wind_north_m_s[rows])
                ),
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
            )
        )
    return {quantity: _joined(held) for quantity, held in parts.items()}


def _joined(held: list[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    if not held:
        return np.empty(0), np.empty(0)
    lead_h = np.concatenate([lead for lead, _ in held])
    error = np.concatenate([error for _, error in held])
    known = ~np.isnan(error)
    return lead_h[known], error[known]


def _binned(lead_h: Floats, error: Floats) -> tuple[ErrorBin, ...]:
    place = np.searchsorted(LEADS_H, lead_h, side="right") - 1
    bins = []
    for index in range(len(LEADS_H) - 1):
        here = error[place == index]
        if len(here):
            bins.append(
                ErrorBin(
                    from_h=LEADS_H[index],
                    to_h=LEADS_H[index + 1],
                    pairs=len(here),
                    bias=float(here.mean()),
                    rms=float(np.sqrt(np.mean(here**2))),
                )
            )
    return tuple(bins)
