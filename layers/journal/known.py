"""What was known: the records up to a place in the journal's order, opinions folded in."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from pydantic import ValidationError

from layers.earth.arrays import Array
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.listed import ListShelf, columns_of
from layers.journal.record import Record
from layers.journal.releases.rules import ReleaseReading
from layers.journal.tables.stretch import ALWAYS_US, Asked, joined, latest_in, reaching
from layers.journal.words.apart import Alike, NamesApart, told_apart_in
from layers.journal.words.models import refused

__all__ = ["Entry", "Known", "ListShelf", "Shelf", "check_payload"]


class Shelf(Protocol):
    """Where records are read from: the store, or a list in memory."""

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        ...

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        ...

    def read_latest(
        self,
        kind: Kind,
        upto_seq: int,
        last_us: int,
        having: str = "",
        without: Collection[int] = (),
    ) -> dict[str, Array]:
        """Return the last row of each value of ``kind.by``, in order of the value."""
        ...

    def read_stretches(
        self, kind: Kind, upto_seq: int, asked: Asked, most: int, without: Collection[int] = ()
    ) -> dict[str, Array]:
        """Return, of each value asked for, the rows of its stretch and the one before, by seq."""
        ...

    def read_ids(self, ids: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records with these ids and ``seq <= upto_seq``, in order."""
        ...

    def count_heard(self, kind: Kind, after_us: int, upto_seq: int) -> int:
        """Return how many rows of a bulk kind were heard after a time."""
        ...

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        ...

    def seq_at(self, as_of: datetime) -> int:
        """Return the last seq recorded by ``as_of``, 0 before the first."""
        ...

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        ...

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        ...

    def alike(self, upto_seq: int) -> Alike:
        """Return the names that look like others, recorded with ``seq <= upto_seq``."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A record that stands, with what is thought of it.

    ``value`` is the kind's model, corrections applied. ``opinions`` are the records that
    corrected, disputed, graded or adopted it, in order.
    """

    record: Record
    value: Any
    corrected: bool = False
    disputed: bool = False
    adopted: bool = False
    reliability: str | None = None
    credibility: int | None = None
    opinions: tuple[Record, ...] = ()

    @property
    def id(self) -> str:
        """The id of the record."""
        return self.record.id


class Known:
    """What was known at a place in the journal's order; a pure view, read as needed.

    Parameters
    ----------
    shelf : Shelf
        Where the records are.
    kinds : mapping of str to Kind
        The catalogue's kinds by name.
    upto_seq : int
        The last record that counts.
    as_of : datetime
        The time this cut stands for, UTC.
    bare : bool
        Names stand as they are recorded; else those that look alike are told apart.

    Attributes
    ----------
    reading : ReleaseReading or None
        How a release reads, None for the watch.
    """

    def __init__(
        self, shelf: Shelf, kinds: Mapping[str, Kind], upto_seq: int, as_of: datetime, *,
        bare: bool = False,
    ) -> None:  # fmt: skip
        self._shelf, self._bare = shelf, bare
        self.reading = shelf if isinstance(shelf, ReleaseReading) else None
        self.kinds = kinds
        self.upto_seq = upto_seq
        self.as_of = as_of
        self._entries: dict[str, tuple[Entry, ...]] = {}
        self._opinions: dict[str, list[Record]] | None = None
        self._judged_records: list[Record] | None = None
        self._left_out: frozenset[str] = frozenset()
        self.whole: Known = self  # what is known with nothing left out

    @cached_property
    def apart(self) -> NamesApart:
        """How names are written that look like others."""
        bare = Known(self._shelf, self.kinds, self.upto_seq, self.as_of, bare=True)
        return told_apart_in({} if self._bare else self._shelf.alike(self.upto_seq), bare)

    def told_apart(self, records: Iterable[Record]) -> list[Record]:
        """Return records as they are read here: names that look alike are told apart."""
        return [self.apart.record(one, self.kinds.get(one.kind)) for one in records]

    def without(self, record_id: str) -> Known:
        """Return what would be known had one record not been made; bulk columns keep it."""
        found = Known(self._shelf, self.kinds, self.upto_seq, self.as_of, bare=self._bare)
        found._left_out = self._left_out | {record_id}
        found.whole = self.whole
        return found

    def entries(self, kind: str) -> tuple[Entry, ...]:
        """Return the standing records of a kind in order of seq, retracted ones left out."""
        if kind not in self._entries:
            records = self._shelf.read((kind,), self.upto_seq)
            self._entries[kind] = tuple(
                entry
                for record in records
                if record.id not in self._left_out and (entry := self._entry(record)) is not None
            )
        return self._entries[kind]

    def records(self, *kinds: str) -> list[Record]:
        """Return the bare records of these kinds in order, opinions not applied."""
        return self.told_apart(self._shelf.read(kinds, self.upto_seq))

    def columns(self, kind: str) -> dict[str, Array]:
        """Return a bulk kind as arrays in order of seq.

        Keys are ``seq``, ``id``, ``source``, ``valid_at_us``, ``heard_at_us`` and the kind's
        columns; REAL columns are NaN where missing. Retracted rows are left out, corrected
        fields replaced.
        """
        known_kind = self.kinds[kind]
        columns = self._shelf.read_columns(known_kind, self.upto_seq)
        touched = self.opinions()
        if touched and any(id_ in touched for id_ in columns["id"].tolist()):
            columns = self._judged(known_kind, {name: v.copy() for name, v in columns.items()})
        return self.apart.columns(columns)

    def latest(
        self, kind: str, until: datetime | None = None, *, having: str = ""
    ) -> dict[str, Array]:
        """Return the last row of each ship, station or other owner (`Kind.by`) of a bulk kind.

        Last by valid time, then by seq; in order of the value of ``kind.by``. The cost is that
        of the number of values, whatever the length of the journal.

        Parameters
        ----------
        kind : str
            A kind with ``by``.
        until : datetime, optional
            Rows valid later are left out.
        having : str
            Only rows in which this column, a text or a REAL, is not missing.
        """
        known_kind = self.kinds[kind]
        last_us = ALWAYS_US if until is None else to_us(until)
        seqs, touched = self._touched(known_kind)
        found = self._shelf.read_latest(known_kind, self.upto_seq, last_us, having, seqs)
        if len(touched["seq"]):
            found = latest_in(joined(found, touched), known_kind.by, last_us, having)
        return self.apart.columns(found)

    def stretches(self, kind: str, asked: Asked, most: int = ALWAYS_US) -> dict[str, Array]:
        """Return stretches of time of a bulk kind as arrays in order of seq, opinions applied.

        Parameters
        ----------
        kind : str
            A kind with ``by``.
        asked : mapping of str to (int, int)
            By value of ``kind.by``: first and last valid time, UTC microseconds. The one row
            before the first comes too, so that a gap there is seen.
        most : int
            Of more rows than this in a stretch only the last come, and none before.
        """
        known_kind = self.kinds[kind]
        asked = {self.apart.recorded(of): stretch for of, stretch in asked.items()}
        seqs, touched = self._touched(known_kind)
        found = self._shelf.read_stretches(known_kind, self.upto_seq, asked, most, seqs)
        if len(touched["seq"]):
            found = joined(found, reaching(touched, found, known_kind.by, asked, most))
        return self.apart.columns(found)

    def count_heard(self, kind: str, after: datetime) -> int:
        """Return how many standing rows of a bulk kind were heard after a time."""
        known_kind = self.kinds[kind]
        counted = self._shelf.count_heard(known_kind, to_us(after), self.upto_seq)
        seqs, touched = self._touched(known_kind)
        gone = set(seqs) - set(touched["seq"].tolist())
        heard = [r.heard_at for r in self._targets() if r.seq in gone]
        return counted - sum(at > after for at in heard)

    def with_ids(self, ids: Iterable[str]) -> dict[str, Record]:
        """Return the bare records with these ids, by id."""
        return {r.id: r for r in self.told_apart(self._shelf.read_ids(ids, self.upto_seq))}

    def numbers_of(self, ids: Iterable[str]) -> dict[str, int]:
        """Return the numbers that the log has for the records with these ids."""
        return {id_: record.seq for id_, record in self.with_ids(ids).items()}

    def _targets(self) -> list[Record]:
        """Return the records that there is an opinion of, in order."""
        if self._judged_records is None:
            self._judged_records = self._shelf.read_ids(self.opinions(), self.upto_seq)
        return self._judged_records

    def _touched(self, kind: Kind) -> tuple[list[int], dict[str, Array]]:
        """Return the rows of a kind that there is an opinion of: their seqs, and what stands."""
        records = [record for record in self._targets() if record.kind == kind.name]
        return [r.seq for r in records], self._judged(kind, columns_of(kind, records))

    def _judged(self, kind: Kind, columns: dict[str, Array]) -> dict[str, Array]:
        """Apply the opinions to columns of one's own: corrected fields in, retracted rows out."""
        touched = self.opinions()
        ids = columns["id"].tolist()
        keep = np.ones(len(ids), dtype=bool)
        names = {column.name for column in kind.columns}
        for row, id_ in enumerate(ids):
            for opinion in touched.get(id_, ()):
                if opinion.kind == "journal.retract":
                    keep[row] = False
                elif opinion.kind == "journal.correct":
                    _correct_times(columns, row, opinion.payload)
                    for name in names & opinion.payload["fields"].keys():
                        columns[name][row] = _cell(columns[name], opinion.payload["fields"][name])
        return {name: values[keep] for name, values in columns.items()}

    def last_seq(self, kinds: Iterable[str]) -> int:
        """Return the last seq among these kinds and the opinions, 0 if there is none."""
        return self._shelf.last_seq((*kinds, *OPINION_NAMES), self.upto_seq)

    def as_known_at(self, at: datetime, at_least_seq: int) -> Known:
        """Return what was known at an earlier time, a stated record counted in any case."""
        seq = max(at_least_seq, min(self.upto_seq, self._shelf.seq_at(at)))
        return Known(self._shelf, self.kinds, seq, at, bare=self._bare)

    def recorded_at(self, seq: int) -> datetime | None:
        """Return when a record was recorded, None when there is none of that number."""
        return self._shelf.recorded_at(seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        return self._shelf.blob(digest)

    def opinions(self) -> dict[str, list[Record]]:
        """Return the standing opinions by the id of the record they are about."""
        if self._opinions is None:
            held = self.records(*sorted(OPINION_NAMES))
            # A retraction may itself be retracted; the last word about it counts.
            retracted: set[str] = set()
            for record in reversed(held):
                if record.kind == "journal.retract" and record.id not in retracted:
                    retracted.add(record.payload["target"])
            self._opinions = {}
            for record in held:
                if record.id not in retracted:
                    self._opinions.setdefault(record.payload["target"], []).append(record)
        return self._opinions

    def _entry(self, record: Record) -> Entry | None:
        kind = self.kinds[record.kind]
        payload: Mapping[str, Any] = record.payload
        if record.version < kind.version and kind.upgrade is not None:
            payload = kind.upgrade(record.version, payload)
        held = tuple(self.opinions().get(record.id, ()))
        corrected = disputed = adopted = False
        reliability: str | None = None
        credibility: int | None = None
        for opinion in held:
            said = opinion.payload
            if opinion.kind == "journal.retract":
                return None
            if opinion.kind == "journal.correct":
                payload = {**payload, **said["fields"]}
                record = _at_corrected_times(record, said)
                corrected = True
            elif opinion.kind == "journal.dispute":
                disputed = not said.get("settled", False)
            elif opinion.kind == "journal.adopt":
                adopted = said.get("adopted", True)
            elif opinion.kind == "journal.grade":
                reliability, credibility = said["reliability"], said["credibility"]
        return Entry(
            record=self.apart.record(record, kind),
            value=self.apart.value(kind.model.model_validate_json(_json(payload))),
            corrected=corrected,
            disputed=disputed,
            adopted=adopted,
            reliability=reliability,
            credibility=credibility,
            opinions=held,
        )


def check_payload(kind: Kind, payload: Mapping[str, Any], where: str) -> Any:
    """Return the payload as the kind's model, or refuse it with a sentence.

    Raises
    ------
    InputError
        NamesSaid the field, what came and what the model accepts.
    """
    try:
        return kind.model.model_validate_json(_json(payload))
    except ValidationError as failure:
        raise refused(failure, where) from None
    except ValueError as failure:  # NaN and infinity have no JSON
        raise InputError(str(failure)[:300], where=where, accepted="finite numbers") from None


def _cell(column: Array, value: Any) -> Any:
    """Return a corrected value as its column keeps it, also when it now reads: not known."""
    if value is not None:
        return value
    return np.nan if column.dtype == np.float64 else -1 if column.dtype == np.int64 else ""


def _json(payload: Mapping[str, Any]) -> str:
    from layers.journal.record import canonical

    return canonical(payload)


def _at_corrected_times(record: Record, said: Mapping[str, Any]) -> Record:
    """Return the record with the times and the source that a correction gives it."""
    times: dict[str, Any] = {
        name: datetime.fromisoformat(said[name])
        for name in ("valid_at", "heard_at")
        if said.get(name) is not None
    }
    source = said.get("source") or record.source
    if not times and source == record.source:
        return record
    return replace(record, source=source, **times)


def _correct_times(columns: dict[str, Array], row: int, said: Mapping[str, Any]) -> None:
    """Put a correction's times and source into a row of columns."""
    for name in ("valid_at", "heard_at"):
        if said.get(name) is not None:
            columns[f"{name}_us"][row] = to_us(datetime.fromisoformat(said[name]))
    if said.get("source"):
        columns["source"][row] = said["source"]
