"""How the benchmarks count who is behind: by hand."""

from __future__ import annotations

import math

import pytest

from tests.benchmarks.bench_readers import queued
from tests.benchmarks.painted import together, waited

BEGUN = {b"first": 10.0, b"second": 11.0, b"third": 12.0}


def test_a_change_overtaken_was_awaited_until_the_newer_one_came() -> None:
    found = waited(BEGUN, {b"second": 13.5, b"third": 14.0})
    assert found.seconds == [3.5, 2.5, 2.0]
    assert found.overtaken == 1


def test_what_is_never_seen_is_not_left_out_of_the_figure() -> None:
    found = waited(BEGUN, {b"first": 10.4, b"third": None})
    assert found.seconds == pytest.approx([0.4, math.inf, math.inf])
    assert found.cut(95) == math.inf


def test_many_are_counted_as_one() -> None:
    both = together([waited(BEGUN, dict.fromkeys(BEGUN, 13.0)), waited(BEGUN, {b"third": 14.0})])
    assert sorted(both.seconds) == [1.0, 2.0, 2.0, 3.0, 3.0, 4.0]
    assert both.overtaken == 2


def test_who_is_behind_is_counted_once_however_many_changes_they_lack() -> None:
    quick = {b"first": 10.5, b"second": 11.5, b"third": 12.5}  # behind for half of each second
    slow = {b"third": 13.0}  # behind from the first change to the third's coming
    average, most = queued(BEGUN, [quick, slow])
    assert average == pytest.approx((3 * 0.5 + 3.0) / 3.0)
    assert most == 2
