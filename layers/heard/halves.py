"""Parts of a number as people say them, before it is read: five and a half, 5 1/2, 5h30.

Also *two hundred and ten*, which is one number; a figure is never parted from the rest of it.
"""

from __future__ import annotations

import re

_DECIMALS = {
    "half": "5", "quarter": "25", "three quarters": "75", "1/2": "5", "1/4": "25", "3/4": "75",
    "½": "5", "¼": "25", "¾": "75",
}  # fmt: skip
_WORDS = {"2": "two", "5": "five", "7": "seven"}
_PART = r"(half|quarter)"
_UNIT = r"((?:hour|minute|mile|cable|knot|met(?:re|er)|fathom|degree)s?)"
_FRACTION = re.compile(r"(?<![\d/.,])(\d{1,3})(?:\s+(1/2|1/4|3/4)(?![\d/])|\s?([½¼¾]))")
_ALONE = re.compile(rf"(?<![\w/.,])(?<!\d\s)(1/2|1/4|3/4|[½¼¾])\s*(?={_UNIT}\b)", re.IGNORECASE)
_CLOCKED = re.compile(
    r"(?<![\w.,:])(\d{1,2})(?:h([0-5]\d)(?![\d])|"
    r"\s?(?:h|hrs?|hours?)\s(?:and\s)?([0-5]?\d)\s?(?:m|mins?|minutes?))\b",
    re.IGNORECASE,
)


def whole_numbers(text: str, words: frozenset[str]) -> str:
    """Return a line with each number that is spoken in parts in one piece.

    Parameters
    ----------
    text : str
        As it was said.
    words : frozenset of str
        The words that are numbers.
    """
    any_ = "|".join(sorted(words, key=len, reverse=True))
    number = rf"\b(\d{{1,4}}|{any_})"
    text = re.sub(rf"{number}\s+(hundred|t(?:h)?ousand)\s+and\s+(?=(?:{any_})\b)", r"\1 \2 ", text,
                  flags=re.IGNORECASE)  # fmt: skip
    text = re.sub(
        rf"(?:\b(an?)|{number})\s+{_UNIT}\s+and\s+a\s+{_PART}\b",
        lambda m: f"{_with(m[2] or '1', m[4])} {m[3]}", text, flags=re.IGNORECASE,
    )  # fmt: skip
    text = re.sub(
        rf"{number}\s+and\s+(?:a\s+{_PART}|(three\s+quarters?))\b",
        lambda m: _with(m[1], m[2] or "three quarters"), text, flags=re.IGNORECASE,
    )  # fmt: skip
    text = _ALONE.sub(lambda m: f"0.{_DECIMALS[m[1]]} ", text)
    text = _FRACTION.sub(lambda m: _with(m[1], m[2] or m[3]), text)
    return _CLOCKED.sub(lambda m: _hours(int(m[1]), int(m[2] or m[3])), text)


def _with(number: str, part: str) -> str:
    decimals = _DECIMALS[part.lower()]
    if number.isdigit():
        return f"{number}.{decimals}"
    return f"{number} point {' '.join(_WORDS[figure] for figure in decimals)}"


def _hours(hours: int, minutes: int) -> str:
    """Return hours and minutes in one unit; thirds of an hour would have no end."""
    return f"{hours + minutes / 60.0:g} h" if minutes % 15 == 0 else f"{hours * 60 + minutes} min"
