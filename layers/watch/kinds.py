"""The watch's own kinds of record, and what makes the journal refuse one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from layers.earth.clock import dtg, parse_time
from layers.earth.errors import AskedFirst, RecordRefused
from layers.journal.kinds import Kind
from layers.journal.known import Entry, Known
from layers.journal.record import Draft
from layers.journal.side_by_side import (
    by_others,
    same_event,
    signed_words,
    the_same,
    twice_is_harmless,
)
from layers.journal.words.stations import called
from layers.watch import closing, model, withheld
from layers.watch.alarms import told_of
from layers.watch.result import FINISHED

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


def _one(name: str, other: str) -> bool:
    """Whether two names are one, however they were spaced and spelt in capitals."""
    return name.casefold().split() == other.casefold().split()


def refuse_takeover(value: model.Takeover, draft: Draft, known: Known) -> None:
    """Refuse a second signature that is missing its first, or is by the same hand."""
    _needs("watch.handover")(value, draft, known)
    handover = _entry(known, "watch.handover", value.target)
    assert handover is not None
    taker, given_to = value.taken_by.strip(), handover.value.given_to.strip()
    if _one(taker, handover.value.given_by):
        raise RecordRefused(
            f"{value.taken_by} gave this watch over and cannot also take it",
            where=f"{draft.source}, taken_by",
            accepted="the name of the one who takes the watch",
        )
    signed = [
        entry
        for entry in known.entries("watch.takeover")
        if entry.value.target == value.target and entry.id not in value.over
    ]
    if signed:
        last = signed[-1]
        raise RecordRefused(
            f"{last.value.taken_by} has signed this handover already, "
            f"{signed_words(last.record, known.as_of)}",
            where=f"{draft.source}, taken_by",
            accepted="another handover; or first the retraction of that signature",
        )
    if not _one(taker, given_to) and not _one(value.in_place_of, given_to):
        raise RecordRefused(
            f"this watch was given to {given_to}, not to {taker}",
            where=f"{draft.source}, taken_by",
            accepted=f"{given_to}; or in place of: {given_to}, when it is meant so",
        )


def ask_decision(value: model.Decision, draft: Draft, known: Known, author: str) -> None:
    """Ask when another hand has decided lately, and this one says nothing of it.

    Raises
    ------
    AskedFirst
        With what was decided, by whom.
    """
    named = {value.replaces, *value.over}
    gone = {
        one for e in known.entries("watch.decision") for one in (e.value.replaces, *e.value.over)
    }
    for entry in by_others(known.entries("watch.decision"), draft, known, author):
        if entry.id in named or entry.id in gone:
            continue
        raise AskedFirst(
            f"{signed_words(entry.record, known.as_of)}, decided: {entry.value.what}",
            (entry.id,),
            accepted="record it all the same when both stand beside each other; or say which it "
            "replaces",
        )


def ask_another_word(kind: str) -> Callable[[Any, Draft, Known, str], None]:
    """Return a question for who gives another word on what is answered already."""

    def ask(value: Any, draft: Draft, known: Known, author: str) -> None:
        for entry in reversed(known.entries(kind)):
            other = entry.value
            if other.target != value.target or entry.id in (*draft.answered, *value.over):
                continue
            if (other.outcome, other.said) == (value.outcome, value.said):
                continue
            raise AskedFirst(
                f"{signed_words(entry.record, known.as_of)}, said: {other.outcome}"
                f"{f', {other.said}' if other.said else ''}",
                (entry.id,),
                accepted="record it all the same: both then stand until somebody settles which",
            )

    return ask


def ask_task_report(value: model.TaskReport, draft: Draft, known: Known, author: str) -> None:
    """Ask before a task that was told to be at its end goes on, or ends in another way.

    Raises
    ------
    AskedFirst
        With who has told its end.
    """
    told = [e for e in known.entries("watch.task_report") if e.value.target == value.target]
    last = max(told, key=lambda e: (e.record.valid_at, e.record.seq), default=None)
    if (
        last is not None
        and last.value.state in FINISHED
        and last.value.state != value.state
        and last.id not in draft.answered
    ):
        raise AskedFirst(
            f"{signed_words(last.record, known.as_of)}, told: {last.value.state}, "
            f"{last.value.said}",
            (last.id,),
            accepted="leave it when that holds; record it all the same when yours is to hold",
        )
    same_event(draft, known, author)


def ask_listening(value: model.Listening, draft: Draft, known: Known, author: str) -> None:
    """Ask before a listening time is agreed a second time, by the same hand too.

    Raises
    ------
    AskedFirst
        With who has told it.
    """
    for entry in known.entries("watch.listening"):
        same = (entry.value.at, entry.value.with_whom.casefold()) == (
            value.at, value.with_whom.casefold(),
        )  # fmt: skip
        if same and entry.id not in draft.answered:
            raise the_same(f"listening time {dtg(value.at)}", entry.record, known)
    same_event(draft, known, author)


def ask_alert(value: model.Stage, draft: Draft, known: Known, author: str) -> None:
    """Ask before an alert that is ended is ended again, or begins anew at a later stage.

    Raises
    ------
    AskedFirst
        With when it was ended.
    """
    entries = [e for e in known.entries("watch.stage") if e.record.valid_at <= draft.valid_at]
    last = max(entries, key=lambda e: (e.record.valid_at, e.record.seq), default=None)
    ended = last is not None and last.value.stage == "ended"
    if last is not None and ended and last.id not in draft.answered:
        said = "is ended already" if value.stage == "ended" else "is ended; this begins another"
        raise AskedFirst(
            f"the alert {said}: ended {signed_words(last.record, known.as_of)}",
            (last.id,),
            accepted="record it all the same when it is meant so",
        )
    if last is None and value.stage == "ended" and "none" not in draft.answered:
        raise AskedFirst(
            "no alert runs that could be ended", ("none",), accepted="first a stage of alert"
        )
    same_event(draft, known, author)


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


def tick_words(payload: Mapping[str, Any], known: Known) -> str:
    """Return which item of which checklist was done, in the checklist's own words."""
    number, by = payload.get("item"), payload.get("by", "")
    checklist = _entry(known, "watch.checklist", str(payload.get("target")))
    if checklist is None or not isinstance(number, int):
        return ""
    items = checklist.value.items
    what = items[number - 1] if 0 < number <= len(items) else "an item that is no longer on it"
    found = "done" if payload.get("done", True) else "found not done"
    parts = [f"{found} by {by}" if by else found, str(payload.get("said") or "")]
    said = "; ".join(part for part in parts if part)
    return f"{checklist.value.name}, item {number}: {what}; {said}"


def alarm_words(payload: Mapping[str, Any], known: Known) -> str:
    """Return what an alarm says and the clock time it is about, as on every page."""
    when = payload.get("when")
    at = f", {dtg(parse_time(str(when)))}" if when else ""
    about = str(payload.get("about") or "")
    return told_of(about, called(known, about), str(payload.get("said") or "")) + at


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
    Kind(
        name="watch.stage",
        title="stage of alert",
        model=model.Stage,
        refuse=refuse_stage,
        ask=ask_alert,
    ),
    Kind(name="watch.decision", title="decision", model=model.Decision, ask=ask_decision),
    Kind(name="watch.assumption", title="assumption", model=model.Assumption),
    Kind(name="watch.question", title="question", model=model.Question),
    Kind(
        name="watch.settled",
        title="settlement",
        model=model.PointSettled,
        refuse=_needs("watch.assumption", "watch.question"),
        ask=ask_another_word("watch.settled"),
    ),
    Kind(name="watch.task", title="task", model=model.Task, future_s=PLANNED_S),
    Kind(
        name="watch.task_report",
        title="report on a task",
        model=model.TaskReport,
        refuse=_needs("watch.task"),
        ask=ask_task_report,
    ),
    Kind(name="watch.listening", title="listening time", model=model.Listening, ask=ask_listening),
    Kind(
        name="watch.listening_kept",
        title="outcome of a listening time",
        model=model.ListeningKept,
        refuse=_needs("watch.listening"),
        ask=ask_another_word("watch.listening_kept"),
    ),
    Kind(
        name="watch.acknowledged",
        own_word="person",
        title="acknowledgement",
        model=model.Acknowledgement,
        ask=twice_is_harmless,
    ),
    Kind(name="watch.handover", title="handover", model=model.Handover),
    Kind(
        name="watch.takeover",
        title="takeover",
        model=model.Takeover,
        own_word="person",
        refuse=refuse_takeover,
    ),
    Kind(name="watch.alarm_rule", title="alarm rule", model=model.AlarmRule),
    Kind(name="watch.alarm", title="alarm", model=model.Alarm, says=alarm_words),
    Kind(
        name="watch.alarm_ended",
        title="end of an alarm",
        model=model.AlarmEnded,
        refuse=_needs("watch.alarm"),
    ),
    Kind(
        name="watch.alarm_taken",
        own_word="person",
        title="acknowledgement of an alarm",
        model=model.AlarmTaken,
        refuse=_needs("watch.alarm"),
        ask=twice_is_harmless,
    ),
    Kind(
        name="watch.closed",
        own_word="person",
        title="end of the incident",
        model=closing.Closed,
        ask=twice_is_harmless,
    ),
    Kind(
        name="watch.altered_taken",
        title="note of an alteration",
        model=model.AlteredTaken,
        own_word="person",
    ),
    Kind(name="watch.checklist", title="checklist", model=model.Checklist),
    Kind(
        name="watch.tick",
        title="tick",
        model=model.Tick,
        refuse=refuse_tick,
        ask=twice_is_harmless,
        says=tick_words,
    ),
    Kind(name="watch.marking", title="marking line", model=model.Marking),
    Kind(
        name="watch.withholding",
        title="what an audience may see",
        model=model.Withholding,
        own_word="room",
    ),
    Kind(name="watch.export", title="export", model=model.Export, ask=twice_is_harmless),
    Kind(
        name="watch.look",
        title="who looked through which release",
        model=withheld.Look,
        own_word="person",
        ask=twice_is_harmless,
    ),
    Kind(
        name="watch.on_watch", title="who is on watch", model=model.OnWatch, ask=twice_is_harmless
    ),
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
    Kind(
        name="watch.clock",
        own_word="person",
        title="exercise clock",
        model=model.ExerciseClock,
        ask=twice_is_harmless,
    ),
    Kind(
        name="watch.place_told",
        title="block told of her place",
        model=model.PlaceTold,
        own_word="room",
    ),
    Kind(name="watch.told", title="answer told to outsiders", model=model.Told, own_word="room"),
    Kind(name="watch.let_go", title="words let go", model=model.LetGo, own_word="room"),
)
