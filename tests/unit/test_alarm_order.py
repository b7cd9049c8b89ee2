"""Which alarm leads where there is room for one: the one that presses most."""

from __future__ import annotations

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

from dashboard.panels.events import untaken
from demo_data.scenario import DEMO_NOW


def alarm(
    name: str, *, due_h: float | None = None, ended: bool = False, taken: bool = False
) -> Any:
    when: datetime | None = None if due_h is None else DEMO_NOW + timedelta(hours=due_h)
    told = SimpleNamespace(value=SimpleNamespace(when=when))
    return SimpleNamespace(name=name, alarm=told, ended=ended or None, taken=taken or None)


def led_by(*held: Any) -> list[str]:
    watch: Any = SimpleNamespace(alarms=held, at=DEMO_NOW)
    return [one.name for one in untaken(watch)]  # type: ignore[attr-defined]  # names of its own


def test_what_lasts_leads_then_what_ended_unacknowledged_and_the_acknowledged_are_gone() -> None:
    held = [alarm("first"), alarm("over", ended=True), alarm("seen", taken=True), alarm("last")]
    assert led_by(*held, alarm("over too", ended=True)) == ["last", "first", "over too", "over"]


def test_what_comes_sooner_leads_though_it_was_raised_before() -> None:
    """A window that shuts in an hour and a half is not told behind one that shuts in three."""
    held = [alarm("recovery shuts", due_h=1.5), alarm("launch shuts", due_h=3.0)]
    assert led_by(*held) == ["recovery shuts", "launch shuts"]
    silent = alarm("buoy silent since", due_h=-1.0)
    assert led_by(*held, silent, alarm("margin below")) == [
        "margin below", "recovery shuts", "launch shuts", "buoy silent since",
    ]  # fmt: skip
