"""Cutting a long file into pieces of whole lines, so that memory stays bounded."""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO

from layers.contract.heads import units_below
from layers.contract.rows import head_place, separator
from layers.ingest import last_line
from layers.journal.record import Reject

LARGEST_FILE = 100 * 1024 * 1024
LARGEST_WHOLE_TEXT = 24 * 1024 * 1024  # text that can only be read whole
ACCEPTED_SIZE = f"files up to {LARGEST_FILE // 1024**2} MB"
PIECE_BYTES = 2 * 1024 * 1024
LONGEST_LINE = 100_000
MOST_COMMENTS = 200  # lines above the column heads
_SHOWN = 200

# the csv module gives up on a whole file at 128 KB in one cell; here lines are limited instead
csv.field_size_limit(LARGEST_WHOLE_TEXT)


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPiece:
    """Whole lines, the heading lines before them, and what could not be kept.

    ``first_line`` is that of the first line in ``data``; with headings put before, it counts
    back by as many, so that every later line has its true number.
    """

    data: bytes
    first_line: int
    rejects: tuple[Reject, ...]


def pieces(stream: IO[bytes], source: str, heading_lines: int) -> Iterator[TextPiece]:
    """Return a stream as pieces of about 2 MB cut between lines.

    A line that is too long, or holds NUL bytes, becomes an empty line and a reject, so that no
    number of a line moves; so does a last one that was cut inside its last figure.
    """
    heading = b""
    if heading_lines == 1:
        heading_lines = _lines_of_heads(stream)
    for number in range(1, heading_lines + 1):
        line, whole_length = _line(stream)
        reason = _unusable(line, whole_length)
        if reason:  # without its heads nothing below can be read
            text = line[:_SHOWN].decode("utf-8", "backslashreplace")
            fault = Reject(source=source, line=number, text=text, reason=reason)
            yield TextPiece(data=b"", first_line=1, rejects=(fault,))
            return
        heading += _one_line(line)
    number = heading_lines + 1
    first = True
    above: deque[bytes] = deque(maxlen=last_line.KEPT)
    while True:
        lines, rejects = [], []
        start, length = number, 0
        while length < PIECE_BYTES:
            line, whole_length = _line(stream)
            if not whole_length:
                break
            reason = _unusable(line, whole_length)
            if reason:
                text = line[:_SHOWN].decode("utf-8", "backslashreplace")
                rejects.append(Reject(source=source, line=number, text=text, reason=reason))
                line = b"\n"
            elif not line.endswith(b"\n"):
                said = last_line.judged(_text(line), [_text(one) for one in above])
                if said:
                    rejects.append(
                        Reject(source=source, line=number, text=_text(line)[:_SHOWN], reason=said)
                    )
                if said == last_line.CUT:
                    line = b"\n"
            above.append(line)
            lines.append(_one_line(line))
            length += max(len(line), min(whole_length, PIECE_BYTES))
            number += 1
        if not lines and not first:
            return
        if lines or heading:
            yield TextPiece(
                data=heading + b"".join(lines),
                first_line=start - heading_lines,
                rejects=tuple(rejects),
            )
        first = False
        if not lines:
            return


def _lines_of_heads(stream: IO[bytes]) -> int:
    """Return how many lines stand above the first row: heads, comments over them, units below."""
    start = stream.tell()
    held: list[str] = []
    below = ""
    while len(held) < MOST_COMMENTS:
        line, whole_length = _line(stream)
        held.append(line.decode("latin-1"))
        if not whole_length or (line.strip() and not line.startswith(b"#")):
            below = _line(stream)[0].decode("latin-1")
            break
    stream.seek(start)
    place = head_place(held)
    if place is None:
        return 1
    return place + 1 + (place == len(held) - 1 and units_below(below.split(separator(below))))


def _line(stream: IO[bytes]) -> tuple[bytes, int]:
    """Return the beginning of the next line and its whole length."""
    line = stream.readline(LONGEST_LINE)
    length = len(line)
    more = line
    while more and more[-1] != 10:  # no line end
        more = stream.readline(LONGEST_LINE)
        length += len(more)
    return line, length


def _text(line: bytes) -> str:
    return line.decode("utf-8", "backslashreplace").strip()


def _one_line(line: bytes) -> bytes:
    """Return the line without carriage returns inside it, which readers take for line ends."""
    body = line.rstrip(b"\r\n")
    if b"\r" not in body and len(line) - len(body) <= 2:
        return line
    return body.replace(b"\r", b" ") + (b"\n" if line.endswith(b"\n") else b"")


def _unusable(line: bytes, whole_length: int) -> str:
    if whole_length > LONGEST_LINE:
        return f"a line of {whole_length} bytes; accepted: lines up to {LONGEST_LINE} bytes"
    if b"\x00" in line:
        return "the line holds NUL bytes; accepted: text"
    return ""
