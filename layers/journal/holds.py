"""What holds of a record now: as corrected, retracted or disputed, and by which record.

A record is never changed, so whoever lists records must say what became of each: what holds
now, what it replaced, and the number of the record that says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from layers.earth.clock import day_hhmm
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Known
from layers.journal.record import Record
from layers.journal.words.payloads import leading, payload_words
from layers.journal.words.stations import called

CORRECT, RETRACT, DISPUTE = "journal.correct", "journal.retract", "journal.dispute"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """A record as it holds now.

    Parameters
    ----------
    retracted, disputed : bool
        Whether somebody took it back, or doubts it.
    payload : mapping
        As corrected; of a retracted one as it was last.
    was : mapping
        The fields that were corrected, as they were first.
    valid_at, heard_at, source
        As corrected.
    by : tuple of int
        Numbers of the records that corrected, retracted or doubted it, in order.
    said : str
        What a list says of it where its own fields do not; empty where they do.
    about : str
        Which other record it is about: ``of No. 179 task NORTHERN LANTERN``.
    """

    record: Record
    payload: Mapping[str, Any]
    valid_at: datetime
    heard_at: datetime
    source: str
    retracted: bool = False
    disputed: bool = False
    was: Mapping[str, Any] = field(default_factory=dict)
    was_at: datetime | None = None  # the time it was first said to be true, where corrected
    by: tuple[int, ...] = ()
    said: str = ""
    about: str = ""

    def now_words(self, most: int | None = None, *, names: bool = False) -> str:
        """Return what holds, empty when it was retracted."""
        return "" if self.retracted else self._words(most, names)

    def struck_words(self, most: int | None = None, *, names: bool = False) -> str:
        """Return what no longer holds of it, to be struck through; empty when all holds."""
        if self.retracted:
            return self._words(most, names)
        parts = [payload_words(self.was, names=names, most=most, kind=self.record.kind)]
        if self.was_at is not None:
            parts.append(f"at {day_hhmm(self.was_at)}")
        return ", ".join(part for part in parts if part)

    def _words(self, most: int | None, names: bool) -> str:
        if not self.said and not self.about:
            return payload_words(self.payload, names=names, most=most, kind=self.record.kind)
        said = self.said or payload_words(self.payload, names=names, kind=self.record.kind)
        text = ": ".join(part for part in (self.about, said) if part)
        return text if most is None or len(text) <= most else f"{text[: most - 1]}…"

    def by_words(self) -> str:
        """Return what became of it and by which record: ``corrected by No. 14``."""
        if not self.by:
            return ""
        sort = "retracted" if self.retracted else "disputed" if self.disputed else "corrected"
        return f"{sort} by No. {', '.join(map(str, self.by))}"


def holding(known: Known, record: Record) -> Holding:
    """Return what holds of a record, by all that is known."""
    kind = known.kinds.get(record.kind)
    payload: Mapping[str, Any] = record.payload
    if kind is not None and record.version < kind.version and kind.upgrade is not None:
        payload = kind.upgrade(record.version, payload)
    first, by = payload, []
    was: dict[str, Any] = {}
    times = {"valid_at": record.valid_at, "heard_at": record.heard_at}
    source, retracted, disputed = record.source, False, False
    for opinion in known.opinions().get(record.id, ()):
        said = opinion.payload
        if opinion.kind == CORRECT:
            was |= {name: first.get(name) for name in said["fields"] if name not in was}
            payload = {**payload, **said["fields"]}
            for name in times:
                if said.get(name) is not None:
                    times[name] = datetime.fromisoformat(said[name])
            source = said.get("source") or source
        elif opinion.kind == RETRACT:
            retracted = True
        elif opinion.kind == DISPUTE:
            disputed = not said.get("settled", False)
        else:
            continue
        by.append(opinion.seq)
    moved = times["valid_at"] != record.valid_at
    own = kind.says(payload, known) if kind is not None and kind.says is not None else ""
    return Holding(
        record=record,
        payload=payload,
        source=called(known, source),
        retracted=retracted,
        disputed=disputed,
        was=was,
        was_at=record.valid_at if moved else None,
        by=tuple(by),
        said=own,
        about="" if own else _about(known, payload),
        **times,
    )


def _about(known: Known, payload: Mapping[str, Any]) -> str:
    """Return which record another is about, by its number and name; empty where it is of none."""
    id_ = payload.get("target")
    found = known.with_ids([id_]) if isinstance(id_, str) else {}
    if (target := next(iter(found.values()), None)) is None:
        return ""
    title = known.kinds[target.kind].title if target.kind in known.kinds else target.kind
    lead = payload_words(dict(islice(leading(target.payload, target.kind).items(), 1)),
                         labels=False, most=60)  # fmt: skip
    return f"of No. {target.seq} {title} {lead}".rstrip()


def opinion_words(known: Known, record: Record, most: int | None = None) -> str:
    """Return an opinion as a sentence: which record by number, what it now says, and why."""
    said = record.payload
    found = known.with_ids([str(said.get("target"))])
    target = next(iter(found.values()), None)
    if target is None:
        about = "a record that is not known here"
    else:
        title = known.kinds[target.kind].title if target.kind in known.kinds else target.kind
        about = f"No. {target.seq} {title}"
    parts = [f"of {about}"]
    if record.kind == CORRECT and target is not None:
        fields = {name: target.payload.get(name) for name in said["fields"]}
        now = payload_words(said["fields"], kind=target.kind)
        before = payload_words(fields, kind=target.kind, labels=False)
        if now:
            parts.append(f"now {now}" + (f" (was {before})" if before else ""))
        for name, words in (("valid_at", "true at"), ("heard_at", "heard at")):
            if said.get(name):
                parts.append(f"{words} {day_hhmm(datetime.fromisoformat(said[name]))}")
        if said.get("source"):
            parts.append(f"from {said['source']}")
    rest = {k: v for k, v in said.items() if k not in (
        "target", "fields", "reason", "valid_at", "heard_at", "source")}  # fmt: skip
    if rest:
        parts.append(payload_words(rest, kind=record.kind))
    text = f"{', '.join(part for part in parts if part)}: {said.get('reason', '')}".rstrip(": ")
    return text if most is None or len(text) <= most else f"{text[: most - 1]}…"


def listed(known: Known, record: Record, most: int | None = None, *, names: bool = False) -> str:
    """Return a record in one line as it holds now, for lists that cannot strike through."""
    if record.kind in OPINION_NAMES:
        return opinion_words(known, record, most)
    held = holding(known, record)
    now, struck, by = held.now_words(most, names=names), held.struck_words(most), held.by_words()
    if held.retracted:
        return f"{by}: {struck}"
    return f"{now} [{by}{f'; was {struck}' if struck else ''}]" if by else now
