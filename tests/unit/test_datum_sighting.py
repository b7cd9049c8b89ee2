"""A slick seen: what it says of a place is the exact mean over the times it may have left her."""

import numpy as np
import pytest

from layers.datum.before.prior import States
from layers.datum.evidence.sightings import BackTrack, TimeOfLeaving, sighting_term

SPREAD_M, SPEED_M_S, SEEN_S = 400.0, 0.7, 12 * 3_600.0


def straight_back():
    """Return a thing that came down a straight line at an even speed, 400 m uncertain."""
    before = np.arange(0.0, SEEN_S + 1.0, 300.0)
    mean = np.stack([-SPEED_M_S * before, np.zeros_like(before)], axis=-1)[None]
    inverse = np.tile([SPREAD_M**-2, 0.0, SPREAD_M**-2], (1, len(before), 1))
    scale = np.full((1, len(before)), 1.0 / (2.0 * np.pi * SPREAD_M**2))
    return BackTrack(before_s=before, mean_m=mean, inverse=inverse, scale=scale)


def exact(x, y, lost_s):
    """Return the mean density over every second of leaving, from the loss to the sighting."""
    left = np.arange(lost_s, SEEN_S, 5.0)
    off = x[:, None] + SPEED_M_S * (SEEN_S - left)
    squared = off**2 + y[:, None] ** 2
    return np.exp(-0.5 * squared / SPREAD_M**2).mean(axis=1) / (2.0 * np.pi * SPREAD_M**2)


@pytest.mark.parametrize("lost_h", [1.0, 4.2, 9.6])
def test_along_the_way_it_came_the_density_is_the_exact_one(lost_h):
    rng = np.random.default_rng(3)
    x = -SPEED_M_S * SEEN_S * rng.random(400)
    y = 500.0 * rng.standard_normal(400)
    release = TimeOfLeaving(seen_s=SEEN_S, from_s=0.0, to_s=SEEN_S)
    term = sighting_term(straight_back(), release, SEEN_S, 1e-9, 1e-30)
    found = term(States(x, y, np.full(400, lost_h * 3_600.0)))
    own = exact(x, y, lost_h * 3_600.0)
    some = own > 0.05 * own.max()
    ratio = found[some] / own[some]
    # nowhere twice as likely as it is or less than 0.4 times: where the edge of the possible cuts
    # through the cloud the steps of five and ten minutes show
    assert ratio.min() > 0.4
    assert ratio.max() < 2.0
    assert np.median(np.abs(ratio - 1.0)) < 0.07
