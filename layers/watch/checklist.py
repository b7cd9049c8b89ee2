"""Checklists from the user's own CSV: name, when, item."""

from __future__ import annotations

import csv
import io

from layers.earth.errors import InputError
from layers.watch.model import Checklist

HEADS = ("checklist", "when", "item")
MAX_BYTES = 200_000


def read_checklists(content: bytes, name: str) -> list[Checklist]:
    """Return the checklists of a CSV file with the heads ``checklist,when,item``.

    Parameters
    ----------
    content : bytes
        UTF-8, with or without a byte-order mark; comma or semicolon.
    name : str
        The file's name, as it will stand in the record.

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
    first = text.split("\n", 1)[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first else ",")
    heads = tuple((head or "").strip().lower() for head in rows.fieldnames or ())
    rows.fieldnames = list(heads)
    missing = [head for head in HEADS if head not in heads]
    if missing:
        raise InputError(
            f"no column {', '.join(missing)}", where=f"{name} row 1", accepted=", ".join(HEADS)
        )
    return _grouped(rows, name)


def _grouped(rows: csv.DictReader[str], name: str) -> list[Checklist]:
    items: dict[tuple[str, str], list[str]] = {}
    for number, row in enumerate(rows, start=2):
        title, when, item = ((row.get(head) or "").strip() for head in HEADS)
        if not (title or when or item):
            continue
        if not (title and when and item):
            raise InputError(
                "a cell is empty", where=f"{name} row {number}", accepted="all three filled"
            )
        if len(item) > 200:
            raise InputError(
                f"an item of {len(item)} letters", where=f"{name} row {number}", accepted="200"
            )
        items.setdefault((title, when), []).append(item)
    if not items:
        raise InputError("no items", where=name, accepted="at least one row under the heads")
    if any(len(listed) > 200 for listed in items.values()):
        raise InputError("a list of over 200 items", where=name, accepted="200 items a list")
    return [
        Checklist(name=title[:200], when=when[:200], items=tuple(listed), loaded_from=name[:200])
        for (title, when), listed in items.items()
    ]
