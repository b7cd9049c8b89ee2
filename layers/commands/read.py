"""``read FILE…``: what files say, counted; with ``--into`` it is recorded."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.contract import Reading
from layers.earth.clock import parse_time
from layers.earth.errors import InputError, MusterplotError
from layers.ingest import FileOutcome, FileTold, read_path
from layers.journal.actor import Actor, Role
from layers.journal.naming import address
from layers.journal.store import Journal, open_journal
from layers.watch import exercise_clock

ACTOR = Actor(name="file read", role=Role.FEED, via="command line")


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "read", help="read files of any known kind; nothing is stored without --into"
    )
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--into", type=address, metavar="URL", help="the journal to record them in")
    parser.add_argument(
        "--exercise", metavar="NAME", help="make the journal, where there is none, an exercise"
    )
    parser.add_argument("--clock", metavar="TIME", help="what the exercise's clock shows")
    parser.add_argument("--received", metavar="TIME", help="when they were received; else now")
    parser.add_argument(
        "--recorded", metavar="TIME", help="when they were recorded, for what bears no date itself"
    )
    parser.add_argument(
        "--meant", metavar="WHAT", default="", help="what a map file is: route, area or evidence"
    )


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return what became of each file under the keys of the answer."""
    if not arguments.into and (arguments.exercise or arguments.clock):
        raise InputError("nothing is recorded without --into URL", where="--exercise, --clock")
    journal = _into(arguments) if arguments.into else None
    if arguments.received:
        at = parse_time(arguments.received, "--received")
    else:
        at = journal.now() if journal is not None else datetime.now(UTC)
    recorded = parse_time(arguments.recorded, "--recorded") if arguments.recorded else None
    told = FileTold(recorded_at=recorded, meant=arguments.meant)
    try:
        files = [_file(path, at, journal, told) for path in arguments.files]
    finally:
        if journal is not None:
            journal.close()
    return {"files": [entry for entries in files for entry in entries], "stored": arguments.into}


def _into(arguments: argparse.Namespace) -> Journal:
    """Return the journal named, made where there is none; an exercise's clock set if told."""
    at = parse_time(arguments.clock, "--clock") if arguments.clock else None
    name = {"name": arguments.exercise, "exercise": True} if arguments.exercise else {}
    journal = open_journal(arguments.into, KINDS, **name)
    try:
        if arguments.exercise and (journal.name, journal.exercise) != (arguments.exercise, True):
            raise InputError(
                f"{journal.place} holds {journal.name!r}",
                where="--exercise",
                accepted="a journal that is not there yet, or that exercise's own",
            )
        if at is not None:
            exercise_clock.put_clock(journal, ACTOR, at, "told with the files")
    except MusterplotError:
        journal.close()
        raise
    return journal


def _file(
    path: Path, at: datetime, journal: Journal | None, told: FileTold
) -> list[dict[str, Any]]:
    new = 0
    turned_away: list[str] = []

    def take(reading: Reading) -> None:
        nonlocal new
        if journal is not None:
            kept = reading.to_keep()
            done = journal.append(ACTOR, kept.drafts, rejects=kept.rejects, blobs=kept.blobs)
            new += done.count
            turned_away.extend(one.reason for one in done.rejects)

    outcomes = read_path(path, at, take, told=told).outcomes
    entries = [_entry(path, outcome) for outcome in outcomes]
    if journal is not None:
        entries[0] |= {"new": new, "turned_away": len(turned_away)}
        entries[0] |= {"turned_away_as": turned_away[0]} if turned_away else {}
    return entries


def _entry(path: Path, outcome: FileOutcome) -> dict[str, Any]:
    inner = outcome.path.partition("!")[2]
    return {
        "path": f"{path}!{inner}" if inner else str(path),
        "format": outcome.format or None,
        "records": dict(sorted(outcome.records.items())),
        "rejects": outcome.rejects,
        "reasons": dict(outcome.reasons.most_common()),
        "passed_over": dict(outcome.passed_over.most_common()),
        "doubtful": dict(outcome.doubts.most_common()),
        "asks": outcome.asks or None,
    }


def say(answer: dict[str, Any]) -> str:
    """Return a line for each file, and one for each reason."""
    lines = []
    for entry in answer["files"]:
        records = ", ".join(f"{count} {kind}" for kind, count in entry["records"].items())
        kind = entry["format"] or "not known"
        lines.append(f"{entry['path']} ({kind}): {records or 'no records'}")
        if "new" in entry:
            lines[-1] += f"; {entry['new']} new"
        if entry.get("turned_away"):
            lines.append(f"  turned away {entry['turned_away']}, as: {entry['turned_away_as']}")
        lines += [f"  asks: {entry['asks']}"] if entry["asks"] else []
        lines += [f"  doubtful {count}: {why}" for why, count in entry["doubtful"].items()]
        lines += [f"  rejected {count}: {reason}" for reason, count in entry["reasons"].items()]
    return "\n".join(lines)


def status(answer: dict[str, Any]) -> int:
    """Return 2 when a file could not be read at all, 3 when one asks before it is recorded."""
    if any(entry["format"] is None for entry in answer["files"]):
        return 2
    return 3 if answer["stored"] and any(entry["asks"] for entry in answer["files"]) else 0
