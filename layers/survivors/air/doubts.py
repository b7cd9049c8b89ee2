"""What is doubted, old or remarkable about the air of a refuge, in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.clock import dtg, duration_words, to_us
from layers.earth.said.quantity import figure
from layers.survivors.air.known import RefugeKnown
from layers.survivors.air.learning.learn import Learned
from layers.survivors.air.model import Level
from layers.survivors.chambers.oxygen_dose import (
    CNS_SOURCE,
    SHOWN_AS,
    UPTD_MANY_DAYS,
    refuge_dose,
)
from layers.survivors.chambers.pressure import bar_abs, gas_kpa

STALE_AFTER = timedelta(hours=6)  # readings are agreed about every four hours; our choice


def question(one: RefugeKnown, learnt: Learned) -> str:
    """Return the question about a reading that is far off, empty without one."""
    if learnt.doubt is None:
        return ""
    entry = next(e for e in one.readings if e.id == learnt.doubt.key)
    what = [c for c in learnt.corrections if c.key == learnt.doubt.key and c.doubtful]
    told = ", ".join(
        f"{c.quantity} read {c.read:.2f} {c.unit} where {c.expected_p10:.2f} to "
        f"{c.expected_p90:.2f} was expected"
        for c in what
    )
    impossible = " and ".join(sorted(learnt.doubt.quantities))
    told = told or f"{impossible} as read is not what people live in"
    return (
        f"Doubtful, not used until somebody says it stands: the reading of "
        f"{dtg(entry.record.valid_at)}, {told}. Ask them to read it again; adopt it if it stands."
    )


# What ends life in a closed refuge always, and what does where it is read.
ALWAYS = {"carbon dioxide": "carbon dioxide", "low oxygen": "low oxygen"}
WHERE_READ = {"temperature": ("low temperature", "cold"),
              "carbon monoxide": ("carbon monoxide", "carbon monoxide")}  # fmt: skip


def levels_not_entered(
    told: Iterable[RefugeKnown], levels: Iterable[tuple[Level, str]]
) -> list[str]:
    """Return that nothing is counted of what no level is entered for, in a sentence."""
    entered = {level.quantity for level, _ in levels}
    read = {name for one in told for name, _ in last_read(one)}
    wanted = ALWAYS | dict(pair for name, pair in WHERE_READ.items() if name in read)
    free = [word for quantity, word in wanted.items() if quantity not in entered]
    if not free:
        return []
    return [f"No level of {', no level of '.join(free)} is entered: none of it binds."]


def last_read(one: RefugeKnown) -> tuple[tuple[str, datetime], ...]:
    """Return when each quantity was last read."""
    found: dict[str, datetime] = {}
    for entry in one.readings:
        value, at = entry.value, entry.record.valid_at
        told = {
            "pressure": value.pressure,
            "oxygen": value.oxygen,
            "carbon dioxide": value.carbon_dioxide,
            "temperature": value.temperature_c,
            "carbon monoxide": value.carbon_monoxide_ppm,
        }
        found |= {name: at for name, read in told.items() if read is not None}
        found |= {gas.gas: at for gas in value.other_gases}
    return tuple(found.items())


def cause(water: Floats, leak: Floats) -> str:
    """Say what raises the pressure, water or gas.

    Water takes room and raises every partial pressure; gas raises the whole and dilutes the rest.
    """
    rise = float(np.median(water + leak))
    chance = float(np.mean(water > leak))
    if rise < 1e-3:
        return "the pressure is not seen to rise by water or gas coming in"
    said = f"the pressure rises {figure(rise, 3)} bar an hour by what comes in"
    if chance > 0.9:
        return f"{said}: water, not gas (chance {chance:.0%})"
    if chance < 0.1:
        return f"{said}: gas leaking in, not water (chance {1 - chance:.0%})"
    return f"{said}; water or gas cannot be told apart yet (water {chance:.0%})"


def oxygen_dose(one: RefugeKnown) -> list[str]:
    """Return what days of rich oxygen come to, where it passes what divers are allowed."""
    told = [
        (e.record.valid_at, gas_kpa(e.value.oxygen, bar_abs(e.value.pressure)))
        for e in one.readings
        if e.value.oxygen is not None
    ]
    if len(told) < 2 or told[-1][0] == told[0][0]:
        return []
    hours = np.array([(to_us(at) - to_us(told[0][0])) / 3.6e9 for at, _ in told])
    units, cns = refuge_dose(hours, np.array([kpa for _, kpa in told]))
    if units <= UPTD_MANY_DAYS and (cns is None or cns <= 1.0):
        return []
    nerves = "beyond the table" if cns is None else f"{cns:.0%} of a day's limit"
    return [
        f"Oxygen dose here: {units:.0f} units a day over {hours[-1]:.0f} h ({SHOWN_AS}); many days "
        f"are allowed {UPTD_MANY_DAYS:.0f} each (REPEX, second hand). For the nerves {nerves} "
        f"({CNS_SOURCE})."
    ]


def stale(one: RefugeKnown, at: datetime) -> list[str]:
    """Return that nothing was read for long, where that is so."""
    age = at - one.readings[-1].record.valid_at
    if age <= STALE_AFTER:
        return []
    return [f"No reading for {duration_words(age)}: everything since is worked out, not read."]
