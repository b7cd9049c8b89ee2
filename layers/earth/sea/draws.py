"""The sea as it may come: one model of its error, drawn alike by whoever needs it.

The forecast's error belongs to the forecast. Windows, lifts and the response chain draw it here,
from one seed: draw 17 is the same sea for all of them, so that one operation has one chance.
An error keeps its sign for a while (correlation exp(-gap/hold), per variable) and the variables
err together: where the wind is under-forecast, so are the waves. Holds and correlations are
assumptions of our own (common practice, no source); how often the windows' chances come true is
told by ``tests/simulated_weeks.py``, whose weather knows nothing of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Ints

Drawn = npt.NDArray[np.float32]
SEA_DRAWS = 2_000  # seas that are told apart; draws beyond meet the same ones again
SEED = 3_700  # any fixed number; every picture of the same records draws alike
HOUR_US = 3_600_000_000
# Hours in which an error falls to 1/e; also how fast an observation's pull lets go.
HOLDS_H: dict[str, float] = {
    "hs_m": 12.0,
    "tp_s": 12.0,
    "wind_kn": 6.0,
    "visibility_nmi": 3.0,
    "current_surface_kn": 36.0,
    "current_seat_kn": 36.0,
}
# What each variable's error shares with another's: (with, correlation).
SHARES: dict[str, tuple[str, float]] = {
    "wind_kn": ("hs_m", 0.6),
    "tp_s": ("hs_m", 0.4),
    "current_seat_kn": ("current_surface_kn", 0.9),
}
SIGMAS: dict[str, str] = {
    "hs_m": "hs_sigma_m",
    "tp_s": "tp_sigma_s",
    "wind_kn": "wind_sigma_kn",
    "visibility_nmi": "visibility_sigma_nmi",
    "current_surface_kn": "current_surface_sigma_kn",
    "current_seat_kn": "current_seat_sigma_kn",
}
ORDER = tuple(SIGMAS)
_BLOCK_H = 240  # noise is drawn in blocks of so many hours, so that a longer reach changes none


class Series(Protocol):
    """What is expected through time; ``at_us`` ascends, other arrays of its shape (n,)."""

    @property
    def at_us(self) -> Ints:
        """Times, UTC microseconds."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class SeaDraws:
    """Draws of each variable, float32 arrays of shape (draws, n); NaN where nothing is known.

    A variable without an error (sigma not told, or 0) has shape (1, n): the same in all draws.
    """

    hs_m: Drawn
    tp_s: Drawn
    wind_kn: Drawn
    visibility_nmi: Drawn
    current_surface_kn: Drawn
    current_seat_kn: Drawn


def sea_draws(series: Series, draws: int, seed: int = SEED) -> SeaDraws:
    """Return the sea as it may come.

    Parameters
    ----------
    series : SeaSeries or the like
        Expected values with one standard deviation each, bias taken out; a variable whose
        sigma is None or missing has no error.
    draws : int
        How many; the first ones do not depend on how many are asked for.
    seed : int
        The same seed gives the same sea, whichever layer asks.
    """
    return SeaDraws(**{name: drawn(series, name, draws, seed) for name in ORDER})


def drawn(series: Series, name: str, draws: int, seed: int = SEED) -> Drawn:
    """Return draws of one variable, shape (draws, n), or (1, n) where it has no error."""
    values = np.asarray(getattr(series, name), dtype=np.float32)
    found = getattr(series, SIGMAS[name], None)
    if found is None or not np.nan_to_num(np.asarray(found)).any():
        return values[None, :]
    sigma = np.nan_to_num(np.asarray(found, dtype=np.float32))
    noise = errors(name, np.asarray(series.at_us), draws, seed)
    noise *= sigma
    noise += values
    return np.maximum(noise, np.float32(0.0), out=noise)


def errors(name: str, at_us: Ints, draws: int, seed: int = SEED) -> Drawn:
    """Return standard normal errors of one variable, shape (draws, n)."""
    own = _held(name, at_us, draws, seed)
    if name not in SHARES:
        return own
    other, share = SHARES[name]
    own *= np.float32(np.sqrt(1.0 - share**2))
    own += np.float32(share) * _held(other, at_us, draws, seed)
    return own


def _held(name: str, at_us: Ints, draws: int, seed: int) -> Drawn:
    """Return noise that fades as the variable's own error does, at any times."""
    hours = (at_us - at_us[0]) / HOUR_US
    reach = int(np.ceil(hours[-1])) + 1 if len(hours) else 1
    knots = _hourly(name, draws, reach + 1, seed)
    before = np.floor(hours).astype(np.int64)
    part = (hours - before).astype(np.float32)
    if not part.any():
        return np.ascontiguousarray(knots[:, before])
    # between two hours the mean of both, brought back to the spread it lost
    keep = np.float32(np.exp(-1.0 / HOLDS_H[name]))
    spread = np.sqrt(part**2 + (1 - part) ** 2 + 2 * part * (1 - part) * keep)
    early, late = (1 - part) / spread, part / spread
    found = knots[:, before]
    found *= early
    found += knots[:, before + 1] * late
    return found


def _hourly(name: str, draws: int, hours: int, seed: int) -> Drawn:
    keep = np.float32(np.exp(-1.0 / HOLDS_H[name]))
    fresh = np.float32(np.sqrt(1.0 - keep**2))
    blocks = [
        np.random.default_rng([seed, ORDER.index(name), block]).standard_normal(
            (draws, _BLOCK_H), dtype=np.float32
        )
        for block in range(-(-hours // _BLOCK_H))
    ]
    noise = np.concatenate(blocks, axis=1)[:, :hours] if len(blocks) > 1 else blocks[0][:, :hours]
    turned = np.ascontiguousarray(noise.T)
    for step in range(1, hours):
        turned[step] *= fresh
        turned[step] += keep * turned[step - 1]
    return np.ascontiguousarray(turned.T)
