"""Where the watch stands: stage and clocks, what is due, what is overdue, what is open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from layers.contract import Moment, View
from layers.journal.known import Entry, Known
from layers.journal.words.stations import called
from layers.watch import model
from layers.watch.desk import Desk, desk
from layers.watch.result import (
    FINISHED,
    AlarmState,
    ChecklistState,
    DecisionState,
    Event,
    HandoverState,
    ListeningState,
    OpenPoint,
    StageClock,
    TaskState,
    WatchState,
)
from layers.watch.withheld import told_answers


def standing(known: Known, kind: str, moment: Moment) -> list[Entry]:
    """Return the entries of a kind that hold at the moment shown."""
    return [entry for entry in known.entries(kind) if entry.record.valid_at <= moment.at]


DUE = (  # kinds whose hours rest when the alert is ended
    "watch.task", "watch.task_report", "watch.listening", "watch.question", "watch.assumption",
    "watch.promised", "watch.help_asked", "watch.stage",
)  # fmt: skip


def state(known: Known, moment: Moment) -> WatchState:
    """Return where the watch stands at a moment.

    Parameters
    ----------
    known : Known
        The records that count.
    moment : Moment
        The two times; what is overdue is judged at ``moment.at``. Of a time ahead nobody knows
        what will have been reported by then: what comes due until it *falls due*, and there is no
        alarm of now.
    """
    judged = min(moment.at, moment.as_of)
    tasks = tuple(_tasks(known, moment))
    listening = tuple(_listening(known, moment))
    assumptions = _open(known, moment, "watch.assumption", "holds_until")
    questions = _open(known, moment, "watch.question", "wanted_by")
    declared = standing(known, "watch.stage", moment)
    stages, next_stage = _stages(declared, moment.at, judged)
    held = desk(known, moment)
    events = [
        *next_stage,
        *_task_events(tasks, judged),
        *([] if _ended_at(declared) else _listening_events(listening)),
        *_point_events(questions, "answer", judged),
        *_point_events(assumptions, "assumption ends", judged),
        *_desk_events(held, judged),
    ]
    closed = next(reversed(standing(known, "watch.closed", moment)), None)
    ended = closed.record.valid_at if closed is not None else _ended_at(declared)
    if ended is not None:  # what stood open is listed; only what came since is due
        fresh = {e.id for kind in DUE for e in standing(known, kind, moment)
                 if e.record.valid_at > ended}  # fmt: skip
        events = [event for event in events if event.record_id in fresh]
    marking = standing(known, "watch.marking", moment)
    decisions = _decisions(standing(known, "watch.decision", moment))
    return WatchState(
        at=moment.at,
        stage=stages[-1].stage if stages else "",
        stages=stages,
        events=tuple(
            replace(event, judged=judged)
            for event in sorted(events, key=lambda e: (not e.overdue, e.at, e.who))
        ),
        tasks=tasks,
        listening=listening,
        assumptions=assumptions,
        questions=questions,
        decisions=decisions,
        handovers=_handovers(known, moment),
        alarms=() if moment.view is View.EXPECTED else _alarms(known, moment),
        checklists=tuple(_checklists(known, moment)),
        marking=marking[-1].value.line if marking else "",
        ended_at=_ended_at(declared),
        closed=closed,
        desk=held,
        told=told_answers(known, moment),
        rests_on=tuple(
            dict.fromkeys(
                [
                    *(s.record_id for s in stages),
                    *(event.record_id for event in events),
                    *(d.entry.id for d in decisions),
                ]
            )
        ),
    )


def _ended_at(entries: list[Entry]) -> datetime | None:
    """Return when the alert was ended, None when it was not, or another has begun since."""
    last = max(entries, key=lambda e: (e.record.valid_at, e.record.seq), default=None)
    return last.record.valid_at if last is not None and last.value.stage == "ended" else None


def _stages(
    entries: list[Entry], at: datetime, judged: datetime
) -> tuple[tuple[StageClock, ...], list[Event]]:
    """Return the stages since the alert began, and the next one when it is due."""
    running: dict[str, Entry] = {}
    last: Entry | None = None
    for entry in sorted(entries, key=lambda e: (e.record.valid_at, e.record.seq)):
        last = entry
        if entry.value.stage == "ended":
            running = {}
        else:
            running.setdefault(entry.value.stage, entry)
    clocks = tuple(
        StageClock(
            stage=name,
            declared_at=entry.record.valid_at,
            since=at - entry.record.valid_at,
            record_id=entry.id,
        )
        for name, entry in running.items()
    )
    if not running or last is None or last.value.next_due is None:
        return clocks, []
    value: model.Stage = last.value
    assert value.next_due is not None
    return clocks, [
        Event(
            at=value.next_due,
            sort="stage",
            who=str(value.next_stage),
            what="declared if nothing is heard",
            overdue=value.next_due < judged,
            record_id=last.id,
        )
    ]


def _by_target(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    grouped: dict[str, list[Entry]] = {}
    for entry in entries:
        grouped.setdefault(entry.value.target, []).append(entry)
    return grouped


def _tasks(known: Known, moment: Moment) -> Iterable[TaskState]:
    reports = _by_target(standing(known, "watch.task_report", moment))
    # A task may be set ahead: it is shown from when it was recorded.
    for entry in known.entries("watch.task"):
        told = sorted(reports.get(entry.id, []), key=lambda e: (e.record.valid_at, e.record.seq))
        last = told[-1] if told else None
        due = last.value.next_report_due if last else entry.value.next_report_due
        doing = last.value.state if last else "set"
        wanted = [d for d in (due, entry.value.due) if d is not None]
        yield TaskState(
            task=entry,
            state=doing,
            last_said=last.value.said if last else "",
            last_heard_at=last.record.heard_at if last else None,
            next_report_due=due,
            overdue=doing not in FINISHED and any(d < min(moment.at, moment.as_of) for d in wanted),
        )


def _task_events(tasks: Iterable[TaskState], at: datetime) -> Iterable[Event]:
    for state_ in tasks:
        if state_.state in FINISHED:
            continue
        value: model.Task = state_.task.value
        for sort, due in (("report", state_.next_report_due), ("task due", value.due)):
            if due is not None:
                yield Event(
                    at=due,
                    sort=sort,
                    who=value.who,
                    what=value.what,
                    overdue=due < at,
                    record_id=state_.task.id,
                )


def _listening(known: Known, moment: Moment) -> Iterable[ListeningState]:
    outcomes = _by_target(standing(known, "watch.listening_kept", moment))
    for entry in standing(known, "watch.listening", moment):
        told = outcomes.get(entry.id)
        if told:
            words = _that_stand(told)
            doubt = len(words) > 1
            yield ListeningState(
                agreed=entry,
                outcome="two say otherwise" if doubt else words[-1].value.outcome,
                said="" if doubt else words[-1].value.said,
                disputed=tuple(words) if doubt else (),
            )
        else:
            judged = min(moment.at, moment.as_of)
            over = entry.value.at + timedelta(minutes=entry.value.minutes) < judged
            begun = "now" if entry.value.at <= judged else "to come"
            yield ListeningState(agreed=entry, outcome="not said" if over else begun, said="")


def _listening_events(listening: Iterable[ListeningState]) -> Iterable[Event]:
    for state_ in listening:
        if state_.outcome in ("kept", "missed", "two say otherwise"):
            continue
        value: model.Listening = state_.agreed.value
        yield Event(
            at=value.at,
            sort="listening time",
            who=value.with_whom,
            what=value.means,
            overdue=state_.outcome == "not said",
            record_id=state_.agreed.id,
        )


def _open(known: Known, moment: Moment, kind: str, until: str) -> tuple[OpenPoint, ...]:
    settled = _by_target(standing(known, "watch.settled", moment))
    points = []
    for entry in standing(known, kind, moment):
        answers = _that_stand(settled.get(entry.id, []))
        if len(answers) == 1:
            continue
        end: datetime | None = getattr(entry.value, until)
        points.append(
            OpenPoint(
                entry=entry,
                since=moment.at - entry.record.valid_at,
                until=end,
                past=end is not None and end < min(moment.at, moment.as_of),
                answers=tuple(answers),
            )
        )
    return tuple(points)


def _point_events(points: Iterable[OpenPoint], sort: str, at: datetime) -> Iterable[Event]:
    for point in points:
        if point.until is not None:
            yield Event(
                at=point.until,
                sort=sort,
                who=getattr(point.entry.value, "asked_of", "the watch"),
                what=point.entry.value.what,
                overdue=point.until < at,
                record_id=point.entry.id,
            )


def _desk_events(held: Desk, at: datetime) -> Iterable[Event]:
    """Return what the boat was promised and what help can still be had, by their hours."""
    if held.promised:  # what she must be told next is said by the last message to her
        last = held.promised[-1]
        value: model.Promised = last.value
        for due, sort, what in (
            (value.expects_at, "the boat expects", value.expects or "as she was told"),
            (value.tell_by, "tell the boat", value.tell_next or "the next message"),
        ):
            if due is not None:
                yield Event(at=due, sort=sort, who="the boat", what=what, overdue=due < at,
                            record_id=last.id)  # fmt: skip
    for each in held.asked:
        until = each.asked.value.helps_until
        if until is not None and each.open:
            yield Event(at=until, sort="helps until", who=each.asked.value.asked_of,
                        what=each.asked.value.what, overdue=until < at,
                        record_id=each.asked.id)  # fmt: skip


def _decisions(entries: list[Entry]) -> tuple[DecisionState, ...]:
    replaced = {
        old: e.id for e in entries for old in (e.value.replaces, *e.value.over) if old is not None
    }

    def beside(one: Entry) -> tuple[Entry, ...]:
        if one.value.replaces is None or one.id in replaced:
            return ()
        return tuple(
            e
            for e in entries
            if e is not one and e.value.replaces == one.value.replaces and e.id not in replaced
        )

    return tuple(
        DecisionState(entry=e, replaced_by=replaced.get(e.id), beside=beside(e)) for e in entries
    )


def _that_stand(told: list[Entry]) -> list[Entry]:
    """Return the words on one thing that stand: settled ones out, the same said twice once."""
    over = {one for entry in told for one in entry.value.over}
    left = {
        (entry.value.outcome, entry.value.said): entry for entry in told if entry.id not in over
    }
    return list(left.values())


def _handovers(known: Known, moment: Moment) -> tuple[HandoverState, ...]:
    taken = _by_target(standing(known, "watch.takeover", moment))
    return tuple(
        HandoverState(given=entry, taken=taken.get(entry.id, [None])[0])
        for entry in standing(known, "watch.handover", moment)
    )


def _alarms(known: Known, moment: Moment) -> tuple[AlarmState, ...]:
    taken = _by_target(standing(known, "watch.alarm_taken", moment))
    ended = _by_target(standing(known, "watch.alarm_ended", moment))
    return tuple(
        AlarmState(
            alarm=entry,
            taken=taken.get(entry.id, [None])[-1],
            ended=ended.get(entry.id, [None])[-1],
            called=called(known, entry.value.about),
        )
        for entry in standing(known, "watch.alarm", moment)
    )


def _checklists(known: Known, moment: Moment) -> Iterable[ChecklistState]:
    ticks = _by_target(standing(known, "watch.tick", moment))
    for entry in standing(known, "watch.checklist", moment):
        last: dict[int, Entry] = {}
        before: dict[int, Entry] = {}
        for tick in ticks.get(entry.id, []):
            item, held = tick.value.item, last.get(tick.value.item)
            if held is not None and held.value.done != tick.value.done:
                before[item] = held
            last[item] = tick
        numbers = range(1, len(entry.value.items) + 1)
        yield ChecklistState(
            checklist=entry,
            ticks=tuple(map(last.get, numbers)),
            before=tuple(map(before.get, numbers)),
        )
