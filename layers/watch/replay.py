"""The replay for an inquiry: each decision beside what was heard, recorded, shown, superseded.

What was *heard* by then and what was *recorded* by then differ: a report may have lain on the
desk. What was *shown* is the picture as known at that time, made anew from the records, and the
exports that were handed out. What was later *superseded* are the records that somebody has since
corrected, retracted or disputed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.contract import Moment
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Entry, Known
from layers.journal.record import Record
from layers.watch.state import standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Superseded:
    """A record that stood at the decision, and what was said of it afterwards."""

    record: Record
    opinion: Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """One decision beside what was known when it was taken.

    Parameters
    ----------
    decision : Entry
        The decision, at its own time ``taken_at``.
    heard_not_recorded : tuple of Record
        Heard in the room by then, written down only later: not in any picture of that time.
    recorded : tuple of Record
        Recorded by then, the last of each kind first; bulk kinds are left out.
    shown_as_of : Moment
        The moment of the picture that the screens showed.
    exports : tuple of Record
        What had been handed out by then.
    superseded : tuple of Superseded
        What stood then and was corrected, retracted or disputed since.
    replaced_by : Entry or None
        The decision that took its place.
    """

    decision: Entry
    taken_at: datetime
    heard_not_recorded: tuple[Record, ...]
    recorded: tuple[Record, ...]
    shown_as_of: Moment
    exports: tuple[Record, ...]
    superseded: tuple[Superseded, ...]
    replaced_by: Entry | None


def replay(known: Known, moment: Moment) -> tuple[Replayed, ...]:
    """Return every decision that stands, in the order in which they were taken.

    Parameters
    ----------
    known : Known
        All that is known by now: hindsight is what an inquiry has.
    moment : Moment
        Decisions taken after ``moment.at`` are left out.
    """
    typed = [name for name, kind in known.kinds.items() if not kind.columns]
    everything = known.records(*typed)
    by_id = {record.id: record for record in everything}
    opinions = [r for r in everything if r.kind in OPINION_NAMES]
    facts = [r for r in everything if r.kind not in OPINION_NAMES]
    decisions = standing(known, "watch.decision", moment)
    replaced = {e.value.replaces: e for e in decisions if e.value.replaces is not None}
    return tuple(
        Replayed(
            decision=entry,
            taken_at=(at := entry.record.valid_at),
            heard_not_recorded=tuple(
                r for r in facts if r.heard_at <= at < r.recorded_at and r.id != entry.id
            ),
            recorded=_last_of_each_kind(facts, at),
            shown_as_of=Moment(at, at),
            exports=tuple(r for r in facts if r.kind == "watch.export" and r.recorded_at <= at),
            superseded=tuple(_superseded(opinions, by_id, at)),
            replaced_by=replaced.get(entry.id),
        )
        for entry in sorted(decisions, key=lambda e: (e.record.valid_at, e.record.seq))
    )


def _last_of_each_kind(facts: list[Record], at: datetime) -> tuple[Record, ...]:
    last = {record.kind: record for record in facts if record.recorded_at <= at}
    return tuple(sorted(last.values(), key=lambda r: r.seq, reverse=True))


def _superseded(opinions: list[Record], by_id: dict[str, Record], at: datetime) -> list[Superseded]:
    found = []
    for opinion in opinions:
        if opinion.kind not in ("journal.correct", "journal.retract", "journal.dispute"):
            continue
        target = by_id.get(str(opinion.payload["target"]))
        if target is not None and target.recorded_at <= at < opinion.recorded_at:
            found.append(Superseded(record=target, opinion=opinion))
    return found
