"""A release as a way of reading: the shelf that stands between what is known and the store.

`Known` reads through a shelf and through nothing else, so what this one leaves out was never
known to any layer, mark, table or export that is computed from it. Two journals that differ only
in what it leaves out read the same here, record for record and row for row.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.earth.clock import EPOCH
from layers.earth.tells import Tells
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.known import Known, Shelf
from layers.journal.record import Record
from layers.journal.releases.rules import WITHHELD_WORD, Release, Rule, blanked, text_fields
from layers.journal.tables.stretch import Asked

Array = npt.NDArray[Any]
LET_GO = "watch.let_go"
TOLD = "watch.told"
ALWAYS_LOOKED_AT = (LET_GO, "watch.place_told")
MOST_CUTS = 24  # places in the order of which what was read is kept


def read_as(shelf: Shelf, kinds: Mapping[str, Kind], release: Release) -> Shelf:
    """Return the shelf as a release reads it: itself for the watch."""
    return shelf if release.whole else ReleaseShelf(shelf, kinds, release)


class ReleaseShelf:
    """The records of another shelf as a release sees them.

    Parameters
    ----------
    inner : Shelf
        Where all the records are.
    kinds : mapping of str to Kind
        The catalogue's kinds by name; each carries its rule.
    release : Release
        Who reads.
    """

    def __init__(self, inner: Shelf, kinds: Mapping[str, Kind], release: Release) -> None:
        self._inner, self._kinds, self.release = inner, kinds, release
        self._cuts: OrderedDict[int, _Cut] = OrderedDict()
        self._lock = threading.Lock()

    def gone(self, kind: str) -> bool:
        """Whether no record of a kind is seen here, whatever there is of it."""
        rule = _rule(self._kinds, kind)
        return rule is None or rule.gone(self.release)

    def digest(self, kinds: Iterable[str]) -> str:
        """Return the key of how these kinds are read, empty where that is as the watch does."""
        if not self.release.guarded and all(self._passes(kind) for kind in kinds):
            return ""
        return self.release.cuts

    def _passes(self, kind: str) -> bool:
        """Whether a kind is read as the watch reads it."""
        rule = _rule(self._kinds, kind)
        if rule is None or self.release.guarded:
            return False
        return rule.names is None or self.release.names

    def _cut(self, upto_seq: int) -> _Cut:
        with self._lock:
            if upto_seq not in self._cuts:
                self._cuts[upto_seq] = _Cut(self._inner, self._kinds, self.release, upto_seq)
                while len(self._cuts) > MOST_CUTS:
                    self._cuts.popitem(last=False)
            self._cuts.move_to_end(upto_seq)
            return self._cuts[upto_seq]

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        names = dict.fromkeys(kinds)
        cut = self._cut(upto_seq)
        found = [record for name in names for record in cut.records(name)]
        return found if len(names) < 2 else sorted(found, key=lambda record: record.seq)

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        return self._rows(kind, upto_seq, self._inner.read_columns(kind, upto_seq))

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        found = self._inner.read_latest(kind, upto_seq, last_us, having, without)
        return self._rows(kind, upto_seq, found)

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
        found = self._inner.read_stretches(kind, upto_seq, asked, most, without)
        return self._rows(kind, upto_seq, found)

    def _rows(self, kind: Kind, upto_seq: int, found: dict[str, Array]) -> dict[str, Array]:
        if self._passes(kind.name):
            return found
        if self.gone(kind.name):
            return {name: values[:0] for name, values in found.items()}
        rule = _rule(self._kinds, kind.name)
        assert rule is not None
        hides = self._cut(upto_seq).hides(rule)
        if hides is not None:
            keep = np.array([not hides(str(v)) for v in found[rule.column].tolist()], dtype=bool)
            found = {name: values[keep] for name, values in found.items()}
        if self.release.guarded:
            emptied = [] if rule.keeps_source else ["source"]
            emptied += [c.name for c in kind.columns if not rule.whole and c.name not in
                        (rule.shows or ()) and c.sql == "TEXT"]  # fmt: skip
            for name in emptied:
                found[name] = np.full(len(found[name]), "", dtype=object)
        return found

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        cut = self._cut(upto_seq)
        seen = (cut.one(record) for record in self._inner.read_ids(ids, upto_seq))
        return [record for record in seen if record is not None]

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time; 0 where some are hidden."""
        rule = _rule(self._kinds, kind.name)
        hidden = self.gone(kind.name) or (self.release.guarded and rule and rule.hides)
        return 0 if hidden else self._inner.count_heard(kind, after_us, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds that is seen, 0 if there is none.

        Of a bulk kind whose rows are hidden by subject all rows count: no layer's moment follows
        from it, and a result worked out once more than needed is the same result.
        """
        names = set(self._kinds if kinds is None else kinds)
        for name in tuple(names - OPINION_NAMES):
            rule = _rule(self._kinds, name)
            if rule is not None and not rule.gone(self.release) and not self._passes(name):
                names.update((*rule.looks, *ALWAYS_LOOKED_AT))
        cut = self._cut(upto_seq)
        plain: list[str] = []
        looked: list[str] = []
        for name in names:
            if name in OPINION_NAMES or self.gone(name):
                continue
            rule = _rule(self._kinds, name)
            (looked if rule and rule.change and self.release.guarded else plain).append(name)
        last = self._inner.last_seq(plain, upto_seq) if plain else 0
        seen = [record.seq for name in looked for record in cut.records(name)]
        if names & OPINION_NAMES:
            seen += [record.seq for record in cut.opinions() if record.kind in names]
        return max(seen, default=0) if not last else max(last, *seen, 0)

    def last_told(self, upto_seq: int) -> int:
        """Return the last seq of a typed record that is seen: what may move the time shown."""
        return self.last_seq([k for k, kind in self._kinds.items() if not kind.columns], upto_seq)

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        return self._inner.seq_at(as_of)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        return self._inner.recorded_at(seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256; who asks has read its record here."""
        return self._inner.blob(digest)


def _rule(kinds: Mapping[str, Kind], name: str) -> Rule | None:
    kind = kinds.get(name)
    return None if kind is None else kind.release


class _Cut:
    """What a release sees up to one place in the order; a `rules.Let` for the rules."""

    def __init__(
        self, inner: Shelf, kinds: Mapping[str, Kind], release: Release, upto_seq: int
    ) -> None:
        self._inner, self._kinds, self.release, self._upto = inner, kinds, release, upto_seq
        self.whole = Known(inner, kinds, upto_seq, EPOCH)
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
        rule = _rule(self._kinds, name)
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


def is_withheld(known: Known, kind: str) -> bool:
    """Whether a release that reads here sees nothing of a kind, whatever there is of it."""
    reading = known.reading
    return reading is not None and reading.gone(kind)


def withholds(known: Known, what: Tells) -> bool:
    """Whether what tells this is withheld from who reads here."""
    reading = known.reading
    return reading is not None and reading.release.withholds(what)
