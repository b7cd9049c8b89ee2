"""What a release sees of ships: other traffic; of those that take part only that they do.

Where her place is withheld no fix of a ship that takes part is read, ashore or at sea. Her course
prolonged crosses the place within a quarter of a mile, with one mile or with fifty taken away
round it; a time of arrival and a speed give a circle. Whether a fix is still harmless can not be
told from the fix. Who takes part is whoever the watch has entered with a role, and every
transmitter of distress and aircraft of search that its number gives away. AIS itself is public:
what is protected is what this plot makes of it.
"""

from __future__ import annotations

from collections.abc import Callable

from layers.earth.tells import Tells
from layers.journal.releases.rules import PLACE, WHOLE, Let, Rule, only
from layers.tracks.model import role_of


def _who_take_part(let: Let) -> Callable[[str], bool]:
    if not let.release.withholds(Tells.POSITION):
        return lambda subject: False
    entered = frozenset(
        entry.value.subject
        for entry in let.whole.entries("tracks.vessel")
        if entry.value.role != "other"
    )
    return lambda subject: subject in entered or role_of(subject) != "other"


RULES: dict[str, Rule] = {
    "tracks.position": only(
        "subject", "latitude_deg", "longitude_deg", "speed_kn", "course_true_deg",
        "heading_true_deg", "time_from", "said_by", "nav_status",
        hides=_who_take_part, column="subject", looks=("tracks.vessel",),
    ),
    "tracks.static": WHOLE,
    "tracks.vessel": WHOLE,
    "tracks.route": PLACE,
    # a call for help and a mark laid over a wreck may stand where she lies
    "tracks.safety_text": PLACE,
    "tracks.aid": PLACE,
    "tracks.area": PLACE,
}  # fmt: skip
