"""A record: one fact, report, decision or correction; the unit of the journal."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from layers.earth.clock import to_us, utc


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What somebody wants recorded, before the journal has taken it.

    Parameters
    ----------
    kind : str
        Name of a kind in the catalogue.
    payload : mapping
        Plain JSON values, checked by the kind's model before it is taken.
    valid_at : datetime
        When it is true, UTC.
    heard_at : datetime
        When somebody in the room heard it, UTC; never after the append.
    source : str
        The feed, file or person it came from.
    identity : str
        Makes the same fact the same record. A line of a file: digest of the file and place in
        it. A line of a stream: source, receiver's time, raw bytes. A form: an id made when the
        form opened. See :func:`file_identity`, :func:`stream_identity`, :func:`form_identity`.
    version : int
        Schema version of the payload.
    answered : tuple of str
        Ids of records that may say the same or the contrary, and that the sender knows of; not
        recorded.
    """

    kind: str
    payload: Mapping[str, Any]
    valid_at: datetime
    heard_at: datetime
    source: str
    identity: str
    version: int = 1
    answered: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The record's id: 32 hex digits that depend on the identity alone."""
        return record_id(self.identity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A fact as the journal keeps it; never changed or deleted.

    ``seq`` is its place in the one order; ``recorded_at`` the journal's clock at the append,
    which never goes back.
    """

    seq: int
    id: str
    kind: str
    version: int
    valid_at: datetime
    heard_at: datetime
    recorded_at: datetime
    source: str
    author: str
    payload: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reject:
    """A line or file that could not be read; kept with its reason, never dropped."""

    source: str
    line: int | None
    text: str
    reason: str


def record_id(identity: str) -> str:
    """Return the id of a record for its identity."""
    return hashlib.sha256(identity.encode()).hexdigest()[:32]


def file_identity(digest: str, place: int | str) -> str:
    """Return the identity of a line of a file: the file's SHA-256 and the place in it."""
    return f"file:{digest}:{place}"


def stream_identity(source: str, received_us: int, raw: bytes) -> str:
    """Return the identity of a line of a stream: a moored ship repeats herself rightly."""
    return f"stream:{source}:{received_us}:{hashlib.sha256(raw).hexdigest()}"


def content_identity(kind: str, at: datetime, payload: Mapping[str, Any], nth: int = 0) -> str:
    """Return the identity of a fact that says itself who, when and what.

    The same fact from a shuffled, overlapping or re-encoded file is then the same record.
    ``nth`` tells apart what stands several times in one file and is meant so.
    """
    again = f":{nth}" if nth else ""
    said = hashlib.sha256(canonical(payload).encode("utf-8", "surrogatepass")).hexdigest()
    return f"fact:{kind}:{to_us(at)}:{said}{again}"


def form_identity(form_id: str) -> str:
    """Return the identity of what a form sent: sent twice, it is one record."""
    return f"form:{form_id}"


_quoted = json.encoder.encode_basestring
_often = lru_cache(maxsize=512)(_quoted)  # kind, source, author: the same for thousands of records
_encoder = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)
# JSONEncoder.encode builds CPython's C encoder anew at each call; one is enough, and halves the
# cost of a bulk record. Where there is none, encode does the same.
_make_encoder = getattr(json.encoder, "c_make_encoder", None)
_chunks = _make_encoder and _make_encoder(
    None, _encoder.default, _quoted, None, ":", ",", True, False, False
)


def canonical(payload: Mapping[str, Any]) -> str:
    """Return the one text that stands for a payload: sorted keys, no spaces, no NaN."""
    return "".join(_chunks(payload, 0)) if _chunks else _encoder.encode(payload)


def columns_bytes(columns: Sequence[Any]) -> bytes:
    """Return the bytes that are hashed of one row: every column, in a fixed order.

    ``columns`` are seq, id, kind, version, valid, heard and recorded time in microseconds,
    source, author, and the payload as its canonical text. The bytes are those of the list of
    them as JSON without spaces, written out by hand because a busy feed comes this way.
    """
    seq, id_, kind, version, valid_us, heard_us, recorded_us, source, author, text = columns
    return (
        f"[{seq},{_quoted(id_)},{_often(kind)},{version},{valid_us},{heard_us},{recorded_us},"
        f"{_often(source)},{_often(author)},{_quoted(text)}]"
    ).encode()


def record_bytes(record: Record, payload_text: str) -> bytes:
    """Return the bytes that are hashed: every column, in a fixed order, unambiguous."""
    return columns_bytes(
        (
            record.seq,
            record.id,
            record.kind,
            record.version,
            to_us(record.valid_at),
            to_us(record.heard_at),
            to_us(record.recorded_at),
            record.source,
            record.author,
            payload_text,
        )
    )


def as_record(draft: Draft, *, seq: int, recorded_at: datetime, author: str) -> Record:
    """Return the record that a draft becomes at its place in the order."""
    return Record(
        seq=seq,
        id=draft.id,
        kind=draft.kind,
        version=draft.version,
        valid_at=utc(draft.valid_at, "valid_at"),
        heard_at=utc(draft.heard_at, "heard_at"),
        recorded_at=recorded_at,
        source=draft.source,
        author=author,
        payload=draft.payload,
    )
