"""On the wall a line is cut at its right edge: how late and how many must stand before the name."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from dashboard.panels import wall
from demo_data.scenario import DEMO_NOW
from layers.watch.result import Event
from tests.unit.test_answers import made


def _event(minutes: int, who: str) -> Event:
    return Event(
        at=DEMO_NOW - timedelta(minutes=minutes), sort="report", who=who, what="x", overdue=True,
        record_id="r",
    )  # fmt: skip


@pytest.mark.parametrize(("count", "others"), [(1, ""), (2, " (and 1 more)"), (4, " (and 3 more)")])
def test_the_name_comes_last(count: int, others: str) -> None:
    late = tuple(_event(35, "S" * 300) for _ in range(count))
    watch = SimpleNamespace(overdue=late, ahead=(), alarms=())
    picture = SimpleNamespace(layers={}, shown=lambda name: None)
    moment = SimpleNamespace(at=DEMO_NOW)
    seen: Any = SimpleNamespace(watch=watch, moment=moment, answers=made(), picture=picture)
    said = " | ".join(wall.due_lines(seen))
    assert f"OVERDUE 35 min{others}: report, SSS" in said


def test_an_alarm_that_was_taken_is_told_with_who_took_it_and_where() -> None:
    record = SimpleNamespace(valid_at=DEMO_NOW, author="AB, room North (plot-1:8501)")
    taken = SimpleNamespace(record=record, value=SimpleNamespace(by="AB"))
    alarm = SimpleNamespace(taken=taken, words=lambda now: "AIS is 40 min old")
    watch = SimpleNamespace(overdue=(), ahead=(), alarms=(alarm,))
    picture = SimpleNamespace(layers={}, shown=lambda name: None)
    moment = SimpleNamespace(at=DEMO_NOW)
    seen: Any = SimpleNamespace(watch=watch, moment=moment, answers=made(), picture=picture)
    said = [one for one in wall.due_lines(seen) if "acknowledged" in one]
    assert len(said) == 1
    assert said[0].endswith("by AB, room North: AIS is 40 min old")
