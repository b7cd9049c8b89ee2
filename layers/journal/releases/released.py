"""A release as a way of reading: the shelf that stands between what is known and the store.

`Known` reads through a shelf and through nothing else, so what this one leaves out was never
known to any layer, mark, table or export that is computed from it. Two journals that differ only
in what it leaves out read the same here, record for record and row for row.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

import numpy as np

from layers.earth.arrays import Array
from layers.earth.tells import Tells
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.known import Known, Shelf
from layers.journal.record import Record
from layers.journal.releases.cut import LET_GO, Cut, rule_of
from layers.journal.releases.rules import Release
from layers.journal.tables.stretch import Asked
from layers.journal.words.apart import Alike

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
        self._cuts: OrderedDict[int, Cut] = OrderedDict()
        self._lock = threading.Lock()

    def gone(self, kind: str) -> bool:
        """Whether no record of a kind is seen here, whatever there is of it."""
        rule = rule_of(self._kinds, kind)
        return rule is None or rule.gone(self.release)

    def digest(self, kinds: Iterable[str]) -> str:
        """Return the key of how these kinds are read, empty where that is as the watch does."""
        if not self.release.guarded and all(self._passes(kind) for kind in kinds):
            return ""
        return self.release.cuts

    def _passes(self, kind: str) -> bool:
        """Whether a kind is read as the watch reads it."""
        rule = rule_of(self._kinds, kind)
        if rule is None or self.release.guarded:
            return False
        return rule.names is None or self.release.names

    def _cut(self, upto_seq: int) -> Cut:
        with self._lock:
            if upto_seq not in self._cuts:
                self._cuts[upto_seq] = Cut(self._inner, self._kinds, self.release, upto_seq)
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
        rule = rule_of(self._kinds, kind.name)
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
        if self._hides_some(kind.name):
            return 0
        return self._inner.count_heard(kind, after_us, upto_seq)

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds that is seen, 0 if there is none.

        Of a bulk kind whose rows are hidden by subject all rows count: no layer's moment follows
        from it, and a result worked out once more than needed is the same result.
        """
        names = set(self._kinds if kinds is None else kinds)
        for name in tuple(names - OPINION_NAMES):
            rule = rule_of(self._kinds, name)
            if rule is not None and not rule.gone(self.release) and not self._passes(name):
                names.update((*rule.looks, *ALWAYS_LOOKED_AT))
        cut = self._cut(upto_seq)
        plain: list[str] = []
        looked: list[str] = []
        for name in names:
            if name in OPINION_NAMES or self.gone(name):
                continue
            rule = rule_of(self._kinds, name)
            (looked if rule and rule.change and self.release.guarded else plain).append(name)
        last = self._inner.last_seq(plain, upto_seq) if plain else 0
        seen = [record.seq for name in looked for record in cut.records(name)]
        if names & OPINION_NAMES:
            seen += [record.seq for record in cut.opinions() if record.kind in names]
        return max(seen, default=0) if not last else max(last, *seen, 0)

    def last_told(self, upto_seq: int) -> int:
        """Return the last seq of a typed record that is seen: what may move the time shown."""
        return self.last_seq([k for k, kind in self._kinds.items() if not kind.columns], upto_seq)

    def last_open(self, upto_seq: int) -> int:
        """Return the last seq of what is seen of every row: when such a one came is no secret."""
        names = [
            name for name, kind in self._kinds.items()
            if not (kind.columns and self._hides_some(name))
        ]  # fmt: skip
        return self.last_seq(names, upto_seq)

    def _hides_some(self, name: str) -> bool:
        rule = rule_of(self._kinds, name)
        return self.gone(name) or bool(self.release.guarded and rule and rule.hides)

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        return self._inner.seq_at(as_of)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        return self._inner.recorded_at(seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256; who asks has read its record here."""
        return self._inner.blob(digest)

    def alike(self, upto_seq: int) -> Alike:
        """Return names that look like others; which of them are read here the records tell."""
        return self._inner.alike(upto_seq)


def is_withheld(known: Known, kind: str) -> bool:
    """Whether a release that reads here sees nothing of a kind, whatever there is of it."""
    reading = known.reading
    return reading is not None and reading.gone(kind)


def withholds(known: Known, what: Tells) -> bool:
    """Whether what tells this is withheld from who reads here."""
    reading = known.reading
    return reading is not None and reading.release.withholds(what)
