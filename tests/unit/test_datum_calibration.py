"""The 95 % circle holds the truth about nineteen times in twenty; more in the long test."""

import pytest

from tests.datum_calibration import coverage_counts


def test_sixty_losses_are_held_about_nineteen_times_in_twenty():
    # 57 expected; 51 is 3.5 standard deviations below
    assert coverage_counts(60, wrong_one_in_five=False) >= 51


def test_thirty_losses_with_a_wrong_bearing_are_mostly_held():
    assert coverage_counts(30, wrong_one_in_five=True) >= 23


# Counted on the seeds of the test: 380 of 400 with honest evidence, 344 of 400 with one bearing in
# five wrong by 10 degrees.
@pytest.mark.long
def test_four_hundred_losses_are_held_93_to_97_times_in_100():
    assert 372 <= coverage_counts(400, wrong_one_in_five=False) <= 388


@pytest.mark.long
def test_four_hundred_losses_with_one_bearing_in_five_wrong_are_held_85_in_100():
    assert coverage_counts(400, wrong_one_in_five=True) >= 340
