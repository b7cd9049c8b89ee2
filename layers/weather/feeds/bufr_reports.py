"""The reports of one BUFR message, each with its elements in order, however they are packed.

A message is walked once: to take it apart subset by subset costs the decoder the whole message
for each of them, and a file of packed reports then ends at the processor's time.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

MISSING_FLOAT, MISSING_INT = -1e100, 2_147_483_647.0


@dataclass(frozen=True, slots=True)
class BufrReport:
    """One subset of a message.

    Parameters
    ----------
    order : list of (str, int)
        Every element by its name and which of that name in this subset it is, from 1.
    keys : dict of (str, int) to str
        What the decoder calls each of them in the whole message.
    columns : Columns
        The values of the message.
    at : int
        Which of several packed values is this subset's.
    """

    order: list[tuple[str, int]]
    keys: dict[tuple[str, int], str]
    columns: Columns
    at: int = 0

    def number(self, name: str, which: int = 1) -> float | None:
        """Return one occurrence of an element; None where it is missing."""
        key = self.keys.get((name, which))
        found = self._of(self.columns.numbers(key)) if key else None
        if found is None or math.isnan(found) or found in (MISSING_FLOAT, MISSING_INT):
            return None
        return float(found)

    def text(self, name: str) -> str:
        """Return the first occurrence of an element of letters, empty where it is missing."""
        key = self.keys.get((name, 1))
        found = self._of(self.columns.texts(key)) if key else None
        return "".join(letter for letter in str(found or "") if " " <= letter <= "~").strip()

    def _of(self, column: Sequence[Any]) -> Any:
        """Return this subset's value: what all of them share is packed once."""
        at = self.at if len(column) > 1 else 0
        return column[at] if at < len(column) else None


class Columns:
    """The values of a message by the decoder's keys: of packed subsets all, else one."""

    def __init__(self, eccodes: Any, message: int) -> None:
        self._eccodes, self._message = eccodes, message
        self.numbers = lru_cache(maxsize=None)(self._numbers)
        self.texts = lru_cache(maxsize=None)(self._texts)

    def _numbers(self, key: str) -> Any:
        try:
            return self._eccodes.codes_get_array(self._message, key, ktype=float)
        except self._eccodes.CodesInternalError:
            return ()

    def _texts(self, key: str) -> Any:
        try:
            return self._eccodes.codes_get_string_array(self._message, key)
        except self._eccodes.CodesInternalError:
            return ()


def reports(eccodes: Any, message: int) -> Iterator[BufrReport]:
    """Yield each subset of an unpacked message."""
    columns = Columns(eccodes, message)
    parts: list[BufrReport] = [BufrReport([], {}, columns)]
    walk = eccodes.codes_bufr_keys_iterator_new(message)
    counts: dict[str, int] = {}
    try:
        while eccodes.codes_bufr_keys_iterator_next(walk):
            key = str(eccodes.codes_bufr_keys_iterator_get_name(walk))
            if key == "subsetNumber":
                counts = {}
                if parts[-1].order:
                    parts.append(BufrReport([], {}, columns))
            if not key.startswith("#") or "->" in key:
                continue  # of the head, or said of an element
            name = key.rpartition("#")[2]
            counts[name] = counts.get(name, 0) + 1
            parts[-1].order.append((name, counts[name]))
            parts[-1].keys[name, counts[name]] = key
    finally:
        eccodes.codes_bufr_keys_iterator_delete(walk)
    if not int(eccodes.codes_get(message, "compressedData", ktype=int)):
        yield from parts
        return
    (whole,) = parts
    for at in range(int(eccodes.codes_get(message, "numberOfSubsets", ktype=int))):
        yield BufrReport(whole.order, whole.keys, columns, at)
