"""A track exported again with fewer digits adds nothing; what differs by more than that does."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.catalogue import KINDS
from layers.ingest import read_content
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal

AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)
HEADS = "mmsi,time,lat,lon,sog,cog\n"
FEED = Actor(name="drop", role=Role.FEED)


def rows(count=200):
    """Ships under way: whole seconds and parts of one, six decimals and more."""
    rng = np.random.default_rng(7)
    return [
        (299_000_000 + int(rng.integers(0, 9)), AT - timedelta(hours=5, seconds=-7.5 * n),
         float(rng.uniform(49, 51)), float(rng.uniform(-9, -7)), float(rng.uniform(0.3, 22)),
         float(rng.uniform(0, 359.9)))
        for n in range(count)
    ]  # fmt: skip


def table(of, places=7, speed=3, *, whole=False, shift=0.0):
    text = HEADS
    for mmsi, at, lat, lon, sog, cog in of:
        when = f"{at:%Y-%m-%dT%H:%M:%S}" + ("" if whole else f".{at.microsecond // 1000:03d}")
        text += (
            f"{mmsi},{when}Z,{lat + shift:.{places}f},{lon:.{places}f},{sog:.{speed}f},"
            f"{cog:.{speed}f}\n"
        )
    return text


@pytest.fixture
def journal(tmp_path):
    held = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: AT)
    yield held
    held.close()


def take(journal, text, name):
    """Return how many records a file adds."""
    before = journal.revision()

    def add(reading):
        journal.append(FEED, reading.drafts)

    read_content(text.encode(), name, AT, add)
    return journal.revision() - before


@pytest.mark.parametrize(
    "again",
    [
        {"places": 6}, {"places": 5, "speed": 1}, {"places": 4, "speed": 1},
        {"places": 4, "speed": 0}, {"places": 5, "speed": 1, "whole": True},
    ],
)  # fmt: skip
def test_fewer_digits_are_the_same_fixes_whichever_came_first(journal, again):
    ships = rows()
    assert take(journal, table(ships), "fine.csv") == len(ships)
    assert take(journal, table(ships, **again), "coarse.csv") == 0
    # and the other way about, of other ships
    others = [(mmsi + 100, *rest) for mmsi, *rest in ships]
    assert take(journal, table(others, **again), "first.csv") == len(ships)
    assert take(journal, table(others), "second.csv") == 0


def test_what_differs_by_more_than_its_digits_is_another_fix(journal):
    ships = rows(50)
    assert take(journal, table(ships), "a.csv") == 50
    # 0.0005 degrees, 55 m, told to 11 m: two stations with one number, or one that is wrong
    assert take(journal, table(ships, places=4, shift=0.0005), "b.csv") == 50
    # a mile told to a mile says too little to be taken for the same
    assert take(journal, table(ships, places=2), "c.csv") == 50
    later = [(mmsi, at + timedelta(seconds=2), *rest) for mmsi, at, *rest in ships]
    assert take(journal, table(later, places=4), "d.csv") == 50
    turned = [(*first, (cog + 90.0) % 360.0) for *first, cog in ships]
    assert take(journal, table(turned, places=4), "e.csv") == 50
