"""Readings that stand at a level or past it: whatever is worked out, they are not denied.

What is learnt of instruments and of how people use their stores can explain away, step by step,
readings that rise past a level. People are not told that a level is hours away while the last
reading of it says that it is there: it counts as reached at least, until it is read again.
"""

from __future__ import annotations

from layers.earth.clock import dtg
from layers.earth.said.quantity import figure
from layers.journal.known import Entry
from layers.survivors.air.known import RefugeKnown
from layers.survivors.air.learning.trend import CELSIUS, PPM, TRENDED, quantity_of, value_of
from layers.survivors.air.levels import LevelHours
from layers.survivors.air.model import AirReading, Level
from layers.survivors.chambers.pressure import bar_abs, gas_kpa

FALLS = ("low oxygen", "low temperature")
GAS = {"carbon dioxide": "carbon_dioxide", "low oxygen": "oxygen", "high oxygen": "oxygen"}


def past_level(one: RefugeKnown, level: Level) -> Entry | None:
    """Return the last reading of what a level is of if it is at the level or past it."""
    read = [(e, _read(e.value, level)) for e in one.readings if not e.disputed]
    told = [(entry, value) for entry, value in read if value is not None]
    if not level.holds_for(one.refuge) or not told:
        return None
    entry, value = told[-1]
    past = value <= level.limit if level.quantity in FALLS else value >= level.limit
    return entry if past else None


def past_questions(
    one: RefugeKnown, levels: tuple[tuple[Level, str], ...], hours: tuple[LevelHours, ...]
) -> tuple[str, ...]:
    """Return the question about each level that was read as reached and is not worked out so."""
    found, reached = [], {each.name for each in hours if each.reached}
    for level, _ in levels:
        entry = past_level(one, level)
        if entry is None or level.name in reached or not one.people:
            continue
        said = f"{figure(_read(entry.value, level) or 0.0, 3)} {_unit(level)}"
        found.append(
            f"Read as reached: the level {level.name!r} ({figure(level.limit, 3)} {_unit(level)}), "
            f"{said} at {dtg(entry.record.valid_at)}; by all readings together it is not. It "
            "counts as reached at least until it is read again."
        )
    return tuple(found)


def _read(reading: AirReading, level: Level) -> float | None:
    """Return what a reading says in the unit of the level's limit, None where it was not read."""
    if level.quantity == "pressure":
        return bar_abs(reading.pressure)
    if level.quantity in TRENDED:
        return value_of(reading, quantity_of(level))
    gas = getattr(reading, GAS.get(level.quantity, ""), None)
    return None if gas is None else gas_kpa(gas, bar_abs(reading.pressure))


def _unit(level: Level) -> str:
    if level.quantity == "pressure":
        return "bar absolute"
    if level.quantity in TRENDED:
        return CELSIUS if level.quantity.endswith("temperature") else PPM
    return "kPa"
