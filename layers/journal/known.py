"""What was known: the records up to a place in the journal's order, opinions folded in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from pydantic import ValidationError

from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.kinds import OPINION_NAMES, Kind
from layers.journal.record import Record

Array = npt.NDArray[Any]


class Shelf(Protocol):
    """Where records are read from: the store, or a list in memory."""

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        ...

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        ...

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        ...

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
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
    """

    def __init__(
        self, shelf: Shelf, kinds: Mapping[str, Kind], upto_seq: int, as_of: datetime
    ) -> None:
        self._shelf = shelf
        self.kinds = kinds
        self.upto_seq = upto_seq
        self.as_of = as_of
        self._entries: dict[str, tuple[Entry, ...]] = {}
        self._opinions: dict[str, list[Record]] | None = None

    def entries(self, kind: str) -> tuple[Entry, ...]:
        """Return the standing records of a kind in order of seq, retracted ones left out."""
        if kind not in self._entries:
            records = self._shelf.read((kind,), self.upto_seq)
            self._entries[kind] = tuple(
                entry for record in records if (entry := self._entry(record)) is not None
            )
        return self._entries[kind]

    def records(self, *kinds: str) -> list[Record]:
        """Return the bare records of these kinds in order, opinions not applied."""
        return self._shelf.read(kinds, self.upto_seq)

    def columns(self, kind: str) -> dict[str, Array]:
        """Return a bulk kind as arrays in order of seq.

        Keys are ``seq``, ``id``, ``source``, ``valid_at_us``, ``heard_at_us`` and the kind's
        columns; REAL columns are NaN where missing. Retracted rows are left out, corrected
        fields replaced.
        """
        known_kind = self.kinds[kind]
        columns = self._shelf.read_columns(known_kind, self.upto_seq)
        touched = self.opinions()
        if not touched or not len(columns["seq"]):
            return columns
        ids = columns["id"]
        keep = np.ones(len(ids), dtype=bool)
        names = {column.name for column in known_kind.columns}
        rows = [row for row, id_ in enumerate(ids.tolist()) if id_ in touched]
        if not rows:
            return columns
        columns = {name: values.copy() for name, values in columns.items()}
        for row in rows:
            for opinion in touched[str(ids[row])]:
                if opinion.kind == "journal.retract":
                    keep[row] = False
                elif opinion.kind == "journal.correct":
                    for name in names & opinion.payload["fields"].keys():
                        columns[name][row] = opinion.payload["fields"][name]
        return {name: values[keep] for name, values in columns.items()}

    def last_seq(self, kinds: Iterable[str]) -> int:
        """Return the last seq among these kinds and the opinions, 0 if there is none."""
        return self._shelf.last_seq((*kinds, *OPINION_NAMES), self.upto_seq)

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        return self._shelf.blob(digest)

    def opinions(self) -> dict[str, list[Record]]:
        """Return the standing opinions by the id of the record they are about."""
        if self._opinions is None:
            held = self._shelf.read(sorted(OPINION_NAMES), self.upto_seq)
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
                corrected = True
            elif opinion.kind == "journal.dispute":
                disputed = not said.get("settled", False)
            elif opinion.kind == "journal.adopt":
                adopted = said.get("adopted", True)
            elif opinion.kind == "journal.grade":
                reliability, credibility = said["reliability"], said["credibility"]
        return Entry(
            record=record,
            value=kind.model.model_validate_json(_json(payload)),
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
        Names the field, what came and what the model accepts.
    """
    try:
        return kind.model.model_validate_json(_json(payload))
    except ValidationError as failure:
        first = failure.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "payload"
        raise InputError(
            f"{str(first.get('input'))[:80]!r}: {first['msg'][:300]}", where=f"{where}, {place}"
        ) from None
    except ValueError as failure:  # NaN and infinity have no JSON
        raise InputError(str(failure)[:300], where=where, accepted="finite numbers") from None


def _json(payload: Mapping[str, Any]) -> str:
    from layers.journal.record import canonical

    return canonical(payload)


class ListShelf:
    """Records in memory: for tests, and for the exercise built in memory."""

    def __init__(
        self, records: Iterable[Record] = (), blobs: Mapping[str, bytes] | None = None
    ) -> None:
        self.records = sorted(records, key=lambda record: record.seq)
        self.blobs = dict(blobs or {})

    def read(self, kinds: Iterable[str], upto_seq: int) -> list[Record]:
        """Return the records of these kinds with ``seq <= upto_seq``, in order."""
        wanted = frozenset(kinds)
        return [r for r in self.records if r.kind in wanted and r.seq <= upto_seq]

    def read_columns(self, kind: Kind, upto_seq: int) -> dict[str, Array]:
        """Return the side table of a kind as arrays in order of seq."""
        records = self.read((kind.name,), upto_seq)
        columns: dict[str, Array] = {
            "seq": np.array([r.seq for r in records], dtype=np.int64),
            "id": np.array([r.id for r in records], dtype=object),
            "source": np.array([r.source for r in records], dtype=object),
            "valid_at_us": np.array([to_us(r.valid_at) for r in records], dtype=np.int64),
            "heard_at_us": np.array([to_us(r.heard_at) for r in records], dtype=np.int64),
        }
        for column in kind.columns:
            values = [r.payload.get(column.name) for r in records]
            columns[column.name] = column_array(values, column.sql)
        return columns

    def last_seq(self, kinds: Iterable[str] | None, upto_seq: int) -> int:
        """Return the last seq of these kinds (of any, for None), 0 if there is none."""
        wanted = None if kinds is None else frozenset(kinds)
        return max(
            (
                r.seq
                for r in self.records
                if r.seq <= upto_seq and (wanted is None or r.kind in wanted)
            ),
            default=0,
        )

    def blob(self, digest: str) -> bytes:
        """Return a stored file or grid by its SHA-256."""
        return self.blobs[digest]


def column_array(values: list[Any], sql: str) -> Array:
    """Return one side-table column as an array: REAL with NaN, INTEGER with -1 for missing."""
    if sql == "REAL":
        return np.array([np.nan if v is None else v for v in values], dtype=np.float64)
    if sql == "INTEGER":
        return np.array([-1 if v is None else v for v in values], dtype=np.int64)
    return np.array(["" if v is None else v for v in values], dtype=object)
