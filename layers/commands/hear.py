"""``hear TEXT…``: what a line as it was heard says; with ``--into`` it is recorded."""

from __future__ import annotations

import argparse
import uuid
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from layers.catalogue import KINDS
from layers.earth.errors import AskedFirst, InputError
from layers.earth.said.times import told_time
from layers.heard import Ask, Grammar, HeardLine, LineContext, around, hear
from layers.heard.record import (
    around_journal,
    drafts_of,
    made_whole,
    note_of,
    unfinished,
    whole_now,
)
from layers.heard.result import NOTED
from layers.journal.actor import Actor, Role
from layers.journal.naming import address
from layers.journal.record import Draft, form_identity
from layers.journal.store import Appended, Journal, open_journal

ACTOR = Actor(name="heard line", role=Role.WATCH, via="command line")
WAITS = "kept until that is told, nothing of it is on the plot yet"
ASKS, REFUSES = 3, 2


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "hear", help="read a line as it was heard; nothing is stored without --into"
    )
    parser.add_argument("text", nargs="+", metavar="TEXT", help="a line; several are heard in turn")
    parser.add_argument("--at", metavar="T", help="the moment it is heard; else the journal's now")
    parser.add_argument(
        "--journal", type=address, metavar="URL", help="whose ships, places and records it means"
    )
    parser.add_argument("--into", type=address, metavar="URL", help="the journal to record it in")
    parser.add_argument(
        "--all-the-same", action="store_true", help="record what is asked about first, as meant so"
    )
    parser.add_argument(
        "--exercise", metavar="NAME", help="make that journal, where there is none, an exercise"
    )


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return what each line told under the keys of the answer, and record it where asked.

    Raises
    ------
    InputError
        Two journals are named, or the journal will not take a record.
    """
    if arguments.into and arguments.journal and arguments.into != arguments.journal:
        raise InputError(
            "two journals are named", where="--journal, --into", accepted="one of them"
        )
    grammar = Grammar(KINDS)
    journal = _opened(arguments)
    try:
        answers = [_heard(text, grammar, journal, arguments) for text in arguments.text]
    finally:
        if journal is not None:
            journal.close()
    return {
        "understood": [one for answer in answers for one in answer["understood"]],
        "asks": [one for answer in answers for one in answer["asks"]],
        "note": bool(answers) and all(answer["note"] for answer in answers),
        "notes": [one for answer in answers for one in answer["notes"]],
        "kept": [one for answer in answers for one in answer["kept"]],
    }


def _opened(arguments: argparse.Namespace) -> Journal | None:
    if arguments.into:
        made = {"name": arguments.exercise, "exercise": True} if arguments.exercise else {}
        return open_journal(arguments.into, KINDS, **made)
    if arguments.exercise:
        raise InputError("nothing is recorded without --into URL", where="--exercise")
    if arguments.journal:
        return open_journal(arguments.journal, KINDS, create=False, readonly=True)
    return None


def _heard(
    text: str, grammar: Grammar, journal: Journal | None, arguments: argparse.Namespace
) -> dict[str, Any]:
    clock = journal.now() if journal is not None else datetime.now(UTC)
    now = told_time(arguments.at, clock, "--at") if arguments.at else clock
    if journal is None:
        place: LineContext = around(grammar.kinds, None, now)
    else:
        place = around_journal(grammar, journal, now)
    hearing = hear(text, grammar, place)
    kept: list[dict[str, Any]] = []
    understood: list[dict[str, Any]] = [
        {"kind": one.kind, "valid_at": one.valid_at, "payload": one.payload, "words": one.words,
         "plain": one.plain}
        for one in hearing.understood
    ]  # fmt: skip
    notes = [{"text": note, "words": NOTED} for note in hearing.notes]
    if arguments.into and journal is not None:
        understood, refused = _record(
            hearing, understood, notes, journal, min(now, clock), arguments.all_the_same
        )
        kept = _kept(hearing, text, place, understood, journal, min(now, clock))
        hearing.asks += refused
    return {
        "understood": understood,
        "asks": [_ask(ask) for ask in hearing.asks],
        "note": bool(hearing.notes) and not understood and not hearing.asks,
        "notes": notes,
        "kept": kept,
    }


def _kept(
    hearing: HeardLine, text: str, place: LineContext, understood: list[dict[str, Any]],
    journal: Journal, heard_at: datetime,
) -> list[dict[str, Any]]:  # fmt: skip
    """Keep what only lacks something, by the name of that; take back what is told whole now."""
    if understood:
        number = int(understood[0]["seq"])
        for entry in made_whole(hearing, place.known):
            done = whole_now(entry, number, now=heard_at, source=ACTOR.name)
            journal.append(ACTOR, [done])
    there = any(entry.value.text == text for entry in unfinished(place.known))
    if understood or there or not hearing.lacks:
        return []
    draft = note_of(text, now=heard_at, source=ACTOR.name, identity=form_identity(uuid.uuid4().hex),
                    lacks=hearing.lacks)  # fmt: skip
    made = journal.append(ACTOR, [draft])
    return [{"text": text, "lacks": list(hearing.lacks), "words": WAITS,
             "seq": made.records[0].seq}]  # fmt: skip


def _record(
    hearing: HeardLine, understood: list[dict[str, Any]], notes: list[dict[str, Any]],
    journal: Journal, heard_at: datetime, all_the_same: bool,
) -> tuple[list[dict[str, Any]], list[Ask]]:  # fmt: skip
    """Record one after the other: what a later one rests on, an earlier one may have told."""
    drafts = drafts_of(hearing, now=heard_at, source=ACTOR.name, form_id=uuid.uuid4().hex)
    kept, refused = [], []
    for draft, told in zip(drafts, [*understood, *notes], strict=True):
        try:
            done = _appended(journal, draft, all_the_same)
        except InputError as reason:
            refused.append(Ask(about=f"{told['words']}: {reason}", refused=True))
            continue
        told["seq"] = done.records[0].seq
        if "kind" in told:
            kept.append(told)
    return kept, refused


def _appended(journal: Journal, draft: Draft, all_the_same: bool) -> Appended:
    """Record a draft; what is asked first is answered where it is meant so all the same."""
    while True:
        try:
            return journal.append(ACTOR, [draft])
        except AskedFirst as question:
            if not all_the_same or set(question.about) <= set(draft.answered):
                raise
            draft = replace(draft, answered=(*draft.answered, *question.about))


def _ask(ask: Ask) -> dict[str, Any]:
    return {
        "about": ask.about,
        "readings": list(ask.readings),
        "lines": list(ask.lines),
        "refused": ask.refused,
    }


def say(answer: dict[str, Any]) -> str:
    """Return the read-back, a line for each record, question and note."""
    lines = []
    for one in answer["understood"]:
        number = f"No. {one['seq']}: " if one.get("seq") else ""
        lines.append(number + one["words"])
    for ask in answer["asks"]:
        ways = f"  ({' | '.join(ask['readings'])})" if ask["readings"] else ""
        lines.append(f"{'no' if ask['refused'] else '?'}: {ask['about']}{ways}")
    lines += [f"{one['text']}: {one['words']}" for one in (*answer["notes"], *answer["kept"])]
    return "\n".join(lines)


def status(answer: dict[str, Any]) -> int:
    """Return 3 when something is asked, 2 when it can only be refused, else 0."""
    if not answer["asks"]:
        return 0
    return REFUSES if all(ask["refused"] for ask in answer["asks"]) else ASKS
