"""Two whole programs on one PostgreSQL, on loopback: one order, nothing lost, nothing doubled."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from dashboard.__main__ import answers
from dashboard.server.processes import ROOT
from demo_data.load import load
from demo_data.scenario import DEMO_NOW
from layers import alive
from layers.catalogue import KINDS
from layers.journal import naming
from layers.journal.actor import Actor, Role
from layers.journal.integrity.chain import verify
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from tests.chain_by_itself import chain_of
from tests.databases import fresh
from tests.unit.test_supervisor import free_port, until

pytestmark = [pytest.mark.servers, pytest.mark.long]


def start(url: str, folder: Path, port: int) -> subprocess.Popen[bytes]:
    folder.mkdir()
    (folder / "land").write_text("a file where a folder should be: no coastline in this test")
    environment = {**os.environ, naming.DATABASE: url, naming.FOLDER: str(folder)}
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "dashboard", "--port", str(port)],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=log,
        )


def lives(folder: Path, name: str) -> bool:
    places = (folder / "incidents").glob("*")
    return any(alive.is_alive(place, name, datetime.now(UTC)) for place in places)


def test_two_programs_on_one_database_keep_one_order(tmp_path: Path) -> None:
    url = fresh("postgresql", tmp_path)
    folders = [tmp_path / "one", tmp_path / "two"]
    ports = [free_port(), free_port()]
    programs = [start(url, f, p) for f, p in zip(folders, ports, strict=True)]
    try:
        for port in ports:
            assert until(partial(answers, f"http://127.0.0.1:{port}/"), 250)
        for folder in folders:
            for name in ("worker", "feeds"):
                assert until(partial(lives, folder, name), 150), (folder / "log").read_text()
        journal = open_journal(url, KINDS)
        actor = Actor(name="watch officer 1", role=Role.WATCH)
        for number in range(20):
            at = journal.now()
            journal.append(
                actor,
                [
                    Draft(
                        kind="watch.marking",
                        payload={"line": f"line {number}"},
                        valid_at=at,
                        heard_at=at,
                        source="watch",
                        identity=form_identity(f"two-servers-{number}"),
                    )
                ],
            )
            time.sleep(0.05)
        records = journal.read(list(KINDS), journal.revision())
        filled = {item.draft.id for item in load().until(DEMO_NOW)}
        assert filled <= {r.id for r in records}
        assert len({r.id for r in records}) == len(records)
        found = verify(journal)
        assert found.intact
        assert chain_of(journal.engine)[2] is None
        assert journal.exercise
        journal.close()
    finally:
        for program in programs:
            program.terminate()
        for program in programs:
            program.wait(40)
    assert [program.returncode for program in programs] == [0, 0]
