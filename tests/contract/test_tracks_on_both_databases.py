"""The picture of the tracks is the same from SQLite, from PostgreSQL and from bare records."""

from __future__ import annotations

import random
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.actor import Actor, Role
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.tracks import LAYER
from tests.databases import fresh

BEGAN = datetime(2027, 3, 10, tzinfo=UTC)
HOURS = 90
FEED = Actor(name="feed", role=Role.FEED)
WATCH = Actor(name="watch officer 1", role=Role.WATCH)


class Clock:
    """A clock that shows what it is told."""

    at = BEGAN

    def __call__(self) -> datetime:
        return self.at


def _draft(kind: str, at: datetime, key: str, **payload: Any) -> Draft:
    return Draft(
        kind=kind,
        payload=payload,
        valid_at=at,
        heard_at=at,
        source="test",
        identity=form_identity(key),
    )


def _hour(rng: random.Random, at: datetime, hour: int) -> list[Draft]:
    """Return one hour of eight ships, some silent, some heard late or at the same instant."""
    found = []
    for ship in range(8):
        if (ship == 7 and hour > 20) or rng.random() < 0.2:
            continue
        for minute in (5, 5, 30, 50):
            moved = {} if rng.random() < 0.3 else {"speed_kn": 9.0, "course_true_deg": 80.0}
            late = timedelta(hours=rng.choice([0, 0, 0, 3]))
            found.append(
                _draft(
                    "tracks.position",
                    at + timedelta(minutes=minute - 60) - late,
                    f"{hour} {ship} {len(found)}",
                    subject=f"mmsi:29900010{ship}",
                    latitude_deg=49.0 + 0.01 * hour + rng.choice([0.0] * 20 + [1.5]),
                    longitude_deg=-9.0 + 0.1 * ship,
                    **moved,
                )
            )
        part = {"name": f"SHIP {ship}"} if hour % 2 else {"length_m": 50.0 + ship}
        static = _draft(
            "tracks.static", at, f"s{hour} {ship}", subject=f"mmsi:29900010{ship}", **part
        )
        found.append(static)
    return found


def _filled(journal: Journal, clock: Clock) -> None:
    rng = random.Random(5)
    journal.append(
        WATCH,
        [
            _draft("tracks.vessel", BEGAN, f"v{n}", subject=f"mmsi:29900010{n}", name=f"V {n}",
                   role="search ship")
            for n in (6, 2, 7)
        ],
    )  # fmt: skip
    for hour in range(HOURS):
        clock.at = BEGAN + timedelta(hours=hour + 1)
        made = journal.append(FEED, _hour(rng, clock.at, hour)).records
        positions = [r for r in made if r.kind == "tracks.position"]
        wrong, moved = rng.sample(positions, 2)
        journal.append(
            WATCH,
            [
                _draft("journal.retract", clock.at, f"r{hour}", target=wrong.id, reason="false"),
                _draft("journal.correct", clock.at, f"c{hour}", target=moved.id, reason="typing",
                       fields={"latitude_deg": 49.5, "subject": "mmsi:299000102"}),
            ],
        )  # fmt: skip


def _said(shelf: Any, upto: int, moment: Moment) -> Any:
    result = LAYER.compute(Known(shelf, KINDS, upto, moment.as_of), {}, moment)
    ships = [
        [v.tolist() if isinstance(v, np.ndarray) else v for v in _values(ship)]
        for ship in result.ships
    ]
    return ships, LAYER.sentence(result), LAYER.table(result), result.undrawn, result.rests_on


def _values(ship: Any) -> list[Any]:
    return [getattr(ship, field.name) for field in fields(ship)]


@pytest.mark.parametrize(
    "database", ["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)]
)
def test_the_same_picture_at_any_time(database: str, tmp_path: Path) -> None:
    clock = Clock()
    journal = open_journal(fresh(database, tmp_path), KINDS, clock=clock)
    _filled(journal, clock)
    bare = ListShelf(journal.read(list(KINDS), journal.revision()))
    rng = random.Random(9)
    for _ in range(12):
        as_of = BEGAN + timedelta(hours=rng.uniform(2, HOURS + 2))
        at = as_of + timedelta(hours=rng.choice([0, 0, -20, 5]))
        if at < BEGAN + timedelta(hours=1):
            continue
        upto = journal.seq_at(as_of)
        moment = Moment(as_of, at)
        assert _said(journal, upto, moment) == _said(bare, upto, moment)
    journal.close()


def test_what_is_recorded_later_changes_nothing_seen_before(tmp_path: Path) -> None:
    clock = Clock()
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=clock)
    _filled(journal, clock)
    records = journal.read(list(KINDS), journal.revision())
    as_of = BEGAN + timedelta(hours=40)
    upto = journal.seq_at(as_of)
    then = ListShelf([r for r in records if r.seq <= upto])
    moment = Moment(as_of, as_of)
    assert _said(journal, upto, moment) == _said(then, upto, moment)
    journal.close()
