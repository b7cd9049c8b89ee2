"""Two journals that differ only in what a release withholds look the same to it, byte for byte."""

from __future__ import annotations

import random

import pytest

from tests.release_pairs import TIMES, TWINS, base, differences, moments, shown

QUICK = (TIMES[1], TIMES[4], TIMES[7])


def _same(twin: str, times: tuple[object, ...], seed: int) -> None:
    other = TWINS[twin](random.Random(seed))
    for at in times:
        for moment in moments(at):  # type: ignore[arg-type]  # a time of the exercise
            found = differences(shown(base(), moment), shown(other, moment))
            assert not found, f"{twin}, {moment}: {found[0]}"


@pytest.mark.parametrize("twin", TWINS)
def test_what_is_withheld_makes_no_difference(twin: str) -> None:
    _same(twin, QUICK, 20_270_313)


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("twin", TWINS)
def test_what_is_withheld_makes_no_difference_at_any_time(twin: str, seed: int) -> None:
    _same(twin, TIMES, seed)
