"""What the watch's book adds up to: stages, tasks, decisions, alarms as they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from layers.earth.clock import clock_words, duration_words, relative_words
from layers.journal.known import Entry
from layers.journal.signature import read_signature
from layers.watch import model
from layers.watch.alarms import alarm_words, told_of
from layers.watch.desk import Desk

FINISHED = ("done", "broken off")


@dataclass(frozen=True, slots=True, kw_only=True)
class StageClock:
    """One stage of alert that was declared, and how long ago."""

    stage: str
    declared_at: datetime
    since: timedelta
    record_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that is due at a time: a report, a listening time, a stage, an answer.

    ``judged`` is the last moment of which anything is known: of a time ahead, now.
    """

    at: datetime
    sort: str
    who: str
    what: str
    overdue: bool
    record_id: str
    judged: datetime | None = None

    def words(self, moment: datetime) -> str:
        """Return it as it is said: ``report 0015Z, in 35 min: CAPE ARDIS, fit out``."""
        when = self.when_words(moment)
        return f"{self.sort} {clock_words(self.at, moment)}, {when}: {self.who}, {self.what}"

    def when_words(self, moment: datetime) -> str:
        """Return when that is, seen from a moment."""
        return due_words(self.at, moment, self.judged or moment, overdue=self.overdue)

    def presses(self, moment: datetime) -> bool:
        """Whether it is late now; what was late when a time ahead was asked for is no alarm."""
        return self.overdue and moment <= (self.judged or moment)


def due_words(due: datetime, moment: datetime, judged: datetime, *, overdue: bool) -> str:
    """Return when a thing is due, seen from a moment of which no more is known than at ``judged``.

    What is past is never said to fall due: it is overdue, or it fell due and its time is not over
    (a listening time of half an hour). What comes between now and a time ahead falls due.
    """
    ahead = moment > judged
    if overdue:
        return "overdue since then" if ahead else f"OVERDUE, {relative_words(due, moment)}"
    if due < judged:
        return "fell due" if ahead else f"fell due {relative_words(due, moment)}"
    return "falls due" if due < moment else relative_words(due, moment)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskState:
    """A task with its last report."""

    task: Entry
    state: str
    last_said: str
    last_heard_at: datetime | None
    next_report_due: datetime | None
    overdue: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ListeningState:
    """An agreed listening time and what became of it: kept, missed, to come, now, or not said.

    ``disputed``: the tellings of it that contradict each other and stand side by side.
    """

    agreed: Entry
    outcome: str
    said: str
    disputed: tuple[Entry, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPoint:
    """An assumption or a question that nobody has settled, or that has two answers.

    ``answers``: those that contradict each other, until a person says which holds.
    """

    entry: Entry
    since: timedelta
    until: datetime | None
    past: bool
    answers: tuple[Entry, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionState:
    """A decision, and the id of the one that replaced it.

    ``beside``: decisions of another hand that replace the same one, and are not settled.
    """

    entry: Entry
    replaced_by: str | None
    beside: tuple[Entry, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverState:
    """A handover and its second signature."""

    given: Entry
    taken: Entry | None

    @property
    def signed(self) -> bool:
        """Whether both watches have signed."""
        return self.taken is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmState:
    """An alarm, who took it, and when it ended; None for what has not happened.

    ``called`` is what people call what it is about, where that has another name.
    """

    alarm: Entry
    taken: Entry | None
    ended: Entry | None
    called: str = ""

    def words(self, now: datetime) -> str:
        """Return it as it stands now: counting, or ended and whether somebody took it."""
        value: model.Alarm = self.alarm.value
        said = told_of(value.about, self.called, value.said)
        if self.ended is None:
            return alarm_words(said, value.when, now)
        at = value.when if value.when is not None else self.ended.record.valid_at
        taken = "" if self.taken is not None else ", not acknowledged"
        return f"ended {clock_words(min(at, self.ended.record.valid_at), now)}{taken}: {said}"


def most_pressing(alarms: Sequence[AlarmState], now: datetime) -> list[AlarmState]:
    """Return alarms as they press, the newest first among equals.

    What is so now comes first (a margin too small, a ship stopped), then what comes, soonest
    first, then what was last heard a while ago; what has ended, last.
    """

    def press(state: AlarmState) -> tuple[bool, int, datetime]:
        when = state.alarm.value.when
        if when is None:
            return state.ended is not None, 0, now
        return state.ended is not None, 1 if when > now else 2, max(when, now)

    return sorted(reversed(alarms), key=press)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChecklistState:
    """A checklist with, per item, the standing tick or None.

    ``before`` holds the last that said otherwise, so that nobody's word goes without a trace.
    """

    checklist: Entry
    ticks: tuple[Entry | None, ...]
    before: tuple[Entry | None, ...]

    @property
    def left(self) -> int:
        """How many items are not done."""
        return sum(tick is None or not tick.value.done for tick in self.ticks)


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchState:
    """Everything the watch keeps an eye on, at one moment.

    ``events`` are all that is due, soonest first, overdue ones in front; ``ttfr_clock`` runs
    from SUBMISS, as the time to first rescue is counted.
    """

    at: datetime
    stage: str
    stages: tuple[StageClock, ...]
    events: tuple[Event, ...]
    tasks: tuple[TaskState, ...]
    listening: tuple[ListeningState, ...]
    assumptions: tuple[OpenPoint, ...]
    questions: tuple[OpenPoint, ...]
    decisions: tuple[DecisionState, ...]
    handovers: tuple[HandoverState, ...]
    alarms: tuple[AlarmState, ...]
    checklists: tuple[ChecklistState, ...]
    marking: str
    desk: Desk
    rests_on: tuple[str, ...]
    told: Mapping[str, Entry] = field(default_factory=dict)  # to who reads here, by answer
    closed: Entry | None = None  # the incident is closed: by whom, what stood open
    ended_at: datetime | None = None  # when the last alert was ended, None while one runs

    @property
    def overdue(self) -> tuple[Event, ...]:
        """What should have come and has not."""
        return tuple(event for event in self.events if event.overdue)

    @property
    def ahead(self) -> tuple[Event, ...]:
        """What comes next, soonest first."""
        return tuple(event for event in self.events if not event.overdue)

    def stage_words(self) -> str:
        """Return the stage with its clock: ``SUBSUNK +2 d 14 h``."""
        if self.closed is not None:
            record = self.closed.record
            by = read_signature(record.author).words()
            return f"incident closed {clock_words(record.valid_at, self.at)} by {by}"
        if not self.stages:
            ended = self.ended_at
            return "no alert" if ended is None else f"alert ended {clock_words(ended, self.at)}"
        last = self.stages[-1]
        return f"{last.stage} +{duration_words(last.since)}"
