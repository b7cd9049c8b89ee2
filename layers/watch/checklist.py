"""Checklists from the user's own file, as a spreadsheet or a hand writes it.

Either with the heads ``checklist``, ``when`` and ``item``, several lists in one file, or one list:
a column of items, with or without heads, a number in front, and who does it behind.
"""

from __future__ import annotations

import csv
import io

from layers.earth.errors import InputError
from layers.watch.model import Checklist

HEADS = ("checklist", "when", "item")
ITEM_HEADS = ("item", "items", "what", "check", "step", "task", "action", "to do", "do")
WHO_HEADS = ("who", "by", "by whom", "whom", "duty", "responsible", "owner")
NUMBER_HEADS = ("no", "no.", "nr", "nr.", "#", "number", "n")
MAX_BYTES, MAX_ITEMS, MAX_LETTERS = 200_000, 200, 200
ACCEPTED = "one item a line; or the heads checklist, when, item"


def read_checklists(
    content: bytes, name: str, *, title: str = "", when: str = ""
) -> list[Checklist]:
    """Return the checklists of a file.

    Parameters
    ----------
    content : bytes
        UTF-8, with or without a byte-order mark; comma, semicolon or tab.
    name : str
        The file's name, as it will stand in the record.
    title, when : str
        What a single list is called, and for which stage or phase it is; the file's name and
        "any time" where nothing is said.

    Raises
    ------
    InputError
        Not such a file: which row, and what is accepted.
    """
    if len(content) > MAX_BYTES:
        raise InputError(f"{len(content)} bytes", where=name, accepted=f"at most {MAX_BYTES} bytes")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise InputError(
            f"byte {fault.start} is not UTF-8", where=name, accepted="text in UTF-8"
        ) from None
    rows = _rows(text)
    heads = [cell.casefold() for cell in rows[0][1]] if rows else []
    if "checklist" in heads:
        missing = [head for head in HEADS if head not in heads]
        if missing:
            raise InputError(
                f"no column {', '.join(missing)}", where=f"{name} row 1", accepted=", ".join(HEADS)
            )
        grouped = _grouped(rows[1:], [heads.index(head) for head in HEADS], name)
    else:
        what = title.strip() or name.rpartition(".")[0].strip() or "checklist"
        grouped = {(what, when.strip() or "any time"): _one_list(rows, name)}
    if not any(grouped.values()):
        raise InputError("no items", where=name, accepted=ACCEPTED)
    if any(len(listed) > MAX_ITEMS for listed in grouped.values()):
        raise InputError(
            f"a list of over {MAX_ITEMS} items", where=name, accepted=f"{MAX_ITEMS} items a list"
        )
    return [
        Checklist(name=called[:200], when=for_[:200], items=tuple(listed), loaded_from=name[:200])
        for (called, for_), listed in grouped.items()
    ]


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Return the rows with their numbers, cells stripped; what separates them is looked for."""
    lines = [line for line in text.splitlines() if line.strip()]
    # what stands in most lines separates; a comma may also stand in a sentence
    mark = max(";\t,", key=lambda each: (sum(each in line for line in lines), each != ","))
    mark = mark if sum(mark in line for line in lines) > len(lines) / 2 else "\x1f"
    read = csv.reader(io.StringIO(text), delimiter=mark)
    rows = [(number, [cell.strip() for cell in row]) for number, row in enumerate(read, start=1)]
    return [(number, row) for number, row in rows if any(row)]


def _one_list(rows: list[tuple[int, list[str]]], name: str) -> list[str]:
    """Return the items of a plain list, who does each behind it in brackets."""
    heads = [cell.casefold() for cell in rows[0][1]] if rows else []
    known = {*ITEM_HEADS, *WHO_HEADS, *NUMBER_HEADS}
    headed = any(head in ITEM_HEADS for head in heads) and all(not h or h in known for h in heads)
    body = rows[1:] if headed else rows
    width = max((len(row) for _, row in body), default=0)
    columns = [[row[at] if at < len(row) else "" for _, row in body] for at in range(width)]
    if headed:
        item = next(at for at, head in enumerate(heads) if head in ITEM_HEADS)
    else:
        item = max(range(width), key=lambda at: _letters(columns[at]), default=0)
    others = [
        at for at in range(width)
        if at != item and _letters(columns[at]) and not _numbered(columns[at])
    ]  # fmt: skip
    items = []
    for (number, row), *_ in zip(body, strict=True):
        said = row[item] if item < len(row) else ""
        if not said:
            raise InputError(
                "a row without its item", where=f"{name} row {number}", accepted=ACCEPTED
            )
        more = "; ".join(row[at] for at in others if at < len(row) and row[at])
        items.append(_checked(f"{said} ({more})" if more else said, f"{name} row {number}"))
    return items


def _letters(cells: list[str]) -> int:
    return sum(sum(letter.isalpha() for letter in cell) for cell in cells)


def _numbered(cells: list[str]) -> bool:
    return all(not cell or cell.rstrip(".)").isdigit() for cell in cells)


def _grouped(
    rows: list[tuple[int, list[str]]], at: list[int], name: str
) -> dict[tuple[str, str], list[str]]:
    items: dict[tuple[str, str], list[str]] = {}
    for number, row in rows:
        title, when, item = (row[column] if column < len(row) else "" for column in at)
        if not (title or when or item):
            continue
        if not (title and when and item):
            raise InputError(
                "a cell is empty", where=f"{name} row {number}", accepted="all three filled"
            )
        items.setdefault((title, when), []).append(_checked(item, f"{name} row {number}"))
    return items


def _checked(item: str, where: str) -> str:
    if len(item) > MAX_LETTERS:
        raise InputError(f"an item of {len(item)} letters", where=where, accepted=f"{MAX_LETTERS}")
    return item
