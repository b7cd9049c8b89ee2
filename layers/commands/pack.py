"""``pack``: records since a number as one small signed file, for a room without a link."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from layers import ours
from layers.catalogue import KINDS
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.copies.parcel import mark_of, own_key, pack
from layers.journal.naming import add_journal, data_folder, named_journal


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("pack", help="records since a number, signed, for another room")
    parser.add_argument("file", metavar="FILE", help="the file to be written")
    parser.add_argument("--since", metavar="N", type=int, default=0, help="after this record")
    parser.add_argument("--by", metavar="WHO", required=True, help="who sends it")
    parser.add_argument("--room", metavar="ROOM", required=True, help="what this room is called")
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Write the file and return what is in it."""
    if arguments.demo:
        raise InputError("a parcel of the demo", accepted="a journal, by --journal")
    journal = named_journal(arguments, KINDS)
    try:
        key = own_key(data_folder())
        upto = journal.revision()
        content = pack(
            journal, arguments.since, by=arguments.by, room=arguments.room,
            made_us=to_us(journal.now()), key=key,
        )  # fmt: skip
    finally:
        journal.close()
    path = Path(arguments.file)
    try:
        ours.write(path, content)
    except OSError as fault:
        raise InputError(f"{path} can not be written ({fault.strerror})", where="FILE") from None
    mark = mark_of(key.public_key())
    return {"path": str(path), "after": arguments.since, "upto": upto, "mark": mark}


def say(answer: dict[str, Any]) -> str:
    """Return the answer as it is read out."""
    return (
        f"{answer['path']}: records {answer['after'] + 1} to {answer['upto']}. Tell the other room "
        f"this room's mark by another way: {answer['mark']}"
    )
