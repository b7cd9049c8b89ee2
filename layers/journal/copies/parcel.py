"""Records since a number as one small signed file, for a room without a link: by mail or stick.

A zip with ``parcel.json`` (which journal, from which number to which, the head, when and by whom),
``records.jsonl`` (each record byte for byte as it was hashed), the files they name, and an
Ed25519 signature (RFC 8032) over the SHA-256 of all that. Who takes it in has heard the sending
room's mark by another way: it is the hash of its public key.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from layers import ours
from layers.earth.errors import ARCHIVE_DAMAGED, InputError
from layers.earth.said.alike import visible
from layers.journal.copies.copied import EPOCH
from layers.journal.record import columns_bytes
from layers.journal.shelf import RECORD_SELECT
from layers.journal.store import Journal
from layers.journal.tables.engine import reading
from layers.journal.tables.schema import BLOBS, RECORDS

MOST_BYTES = 400_000_000  # unpacked
MOST_FILES = 20_000  # in one parcel
MOST_WORDS = 200  # of who sends it, and of a room's name
FIRST_US, LAST_US = -62_135_596_800_000_000, 253_402_300_799_999_999  # the years 1 to 9999
MARK_FIGURES = 20  # some 66 bits: enough against a file made to bear the mark
KEY = "room.key"


@dataclass(frozen=True, slots=True, kw_only=True)
class ParcelAbout:
    """What a parcel is: of which journal, which records, from whom, and the room's mark."""

    journal: str
    exercise: bool
    created_us: int
    after: int
    upto: int
    head: str
    made_us: int
    by: str
    room: str
    mark: str


# of a row: seq, id, kind, version, valid, heard and recorded, source, author, payload
_ID = re.compile(r"[0-9a-f]{32}", re.ASCII)
_WHOLE_NUMBERS = (0, 3, 4, 5, 6)
_TEXTS = (1, 2, 7, 8, 9)


@dataclass(frozen=True, slots=True)
class Parcel:
    """A parcel whose signature fits: its rows as they were hashed, and the files they name."""

    about: ParcelAbout
    rows: tuple[tuple[Any, ...], ...]
    blobs: Mapping[str, bytes]
    digest: str


def own_key(folder: Path) -> Ed25519PrivateKey:
    """Return this room's key; made once, in the data folder, for this account alone."""
    path = folder / KEY
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        ours.write(path, Ed25519PrivateKey.generate().private_bytes_raw())
    return Ed25519PrivateKey.from_private_bytes(ours.read(path))


def mark_of(key: Ed25519PublicKey) -> str:
    """Return a room's mark, to be read out: five groups of four figures, no letter to mishear."""
    digest = hashlib.sha256(key.public_bytes_raw()).digest()
    told = f"{int.from_bytes(digest) % 10**MARK_FIGURES:0{MARK_FIGURES}d}"
    return "-".join(told[k : k + 4] for k in range(0, MARK_FIGURES, 4))


def pack(
    journal: Journal, after: int, *, by: str, room: str, made_us: int, key: Ed25519PrivateKey
) -> bytes:
    """Return the records after a number, signed.

    Parameters
    ----------
    journal : Journal
        For reading.
    after : int
        The last record that is not in it; 0 for all.
    by, room : str
        Who sends it, and from where; they stand in the journal that takes it in.
    made_us : int
        When, UTC microseconds.
    key : Ed25519PrivateKey
        This room's.

    Raises
    ------
    InputError
        There is nothing after that number, or a name that is none.
    """
    for what, said in (("who sends it", by), ("the room's name", room)):
        if not _is_a_name(said):
            accepted = f"one line of at most {MOST_WORDS} letters"
            raise InputError(f"{what}: {visible(said)[:80]!r}", accepted=accepted)
    upto, head = journal.head()
    if not 0 <= after < upto:
        raise InputError(
            f"nothing is recorded after {after}", where="--since", accepted=f"0 to {upto - 1}"
        )
    public = key.public_key()
    with reading(journal.engine, journal.place) as connection:
        asked = RECORD_SELECT.where(RECORDS.c.seq > after, RECORDS.c.seq <= upto)
        rows = [tuple(row) for row in connection.execute(asked.order_by(RECORDS.c.seq))]
        created_us = int(journal.key.rpartition(" ")[2])
        texts = [str(row[-1]) for row in rows]
        blobs = {
            digest: bytes(content)
            for digest, content in connection.execute(sa.select(BLOBS.c.digest, BLOBS.c.content))
            if any(digest in text for text in texts)
        }
    about = ParcelAbout(
        journal=journal.name, exercise=journal.exercise, created_us=created_us, after=after,
        upto=upto, head=head, made_us=made_us, by=by, room=room, mark=mark_of(public),
    )  # fmt: skip
    parts = {
        "parcel.json": json.dumps(asdict(about), ensure_ascii=False).encode(),
        "records.jsonl": b"".join(columns_bytes(row) + b"\n" for row in rows),
        **{f"files/{digest}": content for digest, content in sorted(blobs.items())},
    }
    parts["key"] = public.public_bytes_raw()
    parts["signature"] = key.sign(_whole(parts))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(zipfile.ZipInfo(name, EPOCH), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _whole(parts: Mapping[str, bytes]) -> bytes:
    """Return one digest over the names and contents of all parts but the signature."""
    whole = hashlib.sha256(b"musterplot parcel 1")
    for name, content in sorted(parts.items()):
        if name != "signature":
            for part in (name.encode(), content):
                whole.update(len(part).to_bytes(8, "big") + part)
    return whole.digest()


def unpack(content: bytes) -> Parcel:
    """Return a parcel whose signature fits its content.

    Raises
    ------
    InputError
        It is none, too large, or was changed on the way.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if len(packed.infolist()) > MOST_FILES:
                raise _refused(f"it holds more than {MOST_FILES} files")
            if sum(info.file_size for info in packed.infolist()) > MOST_BYTES:
                raise _refused(f"it holds more than {MOST_BYTES // 10**6} MB")
            parts = {info.filename: packed.read(info) for info in packed.infolist()}
        public = Ed25519PublicKey.from_public_bytes(parts["key"])
        public.verify(parts["signature"], _whole(parts))
        about = _about(json.loads(parts["parcel.json"]))
        rows = tuple(_rows(parts["records.jsonl"]))
    except InputError:
        raise
    except InvalidSignature:
        raise _refused("it was changed since it was signed") from None
    except ARCHIVE_DAMAGED:
        raise _refused("it is no parcel of records, or is damaged") from None
    if about.mark != mark_of(public):
        raise _refused("it names another room than its signature")
    blobs = {
        name.removeprefix("files/"): held
        for name, held in parts.items()
        if name.startswith("files/")
    }
    if any(hashlib.sha256(held).hexdigest() != digest for digest, held in blobs.items()):
        raise _refused("a file in it does not fit its digest")
    if any(not any(digest in row[-1] for row in rows) for digest in blobs):
        raise _refused("a file in it belongs to no record")
    return Parcel(about, rows, blobs, hashlib.sha256(content).hexdigest())


def _refused(why: str) -> InputError:
    return InputError(f"the parcel can not be taken in: {why}", accepted="as another room sent it")


def _about(told: Any) -> ParcelAbout:
    """Return what a parcel says of itself, each of it of the right sort and on one line."""
    about = ParcelAbout(**told)
    numbers = (about.created_us, about.after, about.upto, about.made_us)
    texts = (about.journal, about.head, about.mark)
    if type(about.exercise) is not bool or not all(map(_counts, numbers)):
        raise ValueError("no number where one stands")
    if not all(type(text) is str for text in texts):
        raise ValueError("no words where words stand")
    if not (_is_a_name(about.by) and _is_a_name(about.room)):
        raise ValueError("no name where one stands")
    return about


def _rows(text: bytes) -> Iterator[tuple[Any, ...]]:
    for line in text.decode("utf-8").split("\n"):
        if line:
            yield _row(json.loads(line))


def _row(row: Any) -> tuple[Any, ...]:
    """Return a record as it is hashed; everything in it must be what its column holds."""
    if not isinstance(row, list) or len(row) != 10:
        raise ValueError("a line that is no record")
    if not all(_counts(row[at]) for at in _WHOLE_NUMBERS):
        raise ValueError("no number where one stands")
    for at in _TEXTS:
        text = row[at]
        if type(text) is not str or "\0" in text:
            raise ValueError("no text where one stands")
        text.encode()  # half a character has no bytes
    if not _ID.fullmatch(row[1]) or not isinstance(json.loads(row[9]), dict):
        raise ValueError("a record without its own number or content")
    return tuple(row)


def _is_a_name(said: Any) -> bool:
    """Whether something can stand behind an author's name, and in the note of the joining."""
    return type(said) is str and 0 < len(said) <= MOST_WORDS and said.isprintable()


def _counts(value: Any) -> bool:
    return type(value) is int and FIRST_US <= value <= LAST_US
