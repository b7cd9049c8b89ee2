"""Random numbers by name, evenly spread, so that few draws already tell what many will.

Each block of 500 draws has one number in each five-hundredth of the distribution, in an order of
its own (a Latin hypercube over all names: McKay, Beckman and Conover, Technometrics 21, 1979). The
first 500 of many are the same as 500 alone, so that a first look is part of the whole.
"""

from __future__ import annotations

import zlib

import numpy as np
import scipy

from layers.earth.arrays import Floats

BLOCK = 500
EDGE = 1e-12  # a uniform number is never quite 0


def stream(seed: int, *names: object) -> np.random.Generator:
    """Return the generator that belongs to a name: the same whoever asks first."""
    words = [seed, zlib.crc32("|".join(map(str, names)).encode())]
    return np.random.default_rng(np.random.SeedSequence(words))


def evenly(rng: np.random.Generator, n_draws: int) -> Floats:
    """Return uniform draws, shape (n_draws,), evenly spread in each block of 500."""
    blocks = []
    for _ in range(0, n_draws, BLOCK):
        order = rng.permutation(BLOCK)
        blocks.append((order + rng.random(BLOCK)) / BLOCK)
    return np.concatenate(blocks)[:n_draws] if blocks else np.zeros(0)


def normals(seed: int, n_draws: int, *names: object) -> Floats:
    """Return standard normal draws of a name, shape (n_draws,), evenly spread like `evenly`."""
    return np.asarray(scipy.special.ndtri(np.maximum(evenly(stream(seed, *names), n_draws), EDGE)))
