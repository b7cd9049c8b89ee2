"""What stands open when an incident is closed: in words, for a person to close or to leave."""

from __future__ import annotations

from pydantic import Field

from layers.earth.told import PersonsNow
from layers.journal.kinds import Payload
from layers.watch.model import Short
from layers.watch.result import FINISHED, WatchState


class Closed(Payload):
    """The incident is closed: by whom, what stood open, which incident comes next.

    From then on nothing is read into it by itself; a person may still put something right.
    """

    by: Short
    next_incident: str = Field(default="", max_length=120)
    left_open: tuple[Short, ...] = Field(default=(), max_length=200)


def left_open(
    watch: WatchState, persons: PersonsNow | None = None, home: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """Return what nobody has brought to an end, a sentence each; persons first.

    Parameters
    ----------
    watch : WatchState
        The watch's book.
    persons : PersonsNow, optional
        The account of everybody on board, where it is known.
    home : tuple of str
        What of the way home is not at its end, in words.
    """
    found: list[str] = []
    if persons is not None:
        counts = (
            (persons.in_hull, "in the hull"), (persons.in_vehicle, "in a rescue vehicle"),
            (persons.adrift, "adrift"), (persons.not_heard_of, "not heard of"),
        )  # fmt: skip
        found += [f"persons {where}: {count}" for count, where in counts if count]
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
    found += home
    found += [
        f"alarm not acknowledged: {each.words(watch.at)}"
        for each in watch.alarms
        if each.taken is None
    ]
    return tuple(found)
