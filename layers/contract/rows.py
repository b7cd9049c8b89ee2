"""The one reader of rows: text with column heads, line by line to drafts or rejects.

A text feed names its columns, says what it makes of a row, and is done: encoding, separator,
comment lines, quoted cells, blank rows and the reject of each row that cannot be used are the
same for all of them.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from pydantic import BaseModel

from layers.contract.cells import plain_number, plain_value
from layers.contract.feed import Origin, Reading
from layers.contract.heads import parted, squeezed
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.kinds import Kind
from layers.journal.known import check_payload
from layers.journal.record import Draft, Reject, content_identity, file_identity, stream_identity

SEPARATORS = (",", ";", "\t")
LONGEST = 400  # letters of a row that a reject keeps
_FIGURE = re.compile(r"\d")
# What stands in a cell for "nothing was measured", besides nothing at all.
MISSING = frozenset({"-", "--", "---", "na", "n/a", "nan", "null", "none", "/", "//", "///", "*"})


def bare_text(data: bytes) -> str:
    """Return the text of a file: UTF-8 with or without its mark, else Latin-1; NUL made visible."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return text.replace("\x00", "\ufffd")


def separator(line: str) -> str:
    """Return what parts the cells of a line: a comma, a semicolon or a tab."""
    return max(SEPARATORS, key=line.count)


def heads_of(data: bytes) -> tuple[str, ...]:
    """Return the column heads at the beginning of a file, in small letters; for recognising it."""
    lines = bare_text(data).splitlines()
    place = head_place(lines)
    return () if place is None else _cells(lines[place])


def head_place(lines: Sequence[str]) -> int | None:
    """Return which line holds the column heads: the first that is no comment, or the one above it.

    Some exports mark their heads like a comment (``# Timestamp,MMSI,…``): a line above the first
    row is its heads where it has as many cells, none of them a figure, and the row has some.
    """
    for place, line in enumerate(lines):
        if not line.strip() or line.startswith("#"):
            continue
        above = lines[place - 1] if place else ""
        return place - 1 if above.startswith("#") and _heads_above(above, line) else place
    return None


def _heads_above(above: str, row: str) -> bool:
    mark = separator(above)
    heads, cells = above.split(mark), row.split(mark)
    figures = sum(_number(cell.strip()) is not None for cell in cells)
    return (
        len(heads) == len(cells) >= 3
        and figures > 0
        and not any(_number(head.strip("# ")) is not None for head in heads)
    )


def _cells(line: str) -> tuple[str, ...]:
    return tuple(
        cell.strip().strip('"').lower() for cell in line.lstrip("# ").split(separator(line))
    )


class NoFact(Exception):
    """A row that is rightly none of the facts looked for: counted by its words, not refused."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line in the file, its text, its cells by field; an empty cell is not there."""

    line: int
    text: str
    where: str  # "ice.csv line 3"
    cells: Mapping[str, str]

    def get(self, name: str) -> str:
        """Return a cell, empty when it is not there."""
        return self.cells.get(name, "")

    def need(self, name: str, accepted: str = "") -> str:
        """Return a cell; refuse the row without it."""
        if name not in self.cells:
            raise InputError("nothing is given", where=f"{self.where}, {name}", accepted=accepted)
        return self.cells[name]

    def number(self, name: str, least: float, most: float, unit: str = "") -> float:
        """Return a cell as a number within its range; refuse the row otherwise."""
        accepted = f"{least:g} to {most:g}{f' {unit}' if unit else ''}"
        text = self.need(name, accepted)
        value = _number(text)
        if value is None:
            raise InputError(
                f"{text[:40]!r} is not a number", where=f"{self.where}, {name}", accepted=accepted
            )
        if not least <= value <= most:
            raise InputError(
                f"{text[:40]!r} is out of range", where=f"{self.where}, {name}", accepted=accepted
            )
        return value

    def maybe(self, name: str, least: float, most: float, unit: str = "") -> float | None:
        """Return a cell as a number within its range, None when it is empty or says so."""
        missing = self.cells.get(name, "-").lower() in MISSING
        return None if missing else self.number(name, least, most, unit)

    def values(self, model: type[BaseModel]) -> dict[str, Any]:
        """Return the cells of the columns that a payload has fields for, as it wants them."""
        return {
            name: plain_value(model, name, self.cells[name], self.where)
            for name in model.model_fields
            if name in self.cells
        }

    def time(self, name: str) -> datetime:
        """Return a cell as a time with its zone, UTC."""
        return parse_time(self.need(name, "a time with its zone"), f"{self.where}, {name}")


def _number(text: str) -> float | None:
    """Return a figure, with a decimal comma too; None for what is none, nan and inf among them."""
    try:
        value = plain_number(text.replace(",", ".", 1).replace("\u2212", "-"))
    except ValueError:
        return None
    return value if value - value == 0.0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A text with column heads.

    Parameters
    ----------
    about : mapping of str to str
        What the comment lines before the heads say: ``# time: 2027-03-15T20:40Z``.
    heads : tuple of str
        In small letters.
    fields : mapping of str to int
        Which column each field stands in.
    units : mapping of str to str
        The unit that a field's head states beside its name, as `heads.parted` gives it.
    twins : mapping of str to tuple of int
        Further columns that say the same as a field's; a row in which they differ says nothing.
    """

    origin: Origin
    about: Mapping[str, str]
    heads: tuple[str, ...]
    fields: Mapping[str, int]
    units: Mapping[str, str]
    twins: Mapping[str, tuple[int, ...]]
    first_line: int  # of the rows
    called: Mapping[str, str] = field(repr=False)  # what a head may be called -> the field
    _body: str = field(repr=False)
    _separator: str = field(repr=False)

    def _short(self, count: int) -> bool:
        """Whether a row so long was cut: heads that are empty themselves need no cells."""
        return any(head for head in self.heads[count:])

    def _differing(self, cells: Sequence[str]) -> str:
        """Return why a row says two things of one field, "" where it does not."""
        for name, places in self.twins.items():
            said = [cells[p].strip() for p in (self.fields[name], *places) if p < len(cells)]
            told = [text for text in said if text.lower() not in MISSING]
            if len({_number(text) if _number(text) is not None else text for text in told}) > 1:
                return f"two columns of {name} that differ: {', '.join(told)[:80]}"
        return ""

    def _heads_again(self, cells: Sequence[str]) -> bool:
        """Whether a row is column heads: of a second file that was put behind the first."""
        found = [cell.strip().lower() for cell in cells]
        known = sum(cell in self.heads or squeezed(cell) in self.called for cell in found if cell)
        return known >= 2 and 2 * known >= len(found)

    def rows(self, reading: Reading) -> Iterator[Row]:
        """Yield the rows; what is not a row of CSV becomes a reject of the reading."""
        found = csv.reader(io.StringIO(self._body, newline=""), delimiter=self._separator)
        while True:
            line = self.first_line + found.line_num
            try:
                cells = next(found)
            except StopIteration:
                return
            except csv.Error as fault:
                refuse(reading, self.origin, line, "", f"not a row of CSV ({fault})")
                continue
            if not any(cell.strip() for cell in cells):
                continue
            text = self._separator.join(cells)
            if len(cells) > len(self.heads) and any(c.strip() for c in cells[len(self.heads) :]):
                said = f"{len(cells)} cells under {len(self.heads)} column heads"
                refuse(reading, self.origin, line, text, said)
                continue
            if len(cells) < len(self.heads) and self._short(len(cells)):
                said = f"{len(cells)} cells under {len(self.heads)} column heads: cut short?"
                refuse(reading, self.origin, line, text, said)
                continue
            if not _FIGURE.search(text) and self._heads_again(cells):
                if tuple(cell.strip().lower() for cell in cells) == self.heads:
                    reading.passed_over["column heads, once more"] = (
                        reading.passed_over.get("column heads, once more", 0) + 1
                    )
                    continue
                said = "other column heads: two files in one; what follows is not read, part them"
                refuse(reading, self.origin, line, text, said)
                reading.ended = True
                return
            if self.twins and (said := self._differing(cells)):
                refuse(reading, self.origin, line, text, said)
                continue
            held = {
                name: cells[place].strip()
                for name, place in self.fields.items()
                if place < len(cells) and cells[place].strip()
            }
            yield Row(line, text, f"{self.origin.source} line {line}", held)


def sheet(
    data: bytes,
    origin: Origin,
    *,
    names: Mapping[str, Iterable[str]] | None = None,
    needed: Iterable[str] = (),
    accepted: str = "",
) -> TextTable:
    """Return a text with its heads found.

    Parameters
    ----------
    data, origin
        The bytes and where they came from.
    names : mapping of str to iterable of str, optional
        What each field may be called as a head, in small letters. A field that is not named
        there is called by its own name.
    needed : iterable of str
        Fields without which the file is of no use.
    accepted : str
        What would be accepted, for who is refused.

    Raises
    ------
    InputError
        No heads, or a needed column is not there.
    """
    text = bare_text(data)
    lines = text.splitlines(keepends=True)
    about: dict[str, str] = {}
    place = head_place(lines)
    if place is None:
        raise InputError("no row of column names", where=origin.source, accepted=accepted)
    for line in lines[:place]:
        word, colon, rest = line.lstrip("# ").partition(":")
        if colon:
            about[word.strip().lower()] = rest.strip()
    mark = separator(lines[place])
    heads = _cells(lines[place])
    called = {squeezed(one): name for name, many in (names or {}).items() for one in many}
    fields, units, twins = _fields_of(heads, called, set(needed))
    missing = [name for name in needed if name not in fields]
    if missing:
        raise InputError(f"no column {', '.join(missing)}", where=origin.source, accepted=accepted)
    return TextTable(
        origin=origin,
        about=about,
        heads=heads,
        fields=fields,
        units=units,
        twins=twins,
        called=called,
        first_line=origin.first_line + place + 1,
        _body="".join(lines[place + 1 :]),
        _separator=mark,
    )


def _fields_of(
    heads: Sequence[str], called: Mapping[str, str], needed: Collection[str]
) -> tuple[dict[str, int], dict[str, str], dict[str, tuple[int, ...]]]:
    """Return the column of each field, the unit written in its head, and its further columns."""
    fields: dict[str, int] = {}
    units: dict[str, str] = {}
    twins: dict[str, tuple[int, ...]] = {}
    for column, head in enumerate(heads):
        name, unit = parted(head)
        field = called.get(squeezed(head))
        if field is None and (field := called.get(name)) is not None and field not in fields:
            units[field] = unit
        field = field or head
        first = fields.setdefault(field, column)
        # two clocks may stand in a row, and one thing in two units: those are no contradiction
        again = head == heads[first] or (field in needed and field != "time")
        if head and first != column and again and units.get(field, unit) == unit:
            twins[field] = (*twins.get(field, ()), column)
    return fields, units, twins


def read_rows(
    data: bytes,
    origin: Origin,
    drafts: Callable[[Row], Iterable[Draft]],
    *,
    names: Mapping[str, Iterable[str]] | None = None,
    needed: Iterable[str] = (),
    accepted: str = "",
) -> Reading:
    """Return what the rows of a text give, each ending as drafts or as a reject.

    ``drafts(row)`` raises `InputError` for a row that cannot be used; the other arguments are
    those of `sheet`.
    """
    reading = Reading()
    try:
        found = sheet(data, origin, names=names, needed=needed, accepted=accepted)
    except InputError as reason:
        refuse(reading, origin, origin.first_line, bare_text(data[:LONGEST]), str(reason))
        return reading
    reading.passed_over["column heads"] = 1
    for row in found.rows(reading):
        try:
            reading.drafts += drafts(row)
        except NoFact as what:
            reading.passed_over[str(what)] = reading.passed_over.get(str(what), 0) + 1
        except InputError as reason:
            refuse(reading, origin, row.line, row.text, str(reason))
    return reading


def drafted(
    row: Row,
    origin: Origin,
    kind: Kind | str,
    payload: Mapping[str, Any],
    valid_at: datetime,
    part: str = "",
) -> Draft:
    """Return a row as a draft; its identity is what it says, or its place where it has no time.

    A kind checks the payload, so that what it refuses is a reject of this row; the name of a kind
    leaves that to the journal. ``part`` tells several drafts of one row apart.
    """
    if isinstance(kind, Kind):
        check_payload(kind, payload, row.where)
    name = kind.name if isinstance(kind, Kind) else kind
    if origin.stream:
        received_us = int(origin.received_at.timestamp() * 1e6)
        identity = stream_identity(origin.source, received_us, f"{row.text}{part}".encode())
    elif valid_at != origin.received_at:  # a row with a time of its own is that fact in any file
        identity = content_identity(name, valid_at, payload)
    else:
        identity = file_identity(origin.digest, f"{row.line}{part}")
    return origin.draft(
        name,
        payload,
        valid_at,
        identity=identity,
        version=kind.version if isinstance(kind, Kind) else 1,
    )


def refuse(reading: Reading, origin: Origin, line: int | None, text: str, reason: str) -> None:
    """Put what cannot be used among the rejects, with its reason."""
    reading.rejects.append(
        Reject(source=origin.source, line=line, text=text[:LONGEST], reason=reason[:1_000])
    )
