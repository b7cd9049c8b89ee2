"""The clock of an own exercise: how it goes on after a stop, and how the watch sets it.

An exercise may be left overnight. Whether its time ran on meanwhile is not for the program to
guess: resumed where it stood, the next morning's reports are reports from the future; resumed in
step, everything that was due in the night is late. So the clock waits where it stood (time can
be put forwards later, never back) and the watch is asked once, by a record that holds the
question; the answer is a record too, so that every page and process agrees.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from layers.earth.clock import dtg, duration_words
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role, may_write
from layers.journal.record import Draft, form_identity
from layers.journal.store import system_now

if TYPE_CHECKING:
    from layers.journal.known import Entry, Known
    from layers.journal.store import Journal

KIND = "watch.clock"
STOOD_MIN = 10.0  # a stop shorter than this is a restart: the clock goes on in step, unasked
PROGRAM = Actor(name="Musterplot", role=Role.FEED, via="start")


def resume(journal: Journal) -> str:
    """Let an own exercise's clock go on after the program was stopped.

    Returns
    -------
    str
        What is asked of the watch, in words; empty when nothing is.
    """
    if journal.now().year < 1980 and journal.revision() == 0:
        journal.set_clock(system_now())  # an older program began the exercise in 1970
    stood, in_step = journal.kept_clock(), journal.now()
    gap = in_step - stood
    if journal.revision() == 0 or gap <= timedelta(minutes=STOOD_MIN):
        return ""
    journal.set_clock(stood)
    _record(journal, PROGRAM, "stopped", stood_min=gap.total_seconds() / 60.0)
    return question_words(stood, gap)


def question_words(stood: datetime, gap: timedelta) -> str:
    """Return the question as it is asked, on the screen and where the program was started."""
    return (
        f"The exercise stood still at {dtg(stood)} for {duration_words(gap)}. "
        f"Go on in step with the clock ({dtg(stood + gap)}), or where it stood?"
    )


def asked(known: Known) -> Entry | None:
    """Return the question that the watch has not answered yet."""
    entries = known.entries(KIND)
    return entries[-1] if entries and entries[-1].value.how == "stopped" else None


def waits(journal: Journal) -> bool:
    """Return whether the question is open: until then no feed is taken in.

    What comes meanwhile would be refused as a report from the future, and would be lost.
    """
    if not journal.exercise:
        return False
    told = journal.read([KIND], journal.revision())
    return bool(told) and told[-1].payload["how"] == "stopped"


def go_on(journal: Journal, actor: Actor, question: Entry, *, in_step: bool) -> None:
    """Answer how the exercise goes on."""
    may_write(actor)
    if in_step:
        journal.set_clock(journal.now() + timedelta(minutes=question.value.stood_min or 0.0))
    _record(journal, actor, "in step" if in_step else "where it stood")


def put_clock(journal: Journal, actor: Actor, at: datetime, reason: str = "") -> None:
    """Make the exercise's clock show ``at``, and record it.

    Raises
    ------
    InputError
        It is no exercise, or the journal holds records of a later time: time never goes back.
    """
    may_write(actor)
    if not journal.exercise:
        raise InputError(
            "this journal is no exercise and goes by the clock of this computer",
            where="exercise clock",
        )
    journal.revision()
    last = journal.last_recorded_at()
    if last is not None and at < last:
        raise InputError(
            f"{dtg(at)} is before the last record, and a journal's time never goes back",
            where="exercise clock",
            accepted=f"{dtg(last + timedelta(minutes=1))} or later",
        )
    journal.set_clock(at)
    _record(journal, actor, "set", reason=reason)


def _record(
    journal: Journal, actor: Actor, how: str, *, stood_min: float | None = None, reason: str = ""
) -> None:
    now = journal.now()
    payload = {"how": how, "stood_min": stood_min, "reason": reason}
    draft = Draft(
        kind=KIND,
        payload=payload,
        valid_at=now,
        heard_at=now,
        source=actor.name,
        identity=form_identity(uuid.uuid4().hex),
    )
    journal.append(actor, [draft])
