"""Names that may be the one that was said: a letter slipped, a word left out."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

NEAR = 0.75  # of two names that may be one; common practice, no source


def near_names(said: str, names: Iterable[str]) -> list[str]:
    """Return the names that may be the one that was said; "raft 2" is not near "raft 1"."""
    wanted = _plain(said)
    plain = {_plain(each): each for each in names}
    alike = [one for one in plain if _may_be_one(_which(one), _which(wanted))]
    return [plain[one] for one in get_close_matches(wanted, alike, n=3, cutoff=NEAR)]


def _may_be_one(one: list[str], other: list[str]) -> bool:
    """Whether two names tell the same one of a sort; where one tells less it may be either."""
    return one == other or len(one) != len(other)


def _which(name: str) -> list[str]:
    """Return the numbers and single letters of a name: they tell one of a sort from another."""
    return [word for word in name.split() if word.isdigit() or len(word) == 1]


_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6"}
_LOOK = {"l": "1", "i": "1", "o": "0"}  # alone in a name they are read, and typed, as figures


def _plain(name: str) -> str:
    words = name.casefold().replace("-", " ").split()
    return " ".join(_LOOK.get(word, _NUMBERS.get(word, word)) for word in words)
