"""What stands open when an incident is closed: in words, for a person to close or to leave.

Who ends the alert or closes the incident while people are still to be brought out, or somebody
is still looked for, is asked first: a slip of the hand ends nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from pydantic import Field

from layers.earth.errors import AskedFirst
from layers.journal.kinds import Kind, Payload
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.watch.model import Short
from layers.watch.result import FINISHED, WatchState


class Closed(Payload):
    """The incident is closed: by whom, what stood open, which incident comes next.

    From then on nothing is read into it by itself; a person may still put something right.
    """

    by: Short
    next_incident: str = Field(default="", max_length=120)
    left_open: tuple[Short, ...] = Field(default=(), max_length=200)


def left_open(watch: WatchState, others: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Return what nobody has brought to an end, a sentence each.

    Parameters
    ----------
    watch : WatchState
        The watch's book.
    others : tuple of str
        What else is not at its end, in words: people first, objects sought, the way home.
    """
    found = list(others)
    if watch.stages:
        found.append(f"alert {watch.stages[-1].stage} is not ended")
    found += [
        f"task of {each.task.value.who}: {each.task.value.what} ({each.state})"
        for each in watch.tasks
        if each.state not in FINISHED
    ]
    found += [
        f"listening time with {each.agreed.value.with_whom}: {each.outcome}"
        for each in watch.listening
        if each.outcome in ("to come", "not said", "two say otherwise")
    ]
    found += [
        f"question to {each.entry.value.asked_of}: {each.entry.value.what}"
        for each in watch.questions
    ]
    found += [f"assumption: {each.entry.value.what}" for each in watch.assumptions]
    found += [
        f"handover to {each.given.value.given_to} is not signed"
        for each in watch.handovers
        if not each.signed
    ]
    found += [
        f"help asked of {each.asked.value.asked_of}: {each.asked.value.what}"
        for each in watch.desk.asked
        if each.open
    ]
    found += [
        f"checklist {each.checklist.value.name}: {each.left} not done"
        for each in watch.checklists
        if each.left
    ]
    found += [
        f"alarm not acknowledged: {each.words(watch.at)}"
        for each in watch.alarms
        if each.taken is None
    ]
    return tuple(found)


STANDS_OPEN = "what stands open"  # named as answered: it is ended all the same
ENDS = {"watch.stage": "the alert is ended", "watch.closed": "the incident is closed"}
Unfinished = Callable[[Known], tuple[str, ...]]


def asking_first(kinds: Iterable[Kind], of: Sequence[Unfinished]) -> tuple[Kind, ...]:
    """Return the watch's kinds; those that end an operation ask about what the layers hold open."""
    return tuple(
        replace(kind, ask=_ask_open(kind, of)) if kind.name in ENDS else kind for kind in kinds
    )


def _ask_open(kind: Kind, of: Sequence[Unfinished]) -> Callable[[Any, Draft, Known, str], None]:
    before = kind.ask

    def ask(value: Any, draft: Draft, known: Known, author: str) -> None:
        if before is not None:
            before(value, draft, known, author)
        if STANDS_OPEN in draft.answered or getattr(value, "stage", "ended") != "ended":
            return
        if found := [words for one in of for words in one(known)]:
            raise AskedFirst(
                f"{'; '.join(found)}: {ENDS[kind.name]} all the same?",
                (STANDS_OPEN,),
                accepted="first what brings them to an end; or all the same, when it is meant so",
            )

    return ask
