"""The identity of a fix: who was where at what time, however it was brought."""

from __future__ import annotations

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
