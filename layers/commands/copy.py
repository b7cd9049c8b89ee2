"""``copy``: a whole copy of a journal for an inquiry, and a copy opened again for reading."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.copies.copied import copy_zip
from layers.journal.copies.reopened import reopen
from layers.journal.integrity.chain import verify
from layers.journal.naming import add_journal, named_journal
from layers.journal.store import Journal, open_journal


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("copy", help="make a whole copy of a journal, or open one again")
    add_journal(parser)
    parser.add_argument("--to", metavar="FILE", help="the zip file that is made")
    parser.add_argument("--open", metavar="FILE", help="a copy to be opened again")
    parser.add_argument("--into", metavar="FILE", help="with --open: the journal that is made")


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Make the copy or open one."""
    if arguments.demo and not arguments.open:
        with tempfile.TemporaryDirectory() as folder:
            return _copied(arguments, demo_in(Path(folder)))
    if arguments.open:
        if not arguments.into:
            raise InputError("where the copy is to be opened", accepted="--into FILE")
        return _answer(reopen(Path(arguments.open), Path(arguments.into), KINDS), arguments.into)
    return _copied(arguments, named_journal(arguments, KINDS))


def demo_in(folder: Path) -> Journal:
    """Return the exercise as a journal of its own in a folder."""
    from demo_data.load import fill

    journal = open_journal(folder / "exercise.sqlite", KINDS, exercise=True)
    fill(journal)
    return journal


def _copied(arguments: argparse.Namespace, journal: Journal) -> dict[str, Any]:
    if not arguments.to:
        raise InputError("where the copy goes", accepted="--to FILE")
    if Path(arguments.to).exists():
        raise InputError(f"{arguments.to} is there already", accepted="a file to be made")
    _, head = journal.head()
    name = f"EXERCISE {journal.name}" if journal.exercise else journal.name
    Path(arguments.to).write_bytes(copy_zip(journal, (name, f"head {head}")))
    return _answer(journal, arguments.to)


def _answer(journal: Journal, made: str) -> dict[str, Any]:
    try:
        found = verify(journal)
    finally:
        journal.close()
    return {"made": made, "records": found.records, "intact": found.intact,
            "head_hash": found.head_hash}  # fmt: skip


def say(answer: dict[str, Any]) -> str:
    """Return the answer as a sentence."""
    state = "nothing altered" if answer["intact"] else "ALTERED: run verify"
    return f"{answer['made']}: {answer['records']} records, {state}; head {answer['head_hash']}"
