"""Column heads taken apart: what a column holds, and the unit that stands beside its name.

``sog (m/s)``, ``Speed over ground [kn]``, ``speed_kmh`` and ``SOG`` are one column in four units.
A unit that is written is honoured; one that is not known costs the column, and it is said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from layers.earth.units import M_PER_NMI, M_S_PER_KN

_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]\s*$")
_TAIL = re.compile(
    r"^(?P<name>.+?)[ _](?P<unit>knots?|kts?|kn|m_?s|mps|km_?h|kph|mph|degrees|deg|rad|utc|gmt|"
    r"local|lst|lt)$"
)
_KMH, _MPH = 1000.0 / M_PER_NMI, 1609.344 / M_PER_NMI  # a statute mile is 1,609.344 m
# Units as they are written (small letters, no blanks) -> what makes the quantity's own of them;
# "" is no unit written: the one that the quantity always has at sea.
KNOTS: dict[str, float] = {
    **dict.fromkeys(("", "kn", "kt", "kts", "knot", "knots"), 1.0),
    **dict.fromkeys(("m/s", "ms", "m_s", "mps", "ms-1", "m.s-1", "m/sec"), 1.0 / M_S_PER_KN),
    **dict.fromkeys(("km/h", "kmh", "km_h", "kph", "kmh-1"), _KMH),
    **dict.fromkeys(("mph", "mi/h"), _MPH),
    **dict.fromkeys(("0.1kn", "1/10kn", "knots/10", "kn/10", "0.1knots", "1/10knot"), 0.1),
}
DEGREES: dict[str, float] = {
    **dict.fromkeys(
        ("", "deg", "degree", "degrees", "°", "°t", "degt", "degrees_true", "degtrue", "dd",
         "decimaldegrees", "wgs84"), 1.0),
    **dict.fromkeys(("0.1deg", "1/10deg", "deg/10", "0.1°", "1/10°"), 0.1),
    **dict.fromkeys(("rad", "radian", "radians"), 57.29577951308232),
}  # fmt: skip
# Of the angles, those that are only a latitude's or only a longitude's.
NORTH = dict.fromkeys(("degrees_north", "°n", "degn", "deg_n", "degreesn"), 1.0)
EAST = dict.fromkeys(("degrees_east", "°e", "dege", "deg_e", "degreese"), 1.0)
UTC_WORDS = ("", "utc", "gmt", "z", "zulu", "ut")


def parted(head: str) -> tuple[str, str]:
    """Return a head's name and its unit, both in small letters without blanks; "" without one."""
    small = " ".join(head.strip().strip('"').lower().split())  # a run of blanks is one
    found = _BRACKETS.match(small) or _TAIL.match(small)
    if found is None:
        return squeezed(small), ""
    return squeezed(found["name"]), found["unit"].strip().replace(" ", "")


def units_below(cells: Iterable[str]) -> bool:
    """Return whether a row holds the units of the columns: two say theirs, one of them an angle."""
    told = [cell.strip().strip('"').lower().replace(" ", "") for cell in cells]
    angles = sum(unit in DEGREES | NORTH | EAST for unit in told if unit)
    return angles > 0 and angles + sum(unit in (*KNOTS, *UTC_WORDS) for unit in told if unit) > 1


def squeezed(name: str) -> str:
    """Return a name as names are compared: small letters and figures alone."""
    return re.sub(r"[^a-z0-9]", "", name.lower())
