"""``incidents``: the incidents kept here, and the act that begins the next one."""

from __future__ import annotations

import argparse
from typing import Any

from layers import incidents
from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.journal.actor import Actor, Role
from layers.journal.naming import add_journal, default_url
from layers.journal.store import open_journal
from layers.stands_open import stands_open_in
from layers.watch.closing import STANDS_OPEN


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("incidents", help="the incidents kept here; begin the next one")
    parser.add_argument("--next", metavar="NAME", help="close the last and begin this one")
    parser.add_argument("--exercise", action="store_true", help="the next one is an exercise")
    parser.add_argument("--keep", action="store_true", help="do not close the last")
    parser.add_argument(
        "--all-the-same", action="store_true",
        help="close the last though people or objects of search stand open in it",
    )  # fmt: skip
    parser.add_argument("--by", metavar="WHO", default="the watch", help="who closes the last")
    parser.add_argument("--place", metavar="URL", default="", help="the next one's journal")
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Begin the next one when asked to; return the list."""
    answer: dict[str, Any] = {}
    if arguments.next is not None:
        answer = _begin(arguments)
    held = incidents.incidents(answer.get("journal"))
    answer["incidents"] = [
        {
            "name": each.name, "exercise": each.exercise, "journal": each.url,
            "folder": str(each.folder), "began_at": each.began_at, "last_at": each.last_at,
            "records": each.records, "closed_at": each.closed_at,
            "since_closed": each.since_closed, "trouble": each.trouble,
        }
        for each in held
    ]  # fmt: skip
    return answer


def _begin(arguments: argparse.Namespace) -> dict[str, Any]:
    last = None
    if not arguments.keep:
        last = open_journal(arguments.journal or default_url(), KINDS, create=False)
    try:
        begun = incidents.begin(
            arguments.next, KINDS, exercise=arguments.exercise, last=last,
            by=Actor(name=arguments.by, role=Role.WATCH, via="command"), close=not arguments.keep,
            left_open=stands_open_in(last) if last is not None else (), url=arguments.place,
            answered=(STANDS_OPEN,) if arguments.all_the_same else (),
        )  # fmt: skip
    finally:
        if last is not None:
            last.close()
    archive = str(begun.archive) if begun.archive else None
    return {
        "begun": begun.name,
        "journal": begun.url,
        "folder": str(begun.folder),
        "drop": str(begun.folder / "drop"),
        "closed": begun.closed,
        "archive": archive,
    }


def say(answer: dict[str, Any]) -> str:
    """Return the list, and what was begun."""
    lines = []
    if "begun" in answer:
        lines.append(f"{answer['begun']} is begun; its files go into {answer['drop']}")
        if answer["closed"]:
            lines.append(f"{answer['closed']} is closed; its copy is {answer['archive']}")
    for each in answer["incidents"]:
        span = "no record yet"
        if each["began_at"] is not None:
            span = f"{dtg(each['began_at'])} to {dtg(each['last_at'])}, {each['records']} records"
        closed = f", closed {dtg(each['closed_at'])}" if each["closed_at"] else ""
        closed += f", records since: {each['since_closed']}" if each["since_closed"] else ""
        sort = "EXERCISE " if each["exercise"] else ""
        lines.append(f"{sort}{each['name']}: {each['trouble'] or span}{closed}; {each['journal']}")
    return "\n".join(lines) or "no incident is kept here yet"
