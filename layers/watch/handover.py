"""What the next watch must know: everything that changed since a chosen time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from layers.contract import Moment, Shown, Unavailable
from layers.earth.chart.marks import AnyMark, Freshness
from layers.earth.clock import day_hhmm
from layers.journal.holds import holding, opinion_words
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Known
from layers.journal.record import Record
from layers.watch.result import DecisionState, Event, OpenPoint, TaskState
from layers.watch.state import state

Layers = Mapping[str, Shown | Unavailable]
LONGEST = 240  # letters of a record in a list
MOST_STALE = 4  # named of one layer
LONG_AFTER_S = 1800.0  # a report written down later than this is marked so


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedNews:
    """How many records of one kind came in, and the last of them in words.

    ``last_words`` is what holds of it now, ``struck`` what no longer does, ``by`` which record
    says so.
    """

    kind: str
    title: str
    count: int
    last: Record | None
    last_words: str
    struck: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A record that somebody corrected, retracted, disputed, graded or adopted."""

    opinion: Record
    sort: str
    target: Record | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A layer whose sentence is another than it was."""

    layer: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """Everything between two times, for the handover.

    ``heard_late`` are records that were heard long before they were written down.
    ``next_to_turn`` is what turns invalid or is due next if nothing arrives.
    """

    since: datetime
    until: datetime
    learnt: tuple[CountedNews, ...]
    decided: tuple[DecisionState, ...]
    changed: tuple[Changed, ...]
    moved: tuple[Moved, ...]
    went_stale: tuple[str, ...]
    heard_late: tuple[Record, ...]
    next_to_turn: tuple[Event, ...]
    overdue: tuple[Event, ...]
    assumptions: tuple[OpenPoint, ...]
    questions: tuple[OpenPoint, ...]
    tasks: tuple[TaskState, ...]


def since(
    known: Known,
    since_at: datetime,
    moment: Moment,
    *,
    before: Layers | None = None,
    after: Layers | None = None,
) -> Since:
    """Return what changed between ``since_at`` and ``moment``.

    Parameters
    ----------
    known : Known
        The records that count, up to ``moment.as_of``.
    since_at : datetime
        The time chosen, UTC; what was recorded after it counts.
    moment : Moment
        The two times of the picture that is handed over.
    before, after : mapping, optional
        The layers of the pictures as known at ``since_at`` and now; without them nothing is
        said of what moved or went stale.
    """
    watch = state(known, moment)
    bulk = [kind for kind in known.kinds.values() if kind.columns]
    typed = [
        name for name, kind in known.kinds.items() if not kind.columns and name not in OPINION_NAMES
    ]
    news = [r for r in known.records(*typed) if r.recorded_at > since_at]
    return Since(
        since=since_at,
        until=moment.as_of,
        learnt=(*_learnt(known, news), *_counted(known, [k.name for k in bulk], since_at)),
        decided=tuple(d for d in watch.decisions if d.entry.record.recorded_at > since_at),
        changed=tuple(_changed(known, since_at)),
        moved=tuple(_moved(before or {}, after or {})),
        went_stale=tuple(_went_stale(before or {}, after or {})),
        heard_late=tuple(
            r for r in news if (r.recorded_at - r.heard_at).total_seconds() > LONG_AFTER_S
        ),
        next_to_turn=watch.ahead,
        overdue=watch.overdue,
        assumptions=watch.assumptions,
        questions=watch.questions,
        tasks=watch.tasks,
    )


def _learnt(known: Known, news: Iterable[Record]) -> list[CountedNews]:
    grouped: dict[str, list[Record]] = {}
    for record in news:
        grouped.setdefault(record.kind, []).append(record)
    return [_last(known, kind, records) for kind, records in grouped.items()]


def _last(known: Known, kind: str, records: list[Record]) -> CountedNews:
    held = holding(known, records[-1])
    now = held.now_words(LONGEST)
    return CountedNews(
        kind=kind,
        title=known.kinds[kind].title,
        count=len(records),
        last=records[-1],
        last_words=f"{now}, {day_hhmm(held.valid_at)} from {held.source}" if now else "",
        struck=held.struck_words(LONGEST),
        by=held.by_words(),
    )


def _counted(known: Known, bulk: Iterable[str], since_at: datetime) -> list[CountedNews]:
    """Return the bulk kinds by count: what was heard after the time, none of it read."""
    found = []
    for kind in bulk:
        count = known.count_heard(kind, since_at)
        if count:
            title = known.kinds[kind].title
            found.append(CountedNews(kind=kind, title=title, count=count, last=None, last_words=""))
    return found


def _changed(known: Known, since_at: datetime) -> Iterable[Changed]:
    opinions = [r for r in known.records(*sorted(OPINION_NAMES)) if r.recorded_at > since_at]
    targets = known.with_ids({str(o.payload["target"]) for o in opinions})
    for opinion in opinions:
        target = targets.get(str(opinion.payload["target"]))
        sort = known.kinds[opinion.kind].title
        yield Changed(
            opinion=opinion,
            sort=sort,
            target=target,
            words=f"{sort} {opinion_words(known, opinion, LONGEST)} ({opinion.author})",
        )


def _sentence(shown: Shown | Unavailable | None) -> str:
    if shown is None:
        return ""
    return shown.sentence if isinstance(shown, Shown) else f"not available: {shown.reason}"


def _moved(before: Layers, after: Layers) -> Iterable[Moved]:
    for key, shown in after.items():
        was, now = _sentence(before.get(key)), _sentence(shown)
        if was and was != now:
            yield Moved(layer=key, before=was, after=now)


def _stale_marks(layers: Layers) -> dict[tuple[str, str], AnyMark]:
    return {
        (key, mark.key): mark
        for key, shown in layers.items()
        if isinstance(shown, Shown)
        for mark in shown.marks
        if mark.freshness is Freshness.STALE
    }


def _went_stale(before: Layers, after: Layers) -> Iterable[str]:
    """Yield what turned stale; of a layer with many of them the first, and how many more."""
    was = _stale_marks(before)
    gone: dict[str, list[str]] = {}
    for place, mark in _stale_marks(after).items():
        if place not in was:
            gone.setdefault(place[0], []).append(mark.label or mark.tooltip.splitlines()[0])
    for names in gone.values():
        yield from names[:MOST_STALE]
        if len(names) > MOST_STALE:
            yield f"and {len(names) - MOST_STALE} more like it"
