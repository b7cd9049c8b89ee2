"""Lifts, margin and decisions as tables and as sentences that can be read out."""

from __future__ import annotations

import math

import numpy as np

from layers.earth.clock import clock_words, dtg, from_us
from layers.earth.table import Cell, Table
from layers.earth.uncertain import Number, Quantity
from layers.survivors.chambers.chamber import ChamberLoad, Occupancy
from layers.survivors.chambers.oxygen_dose import CNS_SOURCE, SHOWN_AS
from layers.survivors.decisions.report import (
    escape_table,
    gain_table,
    latest_table,
    reading_table,
    regret_table,
    relaxed_table,
)
from layers.survivors.lifts.margin_model import LiftOutlook, Outlook, RefugeOutlook
from layers.survivors.lifts.sorties.sortie import Sortie
from layers.survivors.lifts.spread import Spread3, margin_words, said_chance, said_margin
from layers.survivors.report_words import (
    NOT_PLANNED,
    NOT_REACHED,
    at_words,
    hours_words,
    persons_words,
    row_sources,
    times_words,
)

NO_RUN = ("held", "stopped")
CAUTION = (
    "Lifts and chambers: schedules are entered by the user, with who approved them; heliox tables "
    "do not fit people who sat on compressed air. Margins rest on estimates of air, sea and cycle "
    "times and support, not replace, the rescue coordinator and the diving medical officer; "
    "national and local procedures come first."
)


def margin_sentence(outlook: Outlook) -> str:
    """Return the margin as it is read out, the refuge to look at first in front."""
    if outlook.unavailable:
        return f"Margin not known: {outlook.unavailable}."
    if not outlook.refuges:
        return "Nobody waits in a refuge."
    refuges = sorted(outlook.refuges, key=lambda one: one.rank)
    said = "; ".join(_refuge_words(one) for one in refuges)
    return f"Margin if nobody leaves, {said}; {total_words(outlook)}{_next_lift(outlook)}."


def total_words(outlook: Outlook) -> str:
    """Return how many are expected out in time, of all there are to bring out."""
    said = f"of {outlook.to_bring} to bring out {persons_words(outlook.out_in_time)} in time"
    if outlook.not_heard:
        out = said_chance(outlook.refuges_out)
        said += f"; all in the refuges in time {_in(out)}, {outlook.not_heard_said} not heard of"
        return said
    return f"{said}; all out in time {_in(said_chance(outlook.all_out))}"


def _in(chance: str) -> str:
    return chance if chance.startswith(("between", "not known", "at ")) else f"in {chance}"


def _refuge_words(one: RefugeOutlook) -> str:
    if not one.known:
        return one.words
    parts = [f"{one.binding} binds" if one.binding else "no level within the time looked ahead"]
    if isinstance(one.nobody, Number):
        parts += _band_words(one.nobody)
    parts.append(f"{said_margin(one.planned)} if the lifts go as planned")
    parts.append(f"all out in time {_in(said_chance(one.chance))}")
    return f"{one.words} ({'; '.join(parts)})"


def _band_words(found: Number) -> list[str]:
    low = "not all are out in a tenth of the cases" if found.p10 is None else ""
    low = low or f"P10 {margin_words(found.p10 or 0.0)}"
    high = f"P90 {margin_words(found.p90)}" if found.p90 is not None else "P90 no level within it"
    return [f"{low}, {high}"]


def _next_lift(outlook: Outlook) -> str:
    one = outlook.next_lift
    if one is None:
        return ""
    if one.unforecast:
        return f"; when next lift {one.key} dives is not known: no forecast says that it may"
    return f"; next lift {one.key} dives about {at_words(outlook, one.dive_h.p50)}"


def tables(outlook: Outlook) -> dict[str, Table]:
    """Return every table of lifts, margin and decisions by its title."""
    if outlook.unavailable:
        return {}
    found = {
        "Margin by refuge": refuge_table(outlook),
        "Margin by level": level_table(outlook),
        "Lifts": lift_table(outlook),
        "Chambers": chamber_table(outlook),
        "Cycle times learnt": learnt_table(outlook),
    }
    if outlook.sorties:
        found["Sorties under way"] = sortie_table(outlook)
    if outlook.decisions is not None:
        found |= {
            "What gains most": gain_table(outlook),
            "What binds now": relaxed_table(outlook),
            "Latest starts": latest_table(outlook),
            "Regret": regret_table(outlook),
            "Reading worth most": reading_table(outlook),
            "Escape against waiting": escape_table(outlook),
        }
    return {title: table for title, table in found.items() if table.rows}


def refuge_table(outlook: Outlook) -> Table:
    """Return each refuge's two clocks and its two margins."""
    return Table(
        heads=(
            "Refuge",
            "Persons",
            "Pressure (bar abs)",
            "If nobody leaves",
            "If nobody leaves P10 to P90 (h)",
            "If the lifts go as planned",
            "All out in time (of 100)",
            "Expected out in time (persons)",
            "Level that binds",
            "First level P10",
            "First level P50",
            "First level P90",
            "Last out P10",
            "Last out P50",
            "Last out P90",
        ),
        rows=tuple(
            (
                one.refuge,
                one.persons,
                None if one.pressure_bar_abs is None else round(one.pressure_bar_abs, 2),
                said_margin(one.nobody),
                band_of(one.nobody),
                said_margin(one.planned),
                said_chance(one.chance),
                persons_words(one.out_in_time),
                one.binding or ("none within the time looked ahead" if one.known else "not known"),
                *_times(outlook, one.alone_h, NOT_REACHED),
                *_times(outlook, one.last_left_h),
            )
            for one in outlook.refuges
        ),
        sources=row_sources(outlook, len(outlook.refuges)),
    )


def _times(outlook: Outlook, hours: Spread3 | None, never: str = NOT_PLANNED) -> tuple[str, ...]:
    return ("not known",) * 3 if hours is None else times_words(outlook, hours, never)


def band_of(found: Quantity) -> str:
    """Return the P10 and P90 of a margin, in hours."""
    if not isinstance(found, Number):
        return "not known"
    low = "not all out" if found.p10 is None else hours_words(found.p10)
    high = "no level reached" if found.p90 is None else hours_words(found.p90)
    return f"{low} to {high}"


def level_table(outlook: Outlook) -> Table:
    """Return the chance that all are out before each level, with the level's own source."""
    rows = [
        (
            one.refuge,
            level.level,
            *_times(outlook, level.runs_out_h, NOT_REACHED),
            said_margin(level.margin),
            said_chance(level.chance),
            persons_words(level.out_in_time),
            level.source,
        )
        for one in outlook.refuges
        for level in one.levels
    ]
    heads = (
        "Refuge",
        "Level",
        "Reached P10",
        "Reached P50",
        "Reached P90",
        "Margin if nobody leaves",
        "All out before (of 100)",
    )
    more = ("Expected out before (persons)", "Level's source")
    return Table(heads=(*heads, *more), rows=tuple(rows), sources=row_sources(outlook, len(rows)))


def lift_table(outlook: Outlook) -> Table:
    """Return the plan lift by lift, the held ones last."""
    rows = tuple(_lift_row(outlook, one) for one in (*outlook.lifts, *outlook.held))
    return Table(
        heads=(
            "Lift",
            "Vehicle",
            "Refuge",
            "Walking (persons)",
            "Stretcher (persons)",
            "Seats taken",
            "Ballast given up (kg)",
            "State",
            "Dive P50",
            "Hatch shut P10",
            "Hatch shut P50",
            "Hatch shut P90",
            "On deck P50",
            "Chamber",
            "Under pressure until P50",
            "Beyond the forecast (%)",
            "Waits at the surface for the sea (%)",
            "Why it does not run",
        ),
        rows=rows,
        sources=row_sources(outlook, len(rows)),
    )


def _lift_row(outlook: Outlook, one: LiftOutlook) -> tuple[Cell, ...]:
    until = one.chamber_until_h
    return (
        one.key,
        one.vehicle,
        one.refuge,
        one.walking,
        one.stretcher,
        one.seats,
        round(one.ballast_kg),
        one.state,
        *_lift_times(outlook, one),
        one.chamber or ("" if one.state in NO_RUN else "none needed"),
        None if until is None else at_words(outlook, until.p50),
        round(one.beyond_forecast * 100.0),
        round(one.caught * 100.0),
        one.stopped,
    )


UNFORECAST = "not known: no forecast says that it may"


def _lift_times(outlook: Outlook, one: LiftOutlook) -> tuple[str, ...]:
    """Return dive, hatch shut (P10, P50, P90) and deck; a dash each for one that does not run."""
    if one.state in NO_RUN:
        return ("–",) * 5
    return (
        UNFORECAST if one.unforecast else at_words(outlook, one.dive_h.p50),
        *times_words(outlook, one.left_h),
        at_words(outlook, one.back_h.p50),
    )


def chamber_table(outlook: Outlook) -> Table:
    """Return each chamber: most persons in it at once, and when it is free of them."""
    held = outlook.chambers
    heads = (
        "Chamber",
        "Places",
        "Attendants",
        "Most in it at once (persons)",
        "Free from P50",
        "Places free: now, then (P50)",
    )
    if held is None:
        return Table(heads=heads, rows=())
    rows = tuple(
        (
            load.name,
            load.places,
            load.attendants,
            int(load.persons[2].max()),
            at_words(outlook, load.free_from_h) if math.isfinite(load.free_from_h) else "not used",
            free_words(held, load),
        )
        for load in held.chambers
    )
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def free_words(held: Occupancy, load: ChamberLoad) -> str:
    """Return how many places are free from when on: ``16, 2 from 170605Z, 16 from 180735Z``."""
    free = load.free
    turns = [0, *(int(n) + 1 for n in np.flatnonzero(np.diff(free)))]
    told = [f"{int(free[0])}"]
    times = [from_us(int(us)) for us in held.at_us]
    told += [f"{int(free[n])} from {clock_words(times[n], times[0])}" for n in turns[1:]]
    return ", ".join(told)


def nerves_words(share: float | None) -> str:
    """Return the share of the nerves' limit of oxygen that a stay takes."""
    return "beyond the table of limits" if share is None else f"{share:.0%} of the limit"


def dose_sentences(outlook: Outlook) -> tuple[str, ...]:
    """Return the schedule, and the stay and oxygen dose of people from each refuge, in words."""
    held = outlook.chambers
    if held is None:
        return ()
    nerves = dict(held.nerves)
    marked = "; INVENTED for an exercise, not to be used on people" if held.invented else ""
    table = (f"Decompression schedule as entered: {held.schedule}{marked}.",)
    return table + tuple(
        f"From the {refuge} refuge: {hours:.1f} h under pressure, {units:.0f} units of oxygen dose "
        f"({SHOWN_AS}); for the nerves {nerves_words(nerves[refuge])} ({CNS_SOURCE})."
        if hours
        else f"From the {refuge} refuge: the table asks for no stay under pressure."
        for refuge, hours, units in held.dose_units
    )


def learnt_table(outlook: Outlook) -> Table:
    """Return what the sorties took against the estimates they replace."""
    learnt = outlook.setting.learnt if outlook.setting else ()
    rows = tuple(
        (
            one.vehicle,
            one.phase.value,
            round(one.estimated_min),
            round(one.taken_min),
            one.sorties,
        )
        for one in learnt
    )
    heads = ("Vehicle", "Phase", "Estimated (min)", "Taken (min)", "Sorties seen")
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def sortie_table(outlook: Outlook) -> Table:
    """Return the sorties under way: reserve against need, and the next times that matter."""
    return Table(
        heads=(
            "Vehicle",
            "Lift",
            "Phase",
            "Since the dive (min)",
            "Battery (kWh)",
            "Rest of the sortie needs (kWh)",
            "Reserve (kWh)",
            "Life support (h)",
            "Rest needs (h)",
            "Next report due",
            "Turn back at the latest",
            "Because of",
            "On deck about",
        ),
        rows=tuple(_sortie_row(outlook, one) for one in outlook.sorties),
        sources=tuple(" ".join(one.rests_on) for one in outlook.sorties),
    )


def _sortie_row(outlook: Outlook, one: Sortie) -> tuple[Cell, ...]:
    return (
        one.vehicle,
        one.lift,
        one.phase.value,
        round((outlook.at_us - one.dived_us) / 60e6),
        *(
            ("not told",) * 3
            if "battery_kwh" in one.not_told
            else (
                round(one.battery_kwh, 1),
                round(one.battery_need_kwh, 1),
                round(one.reserve_kwh, 1),
            )
        ),
        "not told" if "life_support_h" in one.not_told else round(one.life_support_h, 1),
        round(one.life_support_need_h, 1),
        dtg(from_us(one.next_due_us)),
        "on its way back" if one.returning else dtg(from_us(one.turn_back_us)),
        "" if one.returning else one.turn_back_because,
        dtg(from_us(one.on_deck_us)),
    )
