"""Unpacking gzip and zip without being blown up by them.

A packed file is unpacked to a temporary file while its size is watched: at most 200 MB each and
in all, at most 200 times its packed size, at most 200 files in an archive, and no archive in an
archive.
"""

from __future__ import annotations

import contextlib
import gzip
import tempfile
import zipfile
from collections.abc import Iterator
from typing import IO, Protocol

from layers.earth.errors import ARCHIVE_DAMAGED, InputError

LARGEST_UNPACKED = 200 * 1024 * 1024
LARGEST_RATIO = 200
RATIO_FROM = 4 * 1024 * 1024  # small files may pack better than that and do no harm
MOST_MEMBERS = 200
_STEP = 1024 * 1024
_KEPT_IN_MEMORY = 8 * 1024 * 1024
_PACKED = ((b"\x1f\x8b", "gzip"), (b"PK\x03\x04", "zip"), (b"PK\x05\x06", "zip"))
_UNKNOWN = (
    (b"BZh", "bzip2"),
    (b"\xfd7zXZ", "xz"),
    (b"7z\xbc\xaf", "7z"),
    (b"Rar!", "rar"),
    (b"\x28\xb5\x2f\xfd", "zstd"),
)
ACCEPTED = "files as they are, gzip or zip"


class _Source(Protocol):
    def read(self, size: int, /) -> bytes: ...


def packing(head: bytes, name: str = "") -> str:
    """Return ``"gzip"``, ``"zip"`` or ``""``; refuse a packing that is not read.

    Raises
    ------
    InputError
        Another packing.
    """
    for magic, kind in _PACKED:
        if head.startswith(magic):
            return kind
    for magic, kind in _UNKNOWN:
        if head.startswith(magic):
            raise InputError(f"packed as {kind}, which is not read", where=name, accepted=ACCEPTED)
    return ""


def unpacked(stream: IO[bytes], size: int, name: str) -> Iterator[tuple[str, IO[bytes]]]:
    """Return each file inside a packed one as (name, stream at its beginning).

    Raises
    ------
    InputError
        Damaged, too large, a bomb, encrypted, or an archive in an archive.
    """
    stream.seek(0)
    kind = packing(stream.read(8), name)
    stream.seek(0)
    if kind == "gzip":
        inner = name.removesuffix(".gz")
        with _damaged(name), gzip.GzipFile(fileobj=stream) as source:
            held, _ = _copied(source, size, name, LARGEST_UNPACKED)
        with held:
            yield inner, _not_packed(held, name)
    elif kind == "zip":
        yield from _members(stream, size, name)
    else:
        yield name, stream


def check_archive(stream: IO[bytes], name: str) -> None:
    """Refuse a zip archive by what it says of itself, before any of it is unpacked.

    For archives that a feed reads as a whole.

    Raises
    ------
    InputError
        Damaged, too many files, or too large unpacked.
    """
    with _damaged(name), zipfile.ZipFile(stream) as archive:
        members = archive.infolist()
        total = sum(info.file_size for info in members)
    if len(members) > MOST_MEMBERS or total > LARGEST_UNPACKED:
        raise InputError(
            f"an archive of {len(members)} files and {total / 1024**2:.0f} MB",
            where=name,
            accepted=f"at most {MOST_MEMBERS} files and {LARGEST_UNPACKED // 1024**2} MB",
        )
    stream.seek(0)


def _members(stream: IO[bytes], size: int, name: str) -> Iterator[tuple[str, IO[bytes]]]:
    with _damaged(name):
        archive = zipfile.ZipFile(stream)
    members = [info for info in archive.infolist() if not info.is_dir()]
    if len(members) > MOST_MEMBERS:
        raise InputError(
            f"an archive of {len(members)} files", where=name, accepted=f"at most {MOST_MEMBERS}"
        )
    left = LARGEST_UNPACKED
    for info in members:
        place = f"{name}!{info.filename[-120:]}"
        if info.flag_bits & 1:
            raise InputError("the archive is locked by a password", where=place, accepted=ACCEPTED)
        with _damaged(place), archive.open(info) as source:
            held, length = _copied(source, size, place, left)
        left -= length
        with held:
            yield place, _not_packed(held, place)


def _copied(source: _Source, size: int, name: str, left: int) -> tuple[IO[bytes], int]:
    # handed over to the caller, who closes it
    held = tempfile.SpooledTemporaryFile(max_size=_KEPT_IN_MEMORY)  # noqa: SIM115  see above
    try:
        length = _copy(source, held, size, name, left)
    except BaseException:
        held.close()
        raise
    held.seek(0)
    return held, length


def _copy(source: _Source, held: IO[bytes], size: int, name: str, left: int) -> int:
    length = 0
    while block := source.read(_STEP):
        length += len(block)
        if length > left:
            raise InputError(
                f"unpacks to more than {LARGEST_UNPACKED // 1024**2} MB",
                where=name,
                accepted="less than that",
            )
        if length > RATIO_FROM and length > LARGEST_RATIO * max(size, 1):
            raise InputError(
                f"unpacks to more than {LARGEST_RATIO} times its size, as no real data does",
                where=name,
                accepted=ACCEPTED,
            )
        held.write(block)
    return length


def _not_packed(held: IO[bytes], name: str) -> IO[bytes]:
    if packing(held.read(8), name):
        raise InputError("an archive inside an archive", where=name, accepted=ACCEPTED)
    held.seek(0)
    return held


@contextlib.contextmanager
def _damaged(name: str) -> Iterator[None]:
    """Turn what the libraries raise on damaged archives into one sentence."""
    try:
        yield
    except InputError:
        raise
    except ARCHIVE_DAMAGED as fault:
        raise InputError(
            f"packed, but damaged or cut short ({str(fault)[:100]})", where=name, accepted=ACCEPTED
        ) from None
