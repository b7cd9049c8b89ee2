"""``verify``: whether anything in a journal was altered since it was recorded."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.journal.chain import Verified
from layers.journal.chain import verify as verify_chain
from layers.journal.naming import add_journal, named_journal
from layers.journal.store import open_journal


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("verify", help="check the hash chain of a journal")
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return what the check found."""
    if arguments.demo:
        found = _verify_demo()
    else:
        journal = named_journal(arguments, KINDS)
        found = verify_chain(journal)
        journal.close()
    return {
        "records": found.records,
        "intact": found.intact,
        "first_bad": found.first_bad,
        "head_hash": found.head_hash,
    }


def _verify_demo() -> Verified:
    from demo_data.load import fill

    with tempfile.TemporaryDirectory() as folder:
        journal = open_journal(Path(folder) / "exercise.sqlite", KINDS, exercise=True)
        fill(journal)
        found = verify_chain(journal)
        journal.close()
    return found


def say(answer: dict[str, Any]) -> str:
    """Return the answer as it is read out."""
    if answer["intact"]:
        return (
            f"{answer['records']} records, nothing altered; the hash of the last block is "
            f"{answer['head_hash']}: compare it with one printed on an earlier export"
        )
    return (
        f"{answer['records']} records, ALTERED: from record {answer['first_bad']} on they do not "
        "fit the hash that was taken when they were recorded; keep this file and its copies"
    )


def status(answer: dict[str, Any]) -> int:
    """Return the exit status: 1 when something was altered."""
    return 0 if answer["intact"] else 1
