"""A file or a watched folder: what is new, once it has been written to its end."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from layers.earth.errors import InputError
from layers.feeds.arrival import MOST_A_POLL, Incoming
from layers.ingest import recognise

_TAIL_BYTES = 4_096
QUIET_S = 2.0  # a file is whole when it has not changed for so long
MOST_FILES = 2_000
_LEFT_OUT = (".part", ".tmp", ".crdownload", ".swp", "~")


@dataclass(slots=True)
class _Seen:
    """What is known of one file."""

    size: int
    changed_ns: int
    since: datetime
    taken: bool = False
    log: bool = False
    offset: int = 0  # of a log: how far it has been read
    line: int = 1
    digest: str = ""
    tail: str = ""  # what stood before ``offset`` when it was read
    caught_up: bool = False


class FolderTransport:
    """Files in a folder, or one file.

    A log that grows (a kind read line by line, without heads) is read on from where it was, as
    long as what was read of it still stands there; any other file that changes is read anew.
    Names that begin with a dot or end in ``.part`` or ``.tmp`` are left alone, links that lead
    out of the folder too (``left_out`` says which).

    Parameters
    ----------
    path : Path
        A folder, made when it is not there and ``make`` is set, or a file.
    """

    def __init__(self, path: Path, *, make: bool = False) -> None:
        self.path = path
        self.left_out = ""
        if make:
            path.mkdir(parents=True, exist_ok=True)
        self._seen: dict[Path, _Seen] = {}

    def poll(self, now: datetime) -> list[Incoming]:
        """Return the files that are new or changed and have been quiet for two seconds.

        Of many logs at once only so many that what is held stays small; the rest comes next time.
        """
        arrivals: list[Incoming] = []
        held = 0
        present = self._files()
        for path in present:
            try:
                state = path.stat()
            except OSError:
                continue  # gone between looking and asking
            found = self._seen.get(path)
            if found is None or (found.size, found.changed_ns) != (
                state.st_size,
                state.st_mtime_ns,
            ):
                fresh = _Seen(state.st_size, state.st_mtime_ns, now)
                if found is not None and found.log and _goes_on(path, found, state.st_size):
                    fresh.log, fresh.offset = True, found.offset
                    fresh.line, fresh.digest = found.line, found.digest
                    fresh.tail, fresh.caught_up = found.tail, found.caught_up
                self._seen[path] = fresh
            elif (
                not found.taken
                and held < MOST_A_POLL
                and (now - found.since).total_seconds() >= QUIET_S
            ):
                came = self._take(path, found, now)
                held += sum(len(arrival.content or b"") for arrival in came)
                arrivals.extend(came)
        for gone in set(self._seen) - set(present):
            del self._seen[gone]
        return arrivals

    def _leads_out(self, path: Path) -> bool:
        """Whether a name is a link to something outside of the folder; it is not followed."""
        if not path.is_symlink():
            return False
        try:
            inside = path.resolve().is_relative_to(self.path.resolve())
        except (OSError, RuntimeError):  # a link to itself
            inside = False
        if not inside:
            self.left_out = f"{path.name[:80]} is a link out of the folder: it is not followed"
        return not inside

    def _files(self) -> list[Path]:
        self.left_out = ""
        try:
            if self.path.is_dir():
                held = sorted(
                    path
                    for path in self.path.iterdir()
                    if not self._leads_out(path)
                    and path.is_file()
                    and not path.name.startswith(".")
                    and not path.name.endswith(_LEFT_OUT)
                )
                if len(held) > MOST_FILES:
                    raise InputError(
                        f"{len(held)} files in the folder {self.path}",
                        accepted=f"at most {MOST_FILES}; move the old ones away",
                    )
                return held
            if self.path.is_file():
                return [self.path]
        except OSError as fault:
            raise InputError(f"{self.path} cannot be read ({fault.strerror})") from None
        raise InputError(f"{self.path} is not there", accepted="a file or a folder")

    def _take(self, path: Path, seen: _Seen, now: datetime) -> list[Incoming]:
        seen.taken = True
        if not seen.offset and not seen.log:
            seen.log = _is_log(path)
        if not seen.log:
            return [Incoming(source=path.name, received_at=now, path=path)]
        return self._grown(path, seen, now)

    def _grown(self, path: Path, seen: _Seen, now: datetime) -> list[Incoming]:
        """Return the whole lines that a log has gained, a few megabytes at most."""
        with path.open("rb") as file:
            if not seen.digest:
                # its first line stands for a log that will grow, so that a restart knows it again
                seen.digest = hashlib.sha256(path.name.encode() + file.readline(65_536)).hexdigest()
            file.seek(seen.offset)
            content = file.read(MOST_A_POLL)
            more = bool(file.read(1))
        end = content.rfind(b"\n") + 1
        if not more and end < len(content):
            end = len(content)  # quiet for two seconds: the last line is whole
        if not end:
            return []
        arrival = Incoming(
            source=path.name,
            received_at=now,
            content=content[:end],
            stream=False,
            first_line=seen.line,
            digest=seen.digest,
            live=seen.caught_up,
        )
        seen.tail = _digest(content[:end][-_TAIL_BYTES:])
        seen.offset += end
        seen.line += content.count(b"\n", 0, end)
        seen.taken = not more
        seen.caught_up = seen.caught_up or not more
        return [arrival]

    def close(self) -> None:
        """Forget the files."""
        self._seen.clear()


def _digest(content: bytes) -> str:
    return f"{len(content)} {hashlib.sha256(content).hexdigest()}"


def _goes_on(path: Path, found: _Seen, size: int) -> bool:
    """Whether a log still holds, where it was read up to, what was read there."""
    if size < found.offset or not found.tail:
        return size >= found.offset and not found.offset
    length = int(found.tail.split()[0])
    try:
        with path.open("rb") as file:
            file.seek(found.offset - length)
            return _digest(file.read(length)) == found.tail
    except OSError:
        return False


def _is_log(path: Path) -> bool:
    """Whether the file is of a kind that is read line by line and carries no heads."""
    try:
        with path.open("rb") as file:
            feed = recognise(file.read(65_536), path.name)
    except (OSError, InputError):
        return False
    return feed.streams and feed.heading_lines == 0
