"""``join``: take in what another room recorded, once, with who and when; contradictions told."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role
from layers.journal.copies.joined import Contradiction, join
from layers.journal.copies.parcel import unpack
from layers.journal.naming import add_journal, named_journal
from layers.journal.words.payloads import payload_words


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("join", help="take in a parcel of another room")
    parser.add_argument("file", metavar="FILE", help="what the other room packed")
    parser.add_argument(
        "--mark", metavar="MARK", required=True, help="the other room's mark, heard another way"
    )
    parser.add_argument("--by", metavar="WHO", required=True, help="who takes it in")
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Take the parcel in and return what became of it."""
    if arguments.demo:
        raise InputError("a parcel for the demo", accepted="a journal, by --journal")
    try:
        content = Path(arguments.file).read_bytes()
    except OSError as fault:
        raise InputError(
            f"{arguments.file} can not be read ({fault.strerror})", where="FILE"
        ) from None
    parcel = unpack(content)
    if parcel.about.mark != arguments.mark.strip().lower():
        raise InputError(
            f"it is signed by a room whose mark is {parcel.about.mark}",
            where="--mark",
            accepted="the mark that you heard from the other room, when it is the same",
        )
    journal = named_journal(arguments, KINDS, readonly=False)
    try:
        done = join(journal, parcel, Actor(name=arguments.by, role=Role.WATCH, via="command"))
    finally:
        journal.close()
    return {
        "taken": done.taken,
        "already_there": done.already_there,
        "refused": list(done.refused),
        "contradictions": [_side_by_side(one) for one in done.contradictions],
    }


def _side_by_side(one: Contradiction) -> dict[str, Any]:
    return {
        "kind": KINDS[one.kind].title,
        "about": one.about,
        "fields": list(one.fields),
        "ours": {"seq": one.ours.seq, "at": dtg(one.ours.valid_at), "author": one.ours.author,
                 "words": payload_words(one.ours.payload)},
        "theirs": {"seq": one.theirs.seq, "at": dtg(one.theirs.valid_at),
                   "author": one.theirs.author, "words": payload_words(one.theirs.payload)},
    }  # fmt: skip


def say(answer: dict[str, Any]) -> str:
    """Return the answer as it is read out, contradictions side by side."""
    lines = [
        f"{answer['taken']} records taken in, {answer['already_there']} were here already, "
        f"{len(answer['refused'])} refused"
    ]
    lines += [f"refused: {why}" for why in answer["refused"]]
    for one in answer["contradictions"]:
        lines.append(f"CONTRADICTION, {one['kind']}, {one['about']}: {', '.join(one['fields'])}")
        for side in ("ours", "theirs"):
            told = one[side]
            lines.append(
                f"  {side}: no. {told['seq']}, {told['at']}, {told['author']}: {told['words']}"
            )
    if answer["contradictions"]:
        lines.append("Settle each by a correction or a retraction in the log.")
    return "\n".join(lines)
