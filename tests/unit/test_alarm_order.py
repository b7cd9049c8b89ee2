"""Which alarm leads where there is room for one: one that lasts, before one that has ended."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from dashboard.panels.events import untaken


def alarm(name: str, *, ended: bool = False, taken: bool = False) -> Any:
    return SimpleNamespace(name=name, ended=ended or None, taken=taken or None)


def test_what_lasts_leads_then_what_ended_unacknowledged_and_the_acknowledged_are_gone() -> None:
    held = [alarm("first"), alarm("over", ended=True), alarm("seen", taken=True), alarm("last")]
    watch: Any = SimpleNamespace(alarms=(*held, alarm("over too", ended=True)))
    assert [one.name for one in untaken(watch)] == ["last", "first", "over too", "over"]
