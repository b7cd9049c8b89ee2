"""What a field of a record is called where people read: never by its name in the code.

One table for forms, refusals, the log and lists. A name that reads well with its underscores
turned to spaces ("report due") needs no entry; one field of one kind may be called otherwise
than its namesakes (``kind.field``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from layers.journal.words.field_names import OF_A_KIND, UNITS, WHOLE, WORDS

# Errors of a place are told as the circle that holds her with 95 %, and kept as the standard
# deviation along each axis: sqrt(-2 ln 0.05) of them, for two alike and independent (Rayleigh).
WITHIN_95 = math.sqrt(-2.0 * math.log(0.05))
TOLD_WITHIN_95 = frozenset(
    {
        "datum.lkp.sigma_m", "datum.contact.sigma_m", "datum.sighting.sigma_m",
        "position_sigma_m", "release_sigma_m",
    }
)  # fmt: skip
_NAME = re.compile(r"\b[a-z][a-z0-9]*(?:_[a-z0-9]+)+\b")


_ENDINGS = sorted(UNITS, key=len, reverse=True)


def _ending(name: str) -> str:
    """Return the unit in a field's name, as it is spelt there; the longest that fits."""
    return next((ending for ending in _ENDINGS if name.endswith(f"_{ending}")), "")


def unit_of(name: str) -> str:
    """Return the unit that a field's name ends with, as it is printed; empty for none."""
    return WHOLE[name] if name in WHOLE else UNITS.get(_ending(name), "")


def field_words(name: str, kind: str = "") -> str:
    """Return what a field is called, in small letters and without its unit.

    Parameters
    ----------
    name : str
        The field's name; of a field within a field the last part is enough.
    kind : str
        Name of the kind it belongs to, for the few that need it.
    """
    if found := OF_A_KIND.get(f"{kind}.{name}"):
        return found
    last = name.rsplit(".", 1)[-1]
    if found := OF_A_KIND.get(f"{kind}.{last}") or WORDS.get(name) or WORDS.get(last):
        return found
    return (last.removesuffix(f"_{ending}") if (ending := _ending(last)) else last).replace(
        "_", " "
    )


def told_factor(name: str, kind: str = "") -> float:
    """Return how many times the value that is kept people tell: 1, or that of 95 %."""
    last = name.rsplit(".", 1)[-1]
    return WITHIN_95 if {last, f"{kind}.{last}"} & TOLD_WITHIN_95 else 1.0


def field_label(name: str, kind: str = "") -> str:
    """Return a field's label with its unit: ``Range (m)``."""
    words, unit = field_words(name, kind), unit_of(name.rsplit(".", 1)[-1])
    shown = words[:1].upper() + words[1:]
    return f"{shown} ({unit})" if unit and f"({unit})" not in shown else shown


def in_plain_words(text: str, kind: str = "", names: Iterable[str] = ()) -> str:
    """Return a sentence with every field's name put in words, and times as they are read.

    Parameters
    ----------
    text : str
        A refusal, or another sentence that was made near the code.
    names : iterable of str
        Names without an underscore that are to be put in words too.
    """
    known = set(names)

    def said(found: re.Match[str]) -> str:
        return field_words(found[0], kind)

    plain = _NAME.sub(said, text)
    for name in known:
        plain = re.sub(rf"(?<![\w’']){re.escape(name)}(?=:|$)", field_words(name, kind), plain)
    return plain
