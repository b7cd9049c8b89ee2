"""One fix told with more digits and with fewer: whether two are the same."""

from __future__ import annotations

from layers.earth.said.digits import decimals, fewer, near
from layers.journal.kinds import Told

FEWEST = 3  # decimals of a degree: with fewer, two fixes a hundred metres apart would be one
SECOND_US = 1_000_000
ALIKE = {"speed_kn": 1e9, "course_true_deg": 360.0, "heading_true_deg": 360.0}  # each and its turn


def same_fix(one: Told, other: Told) -> bool:
    """Return whether two fixes of one ship are the same, to the digits of the coarser.

    Times are the same, or the same second where one of them tells no more. Places are compared to
    the decimals of the place that has fewer, and never more coarsely than `FEWEST`. Speed, course
    and heading must agree, as far as both tell them, to the decimals of the coarser.
    """
    (at_us, said), (other_us, held) = one, other
    whole = at_us % SECOND_US == 0 or other_us % SECOND_US == 0
    if at_us != other_us and not (whole and abs(at_us - other_us) < SECOND_US):
        return False
    places = (("latitude_deg", 360.0), ("longitude_deg", 360.0))
    digits = [max(decimals(fix[name]) for name, _ in places) for fix in (said, held)]
    if min(digits) < FEWEST:
        return False
    if not all(near(said[name], held[name], min(digits), turn) for name, turn in places):
        return False
    for name, turn in ALIKE.items():
        a, b = said.get(name), held.get(name)
        if a is not None and b is not None and not near(a, b, fewer(a, b), turn):
            return False
    return True
