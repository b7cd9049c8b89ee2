"""What a layer's sentence says otherwise than it did: part by part, from what to what.

Two sentences are cut at their commas and full stops; each part is set beside the one that is
most like it. Parts that tell only an age move with the clock and are left out.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher

ALIKE = 0.55  # of the letters, figures aside: less, and it is another thing that is said
MOST = 4
_ENDS = re.compile(r"(?:[,;:]\s+|\.\s+|\.$)(?![^()]*\))")  # not within brackets
_SPAN = re.compile(r"\bin \d[^(,;]*")  # a time to go moves with the clock
_FIGURES = re.compile(r"\d+(?:[.:]\d+)*")
_AGE = re.compile(r"\bold\b|\blast (heard|report)|\bago\b|^at \d", re.IGNORECASE)

Part = tuple[str, str]


def parts_moved(before: str, after: str) -> tuple[Part, ...]:
    """Return (what was said, what is said now) of each part that moved; "" where there was none.

    Parameters
    ----------
    before, after : str
        A layer's sentences of the two pictures.
    """
    was, now = _parts(before), _parts(after)
    said, saying = set(map(_still, was)), set(map(_still, now))
    left = [part for part in was if _still(part) not in saying]
    found: list[Part] = []
    for part in now:
        if _still(part) in said or _AGE.search(part):
            continue
        twin = max(left, key=lambda one: _alike(one, part), default="")
        if not twin or _alike(twin, part) < ALIKE:
            twin = ""
        else:
            left.remove(twin)
        found.append((twin, part))
    return tuple(found)


def moved_words(before: str, after: str) -> str:
    """Return what moved as one line: ``16 out and 42 to go → 18 out and 40 to go``."""
    moved = parts_moved(before, after)
    told = [f"{was} → {now}" if was else f"now: {now}" for was, now in moved[:MOST]]
    if len(moved) > MOST:
        told.append(f"and {len(moved) - MOST} more")
    return "; ".join(told)


def _parts(sentence: str) -> list[str]:
    return [part for text in _ENDS.split(sentence) if (part := text.strip())]


def _still(part: str) -> str:
    return _SPAN.sub("in #", part)


def _alike(one: str, other: str) -> float:
    return SequenceMatcher(None, _FIGURES.sub("#", one), _FIGURES.sub("#", other)).ratio()
