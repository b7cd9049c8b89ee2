"""The exercise in a journal, its picture worked out: made once a run, and copied where it is used.

To work the picture out takes a processor a quarter of a minute, and a test that looks at a page
tests the page. Results are kept under the place of their journal, so that a copy of a journal has
none; here the copy is given those of the records that both hold.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import sqlite3
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from demo_data.load import fill
from demo_data.scenario import DEMO_NOW, NAME
from layers import incidents
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.store import open_journal
from layers.picture import picture
from layers.results import Results

JOURNAL = "exercise.sqlite"
FEW_DRAWS = "2000"  # what a page says of them is looked at here, not how fine they are
DRAWS = "MUSTERPLOT_DRAWS"


def shared_folder(factory: pytest.TempPathFactory) -> Path:
    """Return the folder that all processes of one run have in common."""
    base = factory.getbasetemp()
    return base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base


def once(place: Path, make: Callable[[Path], None]) -> Path:
    """Return a folder that whoever of the run comes first makes, while the others wait."""
    place.parent.mkdir(parents=True, exist_ok=True)
    with place.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not place.exists():
            new = place.with_suffix(".new")
            shutil.rmtree(new, ignore_errors=True)
            new.mkdir()
            make(new)
            new.rename(place)
    return place


def worked_out(shared: Path) -> Path:
    """Return the folder of the exercise with the picture of its opening, made once a run."""
    return once(shared / "worked out", _work_out)


def _work_out(folder: Path) -> None:
    journal = open_journal(folder / JOURNAL, KINDS, name=NAME, exercise=True)
    fill(journal)
    patch = pytest.MonkeyPatch()
    patch.setenv(DRAWS, FEW_DRAWS)
    kept = Results(folder / "kept", "the exercise")
    for at in (DEMO_NOW, DEMO_NOW - timedelta(hours=1)):  # what has changed in an hour
        picture(journal, Moment(at, at), journal.seq_at(at), kept=kept)
    patch.undo()
    journal.close()


def exercise_into(folder: Path, shared: Path) -> Path:
    """Put the exercise and its worked-out picture into a data folder; return the journal's path.

    Its clock stands at the opening.
    """
    base, path = worked_out(shared), folder / JOURNAL
    shutil.copy(base / JOURNAL, path)
    journal = open_journal(path, KINDS)
    journal.set_clock(DEMO_NOW)
    place = incidents.folder_of(path, data=folder)
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    held, mine = Results(base / "kept", "the exercise"), Results(place, journal.key)
    journal.close()
    shutil.copytree(held.kept, mine.kept, copy_function=os.link, dirs_exist_ok=True)
    rows = sqlite3.connect(mine.path)
    rows.execute("ATTACH ? AS worked_out", (str(held.path),))
    with rows:
        rows.execute("INSERT OR REPLACE INTO results SELECT * FROM worked_out.results")
    rows.close()
    return path
