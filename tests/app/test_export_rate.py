"""A reader's exports are records: so many a minute, then a sentence and nothing recorded."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from dashboard.cache import opened
from dashboard.panels.plot import snapshot as snapshot_panel
from demo_data.scenario import DEMO_NOW
from layers.contract import Moment
from layers.earth.errors import NotAllowed
from layers.journal.actor import Actor, Role
from layers.journal.store import Journal
from layers.scene.release import Release


def test_past_the_limit_nothing_is_recorded_and_the_watch_is_never_held_up(
    data_folder: object, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert data_folder
    monkeypatch.setattr(snapshot_panel, "time", SimpleNamespace(monotonic=lambda: 100.0))
    seen: Any = SimpleNamespace(
        journal=opened.book(), now=DEMO_NOW, moment=Moment(as_of=DEMO_NOW, at=DEMO_NOW),
        writable=False, actor=Actor(name="reader", role=Role.READER, via="without log-in"),
    )  # fmt: skip
    before = journal.head()[0]
    for _ in range(snapshot_panel.READERS_EXPORTS):
        snapshot_panel.note(seen, "plot.png", Release(to="staff"), b"x")
    with pytest.raises(NotAllowed, match=r"at most 10 exports a minute .* try again in 60 s"):
        snapshot_panel.note(seen, "plot.png", Release(to="staff"), b"x")
    assert journal.head()[0] == before + snapshot_panel.READERS_EXPORTS
    seen.writable = True
    snapshot_panel.note(seen, "plot.png", Release(to="staff"), b"x")
    assert journal.head()[0] == before + snapshot_panel.READERS_EXPORTS + 1
