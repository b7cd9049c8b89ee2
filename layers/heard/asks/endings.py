"""Where a new place's name ends, by the word that only such names end with: engine room."""

from __future__ import annotations

import re
from collections.abc import Sequence

from layers.heard.parts import LinePart


def ended(parts: Sequence[LinePart], at: int, endings: Sequence[str]) -> int:
    """Return where a name ends that one of some words ends, 0 where none does: fore ends.

    A letter or figure may follow that word alone: compartment 4.
    """
    if at + 1 < len(parts) and only_the_word(parts[at], endings):
        if ended(parts, at + 1, endings):
            return 0  # compartment engine room
        named = re.fullmatch(r"\d{1,2}|[A-Z]", parts[at + 1].text) and not parts[at + 1].prep
        counted = at + 2 < len(parts) and parts[at + 2].sort == "phrase" and (
            any(meaning.sort == "cue" for meaning in parts[at + 2].value)
        )  # fmt: skip
        if named:
            return 0 if counted else at + 2
    for end in (at + 1, at + 2):
        if end < len(parts) and parts[end].sort == "unknown" and not parts[end].prep and (
            parts[end].text.lower() in endings
            and all(re.fullmatch(r"[A-Za-z][\w'.-]*", p.text) for p in parts[at:end])
            and all(p.sort == "unknown" or (end == at + 1 and _refuge_or_word(p))
                    for p in parts[at:end])
        ):  # fmt: skip
            return end + 1
    return 0


def only_the_word(part: LinePart, endings: Sequence[str]) -> bool:
    """Whether a part is a word that ends names of places, by itself: compartment."""
    return part.sort == "unknown" and part.text.lower() in endings


def _refuge_or_word(part: LinePart) -> bool:
    """Whether a part may open a place's name although it is known: fore ends, control room."""
    if part.sort == "name":
        return all(name.sort == "refuge" for name in part.value)
    return part.sort == "phrase"


def begins_a_name(parts: Sequence[LinePart], at: int) -> bool:
    """Whether a known word in capitals opens a name that is not known: FORWARD STAR, LIMIT 2."""
    if at + 1 >= len(parts) or parts[at].sort not in ("phrase", "name"):
        return False
    behind = parts[at + 1]
    number = behind.sort == "number" and re.fullmatch(r"\d{1,3}", behind.text)
    wanted = number or (behind.sort == "unknown" and behind.text == behind.text.upper())
    return bool(wanted and not behind.prep and re.fullmatch(r"[A-Z][A-Z -]+", parts[at].text))
