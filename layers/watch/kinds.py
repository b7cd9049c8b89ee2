"""The watch's own kinds of record, and what makes the journal refuse one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from layers.earth.errors import RecordRefused
from layers.journal.kinds import Kind
from layers.journal.known import Entry, Known
from layers.journal.record import Draft
from layers.watch import model

# A plan may lie ahead of the clock: a stage declared for a set hour, a task that begins tomorrow.
PLANNED_S = 30 * 86_400.0


def _entry(known: Known, kind: str, target: str) -> Entry | None:
    return next((entry for entry in known.entries(kind) if entry.id == target), None)


def _needs(*kinds: str) -> Callable[[Any, Draft, Known], None]:
    """Return a check that the target is a standing record of one of these kinds."""

    def refuse(value: Any, draft: Draft, known: Known) -> None:
        if not any(_entry(known, kind, value.target) for kind in kinds):
            titles = " or ".join(known.kinds[kind].title for kind in kinds)
            raise RecordRefused(
                f"there is no such {titles} any more",
                where=f"{draft.source}, target",
                accepted=f"a {titles} that stands in this journal",
            )

    return refuse


def refuse_takeover(value: model.Takeover, draft: Draft, known: Known) -> None:
    """Refuse a second signature that is missing its first, or is by the same hand."""
    _needs("watch.handover")(value, draft, known)
    handover = _entry(known, "watch.handover", value.target)
    assert handover is not None
    if value.taken_by.casefold() == handover.value.given_by.casefold():
        raise RecordRefused(
            f"{value.taken_by} gave this watch over and cannot also take it",
            where=f"{draft.source}, taken_by",
            accepted="the name of the one who takes the watch",
        )


def refuse_tick(value: model.Tick, draft: Draft, known: Known) -> None:
    """Refuse a tick of an item that its checklist does not have."""
    _needs("watch.checklist")(value, draft, known)
    checklist = _entry(known, "watch.checklist", value.target)
    assert checklist is not None
    count = len(checklist.value.items)
    if value.item > count:
        raise RecordRefused(
            f"item {value.item} of {checklist.value.name!r}",
            where=f"{draft.source}, item",
            accepted=f"1 to {count}",
        )


def refuse_stage(value: model.Stage, draft: Draft, known: Known) -> None:
    """Refuse a next stage without its time, or a time that is already past."""
    if (value.next_due is None) != (value.next_stage is None):
        raise RecordRefused(
            "a next stage and the time it is due go together",
            where=f"{draft.source}, next_due",
            accepted="both, or neither",
        )
    if value.next_due is not None and value.next_due <= draft.valid_at:
        raise RecordRefused(
            "the next stage would be due before this one is declared",
            where=f"{draft.source}, next_due",
            accepted="a time after this stage's own",
        )


KINDS: tuple[Kind, ...] = (
    Kind(name="watch.note", title="note", model=model.Note),
    Kind(name="watch.stage", title="stage of alert", model=model.Stage, refuse=refuse_stage),
    Kind(name="watch.decision", title="decision", model=model.Decision),
    Kind(name="watch.assumption", title="assumption", model=model.Assumption),
    Kind(name="watch.question", title="question", model=model.Question),
    Kind(
        name="watch.settled",
        title="settlement",
        model=model.Settled,
        refuse=_needs("watch.assumption", "watch.question"),
    ),
    Kind(name="watch.task", title="task", model=model.Task, future_s=PLANNED_S),
    Kind(
        name="watch.task_report",
        title="report on a task",
        model=model.TaskReport,
        refuse=_needs("watch.task"),
    ),
    Kind(name="watch.listening", title="listening time", model=model.Listening),
    Kind(
        name="watch.listening_kept",
        title="outcome of a listening time",
        model=model.ListeningKept,
        refuse=_needs("watch.listening"),
    ),
    Kind(name="watch.acknowledged", title="acknowledgement", model=model.Acknowledgement),
    Kind(name="watch.handover", title="handover", model=model.Handover),
    Kind(name="watch.takeover", title="takeover", model=model.Takeover, refuse=refuse_takeover),
    Kind(name="watch.alarm_rule", title="alarm rule", model=model.AlarmRule),
    Kind(name="watch.alarm", title="alarm", model=model.Alarm),
    Kind(
        name="watch.alarm_ended",
        title="end of an alarm",
        model=model.AlarmEnded,
        refuse=_needs("watch.alarm"),
    ),
    Kind(
        name="watch.alarm_taken",
        title="acknowledgement of an alarm",
        model=model.AlarmTaken,
        refuse=_needs("watch.alarm"),
    ),
    Kind(name="watch.altered_taken", title="note of an alteration", model=model.AlteredTaken),
    Kind(name="watch.checklist", title="checklist", model=model.Checklist),
    Kind(name="watch.tick", title="tick", model=model.Tick, refuse=refuse_tick),
    Kind(name="watch.marking", title="marking line", model=model.Marking),
    Kind(name="watch.withholding", title="what an audience may see", model=model.Withholding),
    Kind(name="watch.export", title="export", model=model.Export),
    Kind(name="watch.in_charge", title="who is in charge", model=model.InCharge),
    Kind(name="watch.circuit", title="circuit or telephone", model=model.Circuit),
    Kind(name="watch.promised", title="message to the boat", model=model.Promised),
    Kind(name="watch.help_asked", title="help asked for", model=model.HelpAsked),
    Kind(
        name="watch.help_answered",
        title="answer to a request for help",
        model=model.HelpAnswered,
        refuse=_needs("watch.help_asked"),
    ),
    Kind(name="watch.told_outside", title="told outside", model=model.ToldOutside),
    Kind(name="watch.clock", title="exercise clock", model=model.ExerciseClock),
    Kind(name="watch.place_told", title="block told of her place", model=model.PlaceTold),
    Kind(name="watch.told", title="answer told to outsiders", model=model.Told),
    Kind(name="watch.let_go", title="words let go", model=model.LetGo),
)
