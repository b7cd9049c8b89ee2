"""Random numbers by name, so that every decision is run on the same ones."""

from __future__ import annotations

import zlib
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.survivors.air.drawn import evenly
from layers.survivors.lifts.vehicle import ThreePoint

# Half of what makes a time long or short is taken to be shared by all lifts of a vehicle (the
# site, the cable, the crew's skill), the other half a lift's own: our assumption.
SHARED = 0.5


class Uniforms:
    """Uniform draws by name; the same name and seed give the same draws, whoever asks first.

    Evenly spread (`layers.survivors.air.drawn`), and the first of many are those of few.

    Parameters
    ----------
    n_draws : int
        How many draws of everything.
    seed : int
        Part of the result.
    """

    def __init__(self, n_draws: int, seed: int) -> None:
        self.n_draws = n_draws
        self.seed = seed
        self._held: dict[str, Floats] = {}
        self.kept: dict[object, Any] = {}  # what was worked out from these draws, by its inputs

    def take(self, name: str) -> Floats:
        """Return the draws of a name, shape (n_draws,), 0 to 1."""
        if name not in self._held:
            words = np.random.SeedSequence([self.seed, zlib.crc32(name.encode())])
            drawn = evenly(np.random.default_rng(words), self.n_draws)
            drawn.flags.writeable = False
            self._held[name] = drawn
        return self._held[name]

    def alike(self, common: str, own: str) -> Floats:
        """Return draws of which a share `SHARED` follow a common name, the rest their own."""
        name = f"{common}|{own}"
        if name not in self._held:
            pick = self.take(f"{own}, shared or not") < SHARED
            drawn = np.where(pick, self.take(common), self.take(own))
            drawn.flags.writeable = False
            self._held[name] = drawn
        return self._held[name]


def seconds(uniform: Floats, spread: ThreePoint) -> Floats:
    """Return times in seconds for uniform draws, from the triangle over a three-point time.

    The inverse of the triangular distribution: a larger draw is never a shorter time.
    """
    low, likely, high = (60.0 * v for v in (spread.low, spread.likely, spread.high))
    if high <= low:
        return np.full(uniform.shape, likely)
    turn = (likely - low) / (high - low)
    rising = low + np.sqrt(uniform * ((high - low) * (likely - low)))
    falling = high - np.sqrt((1.0 - uniform) * ((high - low) * (high - likely)))
    return np.where(uniform < turn, rising, falling)


def tries(uniform: Floats, fails: float) -> npt.NDArray[np.int64]:
    """Return how many attempts it takes when each fails with one chance, 1 or more."""
    if fails <= 0.0:
        return np.ones(uniform.shape, dtype=np.int64)
    count = np.log(np.maximum(uniform, 1e-12)) / np.log(fails)
    return np.asarray(1 + count.astype(np.int64))
