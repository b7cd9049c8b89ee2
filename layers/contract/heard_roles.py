"""Roles that all layers share: what is called the same by everybody stands once.

Bounds are those of the models; ``usual`` is where a figure is believed without being asked again
(common practice, no source): a spoken decimal is easily lost, and 28 metres lies within bounds.
"""

from __future__ import annotations

from layers.earth.said import quantity as q
from layers.journal.words.heard import Slot

FARTHEST_M = 500_000.0

POSITION = Slot(key="position", title="position", sort="position",
                cues=("position", "pos", "posn", "located"))  # fmt: skip
TIME = Slot(key="time", title="time", sort="time", cues=("time", "timed", "as of"),
            preps=("", "at", "since", "from", "on", "of"))  # fmt: skip
SHIP = Slot(key="ship", title="ship", sort="name", names=("ship",),
            preps=("", "by", "from", "at", "of", "aboard", "on"))  # fmt: skip
WITHIN = Slot(key="within", title="within (95 %)", sort="quantity", measure=q.LENGTH, unit="m",
              cues=("within", "good to", "accurate to", "accuracy", "plus or minus", "+/-", "±",
                    "give or take"), least=0.1, most=FARTHEST_M,
              offered=("within 1 nmi", "within 2 nmi", "within 5 nmi"))  # fmt: skip
COURSE = Slot(key="course", title="course", sort="direction", alone=True, paired=True,
              cues=("course", "crs", "steering", "going", "making good", "course made good", "cog",
                    "track made good", "making"))  # fmt: skip
SPEED = Slot(key="speed", title="speed", sort="quantity", measure=q.SPEED, unit="kn", alone=True,
             loose=True, cues=("speed", "spd", "making", "sog", "doing", "proceeding at"),
             least=0.0, most=60.0)  # fmt: skip
UP_TO = Slot(key="up_to", title="greatest speed", sort="quantity", measure=q.SPEED, unit="kn",
             cues=("up to",), only_with="speed", least=0.1, most=60.0)  # fmt: skip
HEADING = Slot(key="heading", title="heading", sort="direction", alone=True,
               cues=("heading", "hdg", "ship's head", "head"))  # fmt: skip
BEARING = Slot(key="bearing", title="bearing", sort="direction",
               cues=("bearing", "brg", "relative", "relative bearing"))  # fmt: skip
BEARS = Slot(key="bears", title="bearing from the mark", sort="direction", loose=True,
             only_with="mark", cues=("bears", "bearing", "brg"))  # fmt: skip
BEARING_ERROR = Slot(key="bearing_error", title="plus or minus", sort="quantity", measure=q.ANGLE,
                     unit="deg", alone=True, cues=("plus or minus", "+/-", "±", "give or take"),
                     least=0.01, most=90.0)  # fmt: skip
RANGE = Slot(
    key="range",
    title="range",
    sort="quantity",
    measure=q.LENGTH,
    unit="m",
    loose=True,
    cues=("range", "distance", "rng", "slant range"),
    least=1.0,
    most=FARTHEST_M,
)
RANGE_ERROR = Slot(key="range_error", title="plus or minus", sort="quantity", measure=q.LENGTH,
                   unit="m", cues=("plus or minus", "+/-", "±", "give or take"), least=0.1,
                   most=FARTHEST_M)  # fmt: skip
DEPTH = Slot(
    key="depth",
    title="depth",
    sort="quantity",
    measure=q.LENGTH,
    unit="m",
    alone=True,
    cues=("depth", "water depth", "depth of water", "in depth"),
    least=0.0,
    most=11_000.0,
)
LENGTH = Slot(key="length", title="length", sort="quantity", measure=q.LENGTH, unit="m",
              cues=("length", "long"), least=0.1, most=5_556_000.0)  # fmt: skip
COUNT = Slot(
    key="count",
    title="how many people",
    sort="count",
    loose=True,
    least=0.0,
    most=2_000.0,
    usual=(0.0, 300.0),
    cues=("persons", "number of people"),
)
REFUGE = Slot(key="refuge", title="compartment", sort="name", names=("refuge",),
              preps=("", "in", "of", "from", "at"))  # fmt: skip
MARK = Slot(
    key="mark", title="mark", sort="name", names=("mark", "port"), preps=("from", "off", "of")
)
BY = Slot(key="by", title="by whom", sort="name", names=("ship",), preps=("by", ""))
SHARED: dict[str, Slot] = {
    role.key: role
    for role in (
        POSITION, TIME, SHIP, WITHIN, COURSE, SPEED, UP_TO, HEADING, BEARING, BEARS,
        BEARING_ERROR, RANGE,
        RANGE_ERROR, DEPTH, LENGTH, COUNT, REFUGE, MARK, BY,
    )
}  # fmt: skip
