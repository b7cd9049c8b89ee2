"""The identity of a fix: who was where at what time, however it was brought."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any


def fix_identity(subject: str, at_us: int, fields: Mapping[str, Any]) -> str:
    """Return what makes one fix the same fact in a log, an export of it and an overlapping one.

    Parameters
    ----------
    subject : str
        Whose it is; a receiver's own is not told apart by the name of its file.
    at_us : int
        When, UTC microseconds, as the fix itself or its log dates it.
    fields : mapping
        The position report; places are compared to 0.00001 degree (about a metre), since one
        form of the same fix carries six decimals and another seven.
    """
    who = "own" if subject[:2] == "gp" else subject  # "gps:…" and "gpx:…"
    get = fields.get
    return (
        f"fix:{who}:{at_us}:{fields['latitude_deg']:.5f}:{fields['longitude_deg']:.5f}:"
        f"{get('speed_kn')}:{get('course_true_deg')}:{get('heading_true_deg')}"
    )


def said_identity(kind: str, subject: str, at_us: int, payload: Mapping[str, Any]) -> str:
    """Return the identity of what a station says of herself and says again every few minutes.

    The same words within an hour are one fact; an hour later they are news again, so that a
    name that changes and changes back is followed.
    """
    said = ":".join(f"{value}" for name, value in sorted(payload.items()) if name != "time_from")
    return f"said:{kind}:{subject}:{at_us // 3_600_000_000}:{said}"


_ARMOURED = re.compile(rb"!..VD[MO],1,1,[^,]*,[^,]*,([0-W`-w]+),")
# where the UTC second of a position stands: messages 1 to 3, 18, 19 (ITU-R M.1371-5, annex 8)
_SECOND_AT = {1: 137, 2: 137, 3: 137, 18: 133, 19: 133}
MINUTE_US = 60_000_000


def utc_second(line: bytes) -> int | None:
    """Return the second of the minute that an AIS position says of itself, None where it is not."""
    found = _ARMOURED.search(line)
    if found is None:
        return None
    bits = 0
    for letter in found[1]:
        bits = bits << 6 | (letter - 48 if letter < 96 else letter - 56)
    count = 6 * len(found[1])
    at = _SECOND_AT.get(bits >> (count - 6))
    if at is None or at + 6 > count:
        return None
    second = bits >> (count - at - 6) & 63
    return second if second < 60 else None


def live_identity(
    line: bytes, received_us: int, subject: str, fields: Mapping[str, Any]
) -> str | None:
    """Return the identity of a fix heard live, the same from whichever receiver heard it.

    The fix tells its own second; its minute is the one that brings it nearest to when it was
    heard. Receivers whose clocks differ by less than half a minute thus agree, and a moored ship
    that says the same three minutes later is news.

    Parameters
    ----------
    line : bytes
        As received, with or without a tag block.
    received_us : int
        By the receiver's clock, UTC microseconds.
    subject, fields : str, mapping
        As `fix_identity` takes them.

    Returns
    -------
    str or None
        None where the line tells no second.
    """
    second = utc_second(line)
    if second is None:
        return None
    minutes = round((received_us - second * 1_000_000) / MINUTE_US)
    return fix_identity(subject, minutes * MINUTE_US + second * 1_000_000, fields)
