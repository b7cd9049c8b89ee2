"""In short what `pytest -m long` does in full: the regions hold the truth as often as they say."""

import pytest
from scipy.stats import binom

from tests.datum_calibration import ROWS, row, told
from tests.datum_drift_calibration import drifting, told as drift_told

QUICK = {  # name: how many, and whether an input not known lets the regions hold more
    "honest, five bearings and a range": 10,
    "two ships, eight bearings each, one gyro error a ship": 8,
}


@pytest.mark.parametrize("name", QUICK)
def test_the_95_per_cent_region_holds_the_truth(name):
    found = row(name, QUICK[name])
    holds = sum(one.regions[2] for one in found)
    # fewer than so many would be seen once in a thousand were the region right
    assert holds >= binom.ppf(0.001, len(found), 0.95), told(name, found)


def test_the_95_per_cent_region_of_a_drifting_raft_holds_it():
    found = drifting(6, 20_270_313)
    holds = sum(one.regions[2] for one in found)
    assert holds >= binom.ppf(0.001, len(found), 0.95), drift_told(found)


@pytest.mark.long
def test_in_full_the_regions_of_drifting_rafts_hold_them():
    found = drifting(60, 20_270_313)
    print(drift_told(found))
    for part, k in ((0.50, 0), (0.90, 1), (0.95, 2)):
        holds = sum(one.regions[k] for one in found)
        assert holds >= binom.ppf(0.001, len(found), part), drift_told(found)


@pytest.mark.long
@pytest.mark.parametrize("name", ROWS)
def test_in_full_every_region_holds_the_truth_as_often_as_it_says(name):
    found = row(name, 60, accuse=True, told=True)
    print(told(name, found))
    for part, k in ((0.50, 0), (0.90, 1), (0.95, 2)):
        holds = sum(one.regions[k] for one in found)
        assert holds >= binom.ppf(0.001, len(found), part), told(name, found)
    accused = sum(one.accused_right + one.accused_wrong for one in found)
    if accused >= 20:
        assert sum(one.accused_right for one in found) >= 0.95 * accused - 1, told(name, found)
