"""Which incident is opened at the start, and the change to another while the program runs.

The web server asks for a change by a file that the starter watches: it alone can end the four
processes and start them on another journal.
"""

from __future__ import annotations

import argparse
import json
import os
from contextlib import suppress
from pathlib import Path

from layers import ours
from layers.earth.clock import dtg
from layers.earth.errors import InputError, JournalError
from layers.journal import naming
from layers.journal.actor import Actor, Role

CHANGE = "MUSTERPLOT_CHANGE"  # names the file in which a change is asked for
NEEDS_NAME = "--next with --name NAME for an operation, or with --exercise NAME"


def add(parser: argparse.ArgumentParser) -> None:
    """Declare what says which incident is meant."""
    parser.add_argument("--incident", metavar="NAME", help="open one of the incidents kept here")
    parser.add_argument(
        "--next", action="store_true",
        help="begin the next incident (with --name or --exercise); the last is closed and archived",
    )  # fmt: skip
    parser.add_argument(
        "--keep", action="store_true", help="with --next: the last is not closed, only kept"
    )
    parser.add_argument(
        "--all-the-same", action="store_true",
        help="with --next: close the last though people or objects of search stand open in it",
    )  # fmt: skip


def url_for(asked: argparse.Namespace) -> str:
    """Return the journal that was named, begun now, or the one in use in the data folder.

    Raises
    ------
    InputError
        What was asked for can not be, and what can.
    """
    named = asked.journal or os.environ.get(naming.DATABASE)
    if asked.incident and (named or asked.next):
        raise InputError(
            "names an incident, and so does something else",
            where="--incident",
            accepted="--incident NAME alone",
        )
    if asked.incident:
        from layers import incidents

        found = incidents.find(asked.incident)
        incidents.use(found.url)
        asked.empty = found.url != str(naming.exercise_file().resolve())
        return found.url
    if asked.next:
        return _next(asked, str(named or ""))
    if named:
        return str(named)
    if not asked.empty:
        return str(naming.exercise_file())
    return _operation(asked)


def _next(asked: argparse.Namespace, named: str) -> str:
    from layers import incidents
    from layers.catalogue import KINDS
    from layers.journal.store import open_journal
    from layers.stands_open import stands_open_in
    from layers.watch.closing import STANDS_OPEN

    name = asked.exercise or asked.name
    if not name:
        raise InputError("the next incident has no name", where="--next", accepted=NEEDS_NAME)
    try:
        before = naming.current_url() or ("" if asked.keep else naming.default_url())
    except JournalError as reason:
        if (naming.data_folder() / "exercise.sqlite").exists() and naming.operation_file().exists():
            raise InputError(
                f"which incident is closed is not clear: {reason}",
                where="--next",
                accepted="first --incident NAME, or --keep",
            ) from None
        before = ""
    last = open_journal(before, KINDS) if before and before != named else None
    by = Actor(name="the watch", role=Role.WATCH, via="at the start", room=asked.room)
    try:
        begun = incidents.begin(
            name, KINDS, exercise=bool(asked.exercise), last=last, by=by,
            close=not asked.keep, url=named,
            left_open=stands_open_in(last) if last is not None and not asked.keep else (),
            answered=(STANDS_OPEN,) if asked.all_the_same else (),
        )  # fmt: skip
    finally:
        if last is not None:
            last.close()
    asked.empty, asked.begun = True, begun
    return begun.url


def _operation(asked: argparse.Namespace) -> str:
    """Return the operation in use; never one that is closed, or that is called otherwise."""
    current = naming.current_url()
    url = current or str(naming.operation_file())
    if "://" not in url and not Path(url).exists():
        return url
    from layers import incidents
    from layers.journal.store import open_journal

    held = open_journal(url, {}, readonly=True)
    try:
        name, exercise = held.name, held.exercise
        closed = held.log(upto_seq=held.revision(), kinds=(incidents.CLOSED,), limit=1)
    finally:
        held.close()
    wanted = asked.exercise or asked.name
    other = bool(wanted) and (name, exercise) != (wanted, bool(asked.exercise))
    if not other and exercise and not asked.exercise:
        return str(naming.operation_file()) if current else url  # an operation was asked for
    if other or closed:
        since = f", closed {dtg(closed[0].valid_at)}" if closed else ""
        raise InputError(
            f"the incident in use here is {name!r}{since}",
            where="--exercise" if asked.exercise else "--empty",
            accepted=f"--next to begin another, or --incident {name!r} to open it",
        )
    return url


def words(url: str) -> str:
    """Return which incident is open and where its drop folder is, for the terminal."""
    from layers import incidents

    folder = incidents.folder_of(url)
    said = f"files put into {folder / 'drop'} are read by themselves"
    if (before := incidents.left_behind()) is not None:
        said += f"; those in {before} are not: they belong to no incident"
    return said


def change_file() -> Path:
    """Return where this starter is told of a change."""
    return naming.data_folder() / f"change-{os.getpid()}.json"


def ask_for(url: str) -> bool:
    """Ask the starter to open another journal; False where nobody started this server so."""
    told = os.environ.get(CHANGE)
    if not told:
        return False
    ours.write(Path(told), json.dumps({"url": url}).encode())
    return True


def asked_change(path: Path) -> str:
    """Return the journal that was asked for since the last look, empty when none was."""
    if not path.exists():
        return ""
    try:
        url = str(json.loads(ours.read(path))["url"])
    except (OSError, ValueError, KeyError, TypeError):
        url = ""
    with suppress(OSError):
        path.unlink()
    return url
