"""A chart is not built anew for every metre that what it is about moves; nor held too long."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from dashboard.chart import held_frame
from dashboard.chart.held_frame import still_shows
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.position import Position
from layers.journal.releases.rules import WATCH, Release


def frame(north_m: float, half_m: float, name: FrameName = FrameName.RANGE_TRUE) -> ChartFrame:
    # a minute of latitude is 1,855 m here (WGS 84, 50 N)
    return frame_for(Position(50.0 + north_m / 1_855.0 / 60.0, -9.0), name, half_m)


@pytest.mark.parametrize(("north_m", "half_m", "stays"), [
    (0.0, 10_000.0, True), (900.0, 10_900.0, True), (2_400.0, 10_000.0, True),
    (2_700.0, 10_000.0, False), (0.0, 13_000.0, False), (0.0, 4_000.0, False),
    (1_600.0, 6_000.0, False),
])  # fmt: skip
def test_it_stands_while_what_is_asked_for_lies_well_within(
    north_m: float, half_m: float, stays: bool
) -> None:
    assert still_shows(frame(0.0, 10_000.0), frame(north_m, half_m)) is stays


def test_another_projection_is_another_chart() -> None:
    assert not still_shows(frame(0, 10_000.0), frame(0, 10_000.0, FrameName.UTM))


def test_where_it_lay_when_more_was_seen_is_not_told_when_less_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(held_frame.st, "session_state", {})
    watch: Any = SimpleNamespace(release=WATCH)
    reader: Any = SimpleNamespace(release=Release(exact_position=False))
    exact, block = frame(0.0, 10_000.0), frame(1_000.0, 10_000.0)
    assert held_frame.held_frame(watch, "search", exact) == exact
    assert held_frame.held_frame(watch, "search", frame(50.0, 10_000.0)) == exact
    assert held_frame.held_frame(reader, "search", block) == block
