"""Draws that are evenly spread: the first few are part of the whole, and already tell it."""

from __future__ import annotations

import numpy as np
import pytest

from layers.survivors.air.drawn import BLOCK, normals
from layers.survivors.lifts.run.draws import Uniforms


def test_the_first_draws_are_those_of_the_whole() -> None:
    np.testing.assert_array_equal(normals(1, 500, "a"), normals(1, 10_000, "a")[:500])
    np.testing.assert_array_equal(normals(1, 200, "a"), normals(1, 500, "a")[:200])
    few, many = Uniforms(300, 5), Uniforms(4_000, 5)
    np.testing.assert_array_equal(few.take("x"), many.take("x")[:300])


def test_each_block_has_one_in_every_five_hundredth_and_names_are_not_alike() -> None:
    drawn = Uniforms(1_000, 3).take("x")
    for start in (0, BLOCK):
        places = np.sort(np.floor(drawn[start : start + BLOCK] * BLOCK))
        np.testing.assert_array_equal(places, np.arange(BLOCK))
    apart = np.corrcoef(normals(3, 10_000, "a"), normals(3, 10_000, "b"))[0, 1]
    assert abs(apart) < 0.04
    assert normals(3, 10_000, "a").std() == pytest.approx(1.0, abs=0.002)


def test_five_hundred_tell_the_middle_of_many_parts_better_than_chance_draws() -> None:
    # seven parts of unlike weight, as in the hours of a refuge; 60 seeds of each
    weights = np.array([1.0, 0.7, 0.5, 0.4, 0.3, 0.2, 0.1])

    def spread(draw) -> float:  # type: ignore[no-untyped-def]  # as its framework calls it
        middles = [np.quantile(weights @ draw(seed), 0.5) for seed in range(60)]
        return float(np.std(middles))

    even = spread(lambda seed: np.array([normals(seed, 500, n) for n in range(7)]))
    plain = spread(lambda seed: np.random.default_rng(seed).standard_normal((7, 500)))
    assert even < 0.75 * plain
