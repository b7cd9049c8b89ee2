"""Only what the feed reader follows can be a stale feed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft
from layers.journal.store import Journal, open_journal

NOW = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
SHIP = {"subject": "mmsi:299000901", "latitude_deg": 49.8, "longitude_deg": -8.4}


def put(journal: Journal, author: str, source: str, count: int, form: str = "file") -> None:
    drafts = [
        Draft(kind="tracks.position", payload=SHIP, source=source,
              valid_at=NOW - timedelta(minutes=n), heard_at=NOW - timedelta(minutes=n),
              identity=f"{form}:{source}:{n}")
        for n in range(count)
    ]  # fmt: skip
    journal.append(Actor(name=author, role=Role.FEED), drafts)


def test_a_dropped_file_a_report_and_what_came_once_are_no_feeds(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: NOW)
    put(journal, "feed reader", "AIS receiver", 3)
    put(journal, "watch officer 1", "box-in", 3)
    put(journal, "feed reader", "depths.nc", 1)
    put(journal, "watch officer 1", "watch", 3, form="form")
    assert [one.source for one in journal.followed()] == ["AIS receiver"]
    put(journal, "feed reader", "depths.nc", 4)  # the first is there already
    assert [one.source for one in journal.followed()] == ["AIS receiver", "depths.nc"]
    journal.close()
