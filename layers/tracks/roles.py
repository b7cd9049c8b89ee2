"""What a ship's number gives away of her role."""

from __future__ import annotations

# search and rescue transmitter, man overboard, beacon
DISTRESS_PREFIXES = ("970", "972", "974")


def role_of(subject: str) -> str:
    """Return the role that an MMSI gives away (ITU-R M.585; prefixes from memory)."""
    number = subject.removeprefix("mmsi:")
    if subject.startswith("mmsi:") and number.startswith(DISTRESS_PREFIXES):
        return "distress transmitter"
    if subject.startswith("mmsi:111"):
        return "aircraft"
    return "other"
