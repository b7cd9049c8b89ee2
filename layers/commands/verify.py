"""``verify``: whether anything in a journal was altered since it was recorded."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.commands.copy import demo_in
from layers.earth.errors import InputError
from layers.journal.integrity import outside
from layers.journal.integrity.chain import Fault, Verified, rebuild
from layers.journal.naming import add_journal, named_journal
from layers.journal.store import Journal


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("verify", help="check that nothing in a journal was altered")
    add_journal(parser)
    parser.add_argument(
        "--rebuild",
        action="store_true",
        help="first build the tables beside the records anew from them",
    )


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return what the check found."""
    if arguments.demo:
        if arguments.rebuild:
            raise InputError("--rebuild of the demo", accepted="a journal, by --journal")
        with tempfile.TemporaryDirectory() as folder:
            return _answer(demo_in(Path(folder)))
    return _answer(named_journal(arguments, KINDS, readonly=not arguments.rebuild),
                   anew=arguments.rebuild)  # fmt: skip


def _answer(journal: Journal, *, anew: bool = False) -> dict[str, Any]:
    try:
        rebuilt = rebuild(journal) if anew else 0
        found, since = outside.check(journal)
    finally:
        journal.close()
    first = _first(found)
    return {
        "records": found.records,
        "side_rows": found.side_rows,
        "blobs": found.blobs,
        "rejects": found.rejects,
        "intact": found.intact,
        "first_bad": found.first_bad,
        "what": first.what if first else None,
        "where": first.where if first else None,
        "since": since,
        "faults": [fault._asdict() for fault in found.faults],
        "head_hash": found.head_hash,
        "name_covered": found.name_covered,
        "rebuilt": rebuilt,
    }


def _first(found: Verified) -> Fault | None:
    """Return the fault of the first record that does not fit, else the first there is."""
    mine = [fault for fault in found.faults if fault.record == found.first_bad]
    return next(iter(mine or found.faults), None)


def say(answer: dict[str, Any]) -> str:
    """Return the answer as it is read out."""
    counted = (
        f"{answer['records']} records, {answer['side_rows']} rows beside them, "
        f"{answer['blobs']} files, {answer['rejects']} rejects"
    )
    if answer["intact"]:
        lines = [
            f"{counted}: nothing altered; the hash of the last block is {answer['head_hash']}: "
            "compare it with one printed on an earlier export"
        ]
        if not answer["name_covered"]:
            lines.append(
                "an older program began this journal: its name, EXERCISE and time of making are "
                "in no hash"
            )
        return "\n".join(lines)
    since = f"; it was whole at {answer['since']}" if answer["since"] else ""
    lines = [f"{counted}: ALTERED{since}; keep this file and its copies"]
    lines += [Fault(**fault).words() for fault in answer["faults"]]
    return "\n".join(lines)


def status(answer: dict[str, Any]) -> int:
    """Return the exit status: 1 when something was altered."""
    return 0 if answer["intact"] else 1
