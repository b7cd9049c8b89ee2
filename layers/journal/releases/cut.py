"""What a release leaves of the journal up to one place in its order."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from layers.earth.clock import EPOCH
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.known import Known, Shelf
from layers.journal.record import Record
from layers.journal.releases.rules import WITHHELD_WORD, Release, Rule, blanked, text_fields

LET_GO = "watch.let_go"
TOLD = "watch.told"


def rule_of(kinds: Mapping[str, Kind], name: str) -> Rule | None:
    """Return what a kind says of its release, None where it says nothing."""
    kind = kinds.get(name)
    return None if kind is None else kind.release


class Cut:
    """What a release sees up to one place in the order; a `rules.Let` for the rules."""

    def __init__(
        self, inner: Shelf, kinds: Mapping[str, Kind], release: Release, upto_seq: int
    ) -> None:
        self._inner, self._kinds, self.release, self._upto = inner, kinds, release, upto_seq
        self.whole = Known(inner, kinds, upto_seq, EPOCH, bare=True)
        self._records: dict[str, list[Record]] = {}
        self._opinions: list[Record] | None = None
        self._made: dict[str, Any] = {}
        self._lock = threading.RLock()

    def kept(self, key: str, make: Callable[[], Any]) -> Any:
        """Return what was worked out once for all records of this reading."""
        with self._lock:
            if key not in self._made:
                self._made[key] = make()
            return self._made[key]

    def hides(self, rule: Rule) -> Callable[[str], bool] | None:
        """Return the test of whose rows are hidden, None when none are."""
        if rule.hides is None or not self.release.guarded:
            return None
        made = rule.hides
        found: Callable[[str], bool] = self.kept(f"hides {rule.column}", lambda: made(self))
        return found

    def records(self, name: str) -> list[Record]:
        """Return the records of a kind as they are seen, in order."""
        with self._lock:
            if name not in self._records:
                self._records[name] = self._read(name)
            return self._records[name]

    def _read(self, name: str) -> list[Record]:
        if name in OPINION_NAMES:
            return [record for record in self.opinions() if record.kind == name]
        rule = rule_of(self._kinds, name)
        if rule is None or rule.gone(self.release):
            return []
        found = self._inner.read((name,), self._upto)
        seen = (self.one(record) for record in found)
        return self._sourceless([r for r in seen if r is not None], rule)

    def _sourceless(self, records: list[Record], rule: Rule) -> list[Record]:
        """Return records whose sources are told apart, and not named."""
        if not self.release.guarded or rule.keeps_source:
            return records
        number: dict[str, int] = {}
        for record in records:
            number.setdefault(record.source, len(number) + 1)
        return [replace(r, source=f"source {number[r.source]}") for r in records]

    def one(self, record: Record) -> Record | None:
        """Return a record as it is seen, corrections applied; None where it is not."""
        kind = self._kinds.get(record.kind)
        if kind is None:
            return None
        if record.kind in OPINION_NAMES:
            return next((each for each in self.opinions() if each.id == record.id), None)
        rule = kind.release
        if rule is None or rule.gone(self.release):
            return None
        if not self.release.guarded and (rule.names is None or self.release.names):
            return record
        payload = self._payload(kind, record)
        # a row of a bulk kind is read as first written, and corrected where columns are judged
        for opinion in () if kind.columns else self._said_of(record.id, "journal.correct"):
            payload = {**payload, **opinion.payload["fields"]}
            if opinion.payload.get("source"):
                record = replace(record, source=opinion.payload["source"])
        seen = self._seen(kind, rule, record, payload)
        if seen is None:
            return None
        author = "" if self.release.guarded else record.author
        return replace(record, payload=seen, version=kind.version, author=author)

    def _payload(self, kind: Kind, record: Record) -> dict[str, Any]:
        if record.version < kind.version and kind.upgrade is not None:
            return dict(kind.upgrade(record.version, record.payload))
        return dict(record.payload)

    def _said_of(self, id_: str, kind: str) -> list[Record]:
        with self._lock:
            return [o for o in self.whole.opinions().get(id_, ()) if o.kind == kind]

    def _seen(
        self, kind: Kind, rule: Rule, record: Record, payload: Mapping[str, Any]
    ) -> Mapping[str, Any] | None:
        """Return what is seen of a payload, None where the record is not there."""
        found: Mapping[str, Any] | None = payload
        if rule.names is not None and not self.release.names:
            found = rule.names(payload, self, record)
        if found is None or not self.release.guarded:
            return found
        if rule.target and not self._target_is_seen(str(payload.get("target", ""))):
            return None
        if record.kind == TOLD and payload.get("audience") != self.release.audience:
            return None
        hides = self.hides(rule)
        if hides is not None and hides(str(payload.get(rule.column, ""))):
            return None
        if not rule.whole:
            shows = rule.shows
            if self.let_go(record):  # its words go, no figure that the rule does not name
                shows = (*(shows or kind.model.model_fields), *text_fields(kind.model))
            found = blanked(kind.model, found, shows)
        return rule.change(found, self, record) if rule.change is not None else found

    def _target_is_seen(self, id_: str) -> bool:
        held = self._inner.read_ids((id_,), self._upto)
        return bool(held) and self.one(held[0]) is not None

    def let_go(self, record: Record) -> bool:
        """Whether the watch has let a record's words go: it, or all of its kind up to then."""

        def gathered() -> tuple[frozenset[str], dict[str, int]]:
            held = self.whole.entries(LET_GO) if LET_GO in self._kinds else ()
            entries = [e for e in held if not e.disputed]
            kinds: dict[str, int] = {}
            for entry in entries:
                for name in entry.value.kinds:
                    kinds[name] = max(kinds.get(name, 0), entry.record.seq)
            return frozenset(e.value.target for e in entries if e.value.target), kinds

        targets, kinds = self.kept(LET_GO, gathered)
        return record.id in targets or record.seq < kinds.get(record.kind, 0)

    def opinions(self) -> list[Record]:
        """Return the standing opinions of what is seen, in order, with what they may say."""
        with self._lock:
            if self._opinions is None:
                self._opinions = self._read_opinions()
            return self._opinions

    def _read_opinions(self) -> list[Record]:
        standing = self.whole.opinions()
        targets = {r.id: r for r in self._inner.read_ids(standing, self._upto)}
        found: list[Record] = []
        for id_, said in standing.items():
            target = targets.get(id_)
            kind = None if target is None else self._kinds.get(target.kind)
            if target is None or kind is None or kind.release is None:
                continue
            if target.kind not in OPINION_NAMES:
                found += self._told(kind, kind.release, target, said)
        return sorted(found, key=lambda record: record.seq)

    def _told(self, kind: Kind, rule: Rule, target: Record, said: list[Record]) -> list[Record]:
        """Return what may be said of one record: of corrections those that change what is seen."""
        if rule.gone(self.release):
            return []
        if not self.release.guarded and (rule.names is None or self.release.names):
            return said
        payload: Mapping[str, Any] = self._payload(kind, target)
        seen = self._seen(kind, rule, target, payload)
        if kind.columns:
            return self._told_of_row(kind, rule, target, said, seen)
        if self.one(target) is None:
            return []
        found = []
        for opinion in said:
            fields = opinion.payload.get("fields")
            if fields is not None:
                payload = {**payload, **fields}
                before, seen = seen, self._seen(kind, rule, target, payload)
                if before == seen and not _times_of(opinion):
                    continue
            # what it changes stands in the record as it is seen
            found.append(self._bare(opinion, {} if fields is not None else None))
        return found

    def _told_of_row(
        self, kind: Kind, rule: Rule, target: Record, said: list[Record], seen: Any
    ) -> list[Record]:
        """Return what may be said of a row: its columns are read as first written."""
        if seen is None:
            return []
        found = []
        for opinion in said:
            fields = opinion.payload.get("fields")
            if fields is None:
                found.append(self._bare(opinion, None))
            elif self._seen(kind, rule, target, {**target.payload, **fields}) is None:
                # it turns out to be another's, whose rows are hidden: out with it
                told = {"target": target.id, "reason": WITHHELD_WORD}
                found.append(replace(opinion, kind="journal.retract", payload=told, author=""))
            else:
                may = {k: v for k, v in fields.items() if rule.whole or k in (rule.shows or ())}
                if may or _times_of(opinion):
                    found.append(self._bare(opinion, may))
        return found

    def _bare(self, opinion: Record, fields: Mapping[str, Any] | None) -> Record:
        if not self.release.guarded:
            told = dict(opinion.payload)
        else:
            told = {**opinion.payload, "reason": WITHHELD_WORD}
            told.pop("source", None)
        if fields is not None:
            told["fields"] = dict(fields)
        blank = "" if self.release.guarded else None
        return replace(
            opinion,
            payload=told,
            author=opinion.author if blank is None else blank,
            source=opinion.source if blank is None else blank,
        )


def _times_of(opinion: Record) -> bool:
    """Whether a correction gives its record another time."""
    return bool(opinion.payload.get("valid_at") or opinion.payload.get("heard_at"))
