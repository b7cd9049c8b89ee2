"""Sixty lines of an incident off Chile, written from the trade before its grammar was read.

``verdict`` is what the line must come to, ``first_run`` what it came to when it was first heard:
none was taken as another fact then, nineteen were understood. The figures were worked by hand
(1 yd = 0.9144 m, minutes over 60).
"""

from __future__ import annotations

import csv
from argparse import Namespace
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from layers.catalogue import KINDS
from layers.commands import hear as command
from layers.heard import hear
from layers.heard.record import around_journal
from layers.journal.naming import address
from layers.journal.store import Journal, open_journal
from tests.heard_world import grammar
from tests.unit.test_heard_lines import comes_to

ROWS = list(csv.DictReader(
    (Path(__file__).parents[1] / "data/heard_off_chile.csv").read_text().splitlines(),
    delimiter=";"))  # fmt: skip
NOW = datetime(2026, 11, 29, 15, 30, tzinfo=UTC)
BEFORE = (
    "boat CORVINA, length 58 m, compartments fore ends, control room, motor room",
    "lkp 33 12 S 072 15 W 1105Z within 2 miles", "CORVINA 41 on board",
    "new ship HALCON", "new ship MERIDIAN STAR", "new aircraft ALBATROSS 7",
    "HALCON 3305S 07210W at 1400", "MERIDIAN STAR 3320S 07230W at 1430",
    "ALBATROSS 7 3300S 07200W at 1420",
)  # fmt: skip


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    into = address(str(tmp_path_factory.mktemp("heard") / "plot.sqlite"))
    command.run(Namespace(text=list(BEFORE), at="2026-11-29T14:31Z", journal=None, into=into,
                          exercise="COLD SHELF", json=False, all_the_same=False))  # fmt: skip
    opened = open_journal(into, KINDS, create=False, readonly=True)
    yield opened
    opened.close()


@pytest.mark.parametrize("row", ROWS, ids=[row["line"][:60] for row in ROWS])
def test_an_unseen_line_comes_to_what_was_meant(row: dict[str, str], journal: Journal) -> None:
    comes_to(hear(row["line"], grammar(), around_journal(grammar(), journal, NOW)), row)
