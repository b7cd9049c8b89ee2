"""Files that only this account may read or have written: the data folder and what lies in it.

On a computer that several people use, a journal holds medical detail and positions, and a kept
result is code to whoever can write it.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from layers.earth.errors import JournalError

OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
OTHERS_MAY = stat.S_IRWXG | stat.S_IRWXO
POSIX = os.name == "posix"
SERVERS_KEY, LEAST_KEY = "servers.key", 32  # the same file in each server's data folder


def keep_to_ourselves(folder: Path) -> None:
    """Make what is written from now on ours alone, and a folder with what is in it, too.

    Raises
    ------
    JournalError
        The folder belongs to somebody else.
    """
    if not POSIX:
        return  # there the user's folder is the user's by inheritance
    os.umask(0o077)
    if not folder.exists():
        return
    if os.geteuid() and folder.stat().st_uid != os.geteuid():
        raise JournalError(
            f"the folder {folder} belongs to another account; name one of your own in "
            "MUSTERPLOT_DATA_FOLDER"
        )
    for path in (folder, *_below(folder)):
        _shut(path)


def _below(folder: Path) -> Iterator[Path]:
    for root, folders, files in os.walk(folder, followlinks=False):
        for name in (*folders, *files):
            yield Path(root) / name


def _shut(path: Path) -> None:
    try:
        held = path.lstat()
        mine = not stat.S_ISLNK(held.st_mode) and held.st_uid == os.geteuid()
        if mine and held.st_mode & OTHERS_MAY:
            path.chmod(stat.S_IMODE(held.st_mode) & ~OTHERS_MAY)
    except OSError:
        return  # it went meanwhile


def read(path: Path) -> bytes:
    """Return what a file holds that nobody but this account can have written.

    Raises
    ------
    PermissionError
        Somebody else owns it, or may write it.
    """
    with path.open("rb") as file:
        held = os.fstat(file.fileno())
        if POSIX and (held.st_uid != os.geteuid() or held.st_mode & OTHERS_MAY_WRITE):
            raise PermissionError(f"{path} can have been written by somebody else")
        return file.read()


def write(path: Path, content: bytes) -> None:
    """Write a file that only this account may read, all of it or nothing."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def servers_key(folder: Path) -> bytes:
    """Return the key that all servers of one journal were given; nothing where there is none.

    Raises
    ------
    JournalError
        Other accounts may read or write it, or it is short: it is told rather than left out.
    """
    path = folder / SERVERS_KEY
    try:
        held = read(path).strip()
    except FileNotFoundError:
        return b""
    except OSError as fault:
        raise JournalError(f"the key of the servers can not be used: {fault}") from None
    if seen_by_others(path):
        raise JournalError(f"{path} can be read by other accounts; keep it to your own (chmod 600)")
    if len(held) < LEAST_KEY:
        raise JournalError(f"{path} is short; accepted: {LEAST_KEY} random characters or more")
    return held


def seen_by_others(path: Path) -> bool:
    """Whether other accounts may read a file."""
    return POSIX and bool(path.stat().st_mode & OTHERS_MAY)
