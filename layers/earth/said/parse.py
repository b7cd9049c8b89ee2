"""Positions as people write them: degrees and minutes, degrees, seconds, MGRS and UTM.

Nothing is guessed: a text that can be read in two ways is refused with a sentence that says
which two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from layers.earth.chart.grids import looks_like_grid, parse_grid
from layers.earth.errors import InputError
from layers.earth.position import Position

ACCEPTED = (
    "49 50.0N 008 30.0W, 49°50'00\"N 8°30'W, 49.8333 -8.5 (north and east positive), "
    "MGRS, or UTM with its zone"
)
_TOKEN = re.compile(r"[+-]?\d+(?:\.\d+)?|[NSEW]|[°'\"]|[,;/\s]+")
_REPLACED = str.maketrans(
    {
        "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "″": '"', "”": '"', "“": '"',
        "º": "°", "˚": "°", "−": "-", "–": "-", "—": "-", "\u00a0": " ", "\u202f": " ",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Angle:
    """Numbers of one angle as found in the text, and its letter if it has one."""

    numbers: tuple[str, ...]
    letter: str


def parse_position(text: str, where: str = "position") -> Position:
    """Return the place that a text names.

    Parameters
    ----------
    text : str
        As a person wrote it.
    where : str
        Field or file and line, for the error.

    Raises
    ------
    InputError
        Not a position, off the earth, or readable in two ways.
    """
    trimmed = text.strip()[:200]
    if not trimmed:
        raise InputError("no position given", where=where, accepted=ACCEPTED)
    if looks_like_grid(trimmed):
        return parse_grid(trimmed, where)
    plain = _plain(trimmed, where)
    tokens = _tokens(plain, trimmed, where)
    letters = [token for token in tokens if token in "NSEW"]
    if not letters:
        return _signed(tokens, trimmed, where)
    if len(letters) == 1:
        _refuse_single(tokens, letters[0], trimmed, where)
    if len(letters) != 2 or len({letter in "NS" for letter in letters}) != 2:
        raise InputError(
            f"{trimmed!r} does not have one N or S and one E or W", where=where, accepted=ACCEPTED
        )
    angles = [_value(angle, trimmed, where) for angle in _lettered(tokens, trimmed, where)]
    by_axis = dict(angles)
    return Position(by_axis["latitude"], by_axis["longitude"])


def _plain(text: str, where: str) -> str:
    """Return the text with one sign for each thing, refusing a comma that could be a point."""
    plain = text.upper().translate(_REPLACED).replace("''", '"')
    plain = re.sub(r"\b(?:LATITUDE|LAT|LONGITUDE|LONG|LON)\b[:=.]?", " ", plain)
    for word, sign in (("DEG(?:REES)?", "°"), ("MIN(?:UTES?)?", "'"), ("SEC(?:ONDS?)?", '"')):
        plain = re.sub(rf"\b{word}\b", sign, plain)
    for word, letter in (("NORTH", "N"), ("SOUTH", "S"), ("EAST", "E"), ("WEST", "W")):
        plain = re.sub(rf"\b{word}\b", letter, plain)
    if re.search(r"\d,\d", plain) and "." not in plain:
        raise InputError(
            f"{text!r}: a comma between figures may be a decimal or a separator",
            where=where,
            accepted="a point for decimals: 49.8333 -8.5",
        )
    if re.search(r"\d-\d", plain):
        if not re.search(r"[NSEW]", plain):
            raise InputError(
                f"{text!r}: a dash between figures may be a sign or a separator",
                where=where,
                accepted="a space before a minus sign, or N, S, E and W",
            )
        plain = re.sub(r"(?<=\d)-(?=\d)", " ", plain)
    return plain


def _tokens(plain: str, text: str, where: str) -> list[str]:
    tokens, at = [], 0
    while at < len(plain):
        found = _TOKEN.match(plain, at)
        if not found:
            raise InputError(
                f"{text!r} is not a position: {plain[at]!r} has no place in it",
                where=where,
                accepted=ACCEPTED,
            )
        token = found[0]
        if token.strip(",;/ \t\r\n"):
            tokens.append(token)
        at = found.end()
    return tokens


def _is_number(token: str) -> bool:
    return token[-1].isdigit()


def _refuse_single(tokens: list[str], letter: str, text: str, where: str) -> None:
    """Say why a text with one letter is no position: it always raises."""
    numbers = tuple(token for token in tokens if _is_number(token))
    last = tokens[-1] == letter
    if len(numbers) == 1 or (letter in "NS" and last):
        _value(_Angle(numbers, letter), text, where)  # may have a worse fault of its own
        missing = "longitude" if letter in "NS" else "latitude"
        raise InputError(f"{text!r} has no {missing}", where=where, accepted=ACCEPTED)
    raise InputError(
        f"{text!r} is ambiguous: only one of latitude and longitude has its letter",
        where=where,
        accepted="a letter on both (49.5N 8.5W) or signs on both (49.5 -8.5)",
    )


def _lettered(tokens: list[str], text: str, where: str) -> list[_Angle]:
    """Split into two angles by their letters, all before or all behind the figures."""
    before = tokens[0] in "NSEW"
    if not before and tokens[-1] not in "NSEW":
        raise InputError(
            f"{text!r}: figures are left over after the letters", where=where, accepted=ACCEPTED
        )
    angles: list[_Angle] = []
    numbers: list[str] = []
    letter = ""
    for token in tokens:
        if token in "NSEW":
            if before:
                if letter:
                    angles.append(_Angle(tuple(numbers), letter))
                    numbers = []
                letter = token
            else:
                angles.append(_Angle(tuple(numbers), token))
                numbers = []
        elif _is_number(token):
            numbers.append(token)
    if before:
        angles.append(_Angle(tuple(numbers), letter))
    return angles


def _signed(tokens: list[str], text: str, where: str) -> Position:
    """Read a text without letters: two signed angles, apart by degree signs or plain decimals."""
    groups: list[list[str]] = []
    if "°" in tokens:
        for number, token in enumerate(tokens):
            if _is_number(token):
                starts = number + 1 < len(tokens) and tokens[number + 1] == "°"
                if starts or not groups:
                    groups.append([])
                groups[-1].append(token)
    else:
        groups = [[token] for token in tokens if _is_number(token)]
    if len(groups) == 1:
        raise InputError(f"{text!r} has only one angle", where=where, accepted=ACCEPTED)
    if len(groups) != 2:
        raise InputError(
            f"{text!r} does not say north or south, east or west", where=where, accepted=ACCEPTED
        )
    values = []
    for numbers, letter in zip(groups, ("N", "E"), strict=True):
        sign = -1.0 if numbers[0].startswith("-") else 1.0
        bare = (numbers[0].lstrip("+-"), *numbers[1:])
        values.append(sign * _value(_Angle(tuple(bare), letter), text, where)[1])
    return Position(values[0], values[1])


def _value(angle: _Angle, text: str, where: str) -> tuple[str, float]:
    """Return ('latitude' or 'longitude', degrees) of one angle, its parts checked."""
    axis, limit = ("latitude", 90.0) if angle.letter in "NS" else ("longitude", 180.0)
    numbers = angle.numbers
    shown = " ".join(numbers) + angle.letter
    if not 1 <= len(numbers) <= 3:
        raise InputError(f"{text!r} is not a position", where=where, accepted=ACCEPTED)
    if any(number[0] in "+-" for number in numbers):
        raise InputError(
            f"{shown!r} has a sign and a letter", where=where, accepted="one or the other"
        )
    if any("." in number for number in numbers[:-1]):
        raise InputError(
            f"{shown!r} has decimals before its last figure", where=where, accepted=ACCEPTED
        )
    if len(numbers) == 1:
        numbers = _unpacked(numbers[0], axis, text, where)
    parts = [float(number) for number in numbers] + [0.0, 0.0]
    for part, name in ((parts[1], "minutes"), (parts[2], "seconds")):
        if part >= 60.0:
            raise InputError(
                f"{shown!r}: {part:g} is not a number of {name}",
                where=where,
                accepted=f"0 to 59.999 {name}",
            )
    degrees = parts[0] + parts[1] / 60.0 + parts[2] / 3600.0
    if degrees > limit:
        raise InputError(
            f"{shown!r} is not a {axis}", where=where, accepted=f"0 to {limit:.0f} degrees"
        )
    return axis, -degrees if angle.letter in "SW" else degrees


def _unpacked(number: str, axis: str, text: str, where: str) -> tuple[str, ...]:
    """Split figures run together: 4950.0 is 49 50.0, 0083000 is 008 30 00.

    A figure lost or doubled leaves a number of figures that nobody writes: it is asked for.
    """
    whole, point, decimals = number.partition(".")
    width = 2 if axis == "latitude" else 3
    if len(whole) <= width:
        return (number,)
    if len(whole) == width + 2:
        return whole[:width], whole[width:] + point + decimals
    if len(whole) == width + 4:
        return whole[:width], whole[width : width + 2], whole[width + 2 :] + point + decimals
    raise InputError(
        f"{text!r}: {axis} with {len(whole)} figures; one is lost or too many",
        where=where,
        accepted=f"{width}, {width + 2} or {width + 4} figures, as in 4310N 00820E",
    )
