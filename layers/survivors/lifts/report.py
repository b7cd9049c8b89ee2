"""Lifts, margin and decisions as tables and as sentences that can be read out."""

from __future__ import annotations

import math

from layers.earth.clock import dtg, from_us
from layers.earth.table import Cell, Table
from layers.survivors.chambers.oxygen_dose import SHOWN_AS
from layers.survivors.decisions.report import (
    escape_table,
    gain_table,
    latest_table,
    reading_table,
    regret_table,
    relaxed_table,
)
from layers.survivors.lifts.margin_model import LiftOutlook, Outlook, RefugeOutlook
from layers.survivors.lifts.sortie import Sortie
from layers.survivors.lifts.spread import margin_words
from layers.survivors.report_words import (
    NOT_REACHED,
    at_words,
    hours_words,
    row_sources,
    times_words,
)

CAUTION = (
    "Lifts and chambers: schedules are entered by the user, with who approved them; heliox tables "
    "do not fit people who sat on compressed air. Margins rest on estimates of air, sea and cycle "
    "times and support, not replace, the rescue coordinator and the diving medical officer; "
    "national and local procedures come first."
)


def margin_sentence(outlook: Outlook) -> str:
    """Return the margin as it is read out, the worst refuge first."""
    if outlook.unavailable:
        return f"No margin: {outlook.unavailable}."
    if not outlook.refuges:
        return "Nobody waits in a refuge."
    refuges = sorted(outlook.refuges, key=lambda one: one.margin_h.p50)
    said = "; ".join(_refuge_words(one) for one in refuges)
    persons = sum(one.persons for one in refuges)
    out = f"{outlook.expected_out:.1f} of {persons} expected out in time"
    return f"Margin, {said}; {out}{_next_lift(outlook)}."


def _refuge_words(one: RefugeOutlook) -> str:
    band = f"P10 {margin_words(one.margin_h.p10)}, P90 {margin_words(one.margin_h.p90)}"
    return f"{one.words} ({band}; all out in time in {one.chance * 100:.0f} of 100)"


def _next_lift(outlook: Outlook) -> str:
    waiting = [one for one in outlook.lifts if one.state == "waiting"]
    if not waiting or not math.isfinite(waiting[0].dive_h.p50):
        return ""
    return f"; next lift {waiting[0].key} dives about {at_words(outlook, waiting[0].dive_h.p50)}"


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
    """Return each refuge's two clocks and its margin."""
    return Table(
        heads=(
            "Refuge",
            "Persons",
            "Pressure (bar abs)",
            "First level P10",
            "First level P50",
            "First level P90",
            "Last out P10",
            "Last out P50",
            "Last out P90",
            "Margin P50",
            "Margin P10 to P90 (h)",
            "All out in time (%)",
            "Expected out in time (persons)",
            "Level that binds",
        ),
        rows=tuple(
            (
                one.refuge,
                one.persons,
                None if one.pressure_bar_abs is None else round(one.pressure_bar_abs, 2),
                *times_words(outlook, one.runs_out_h, NOT_REACHED),
                *times_words(outlook, one.last_left_h),
                margin_words(one.margin_h.p50),
                f"{hours_words(one.margin_h.p10)} to {hours_words(one.margin_h.p90)}",
                round(one.chance * 100.0),
                round(one.out_in_time, 1),
                one.binding or "none within the forecast of the air",
            )
            for one in outlook.refuges
        ),
        sources=row_sources(outlook, len(outlook.refuges)),
    )


def level_table(outlook: Outlook) -> Table:
    """Return the chance that all are out before each level, with the level's own source."""
    rows = [
        (
            one.refuge,
            level.level,
            *times_words(outlook, level.runs_out_h, NOT_REACHED),
            margin_words(level.margin_h.p50),
            round(level.chance * 100.0),
            round(level.out_in_time, 1),
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
        "Margin P50",
        "All out before (%)",
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
        at_words(outlook, one.dive_h.p50),
        *times_words(outlook, one.left_h),
        at_words(outlook, one.back_h.p50),
        one.chamber or "none needed",
        None if until is None else at_words(outlook, until.p50),
        round(one.beyond_forecast * 100.0),
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
        )
        for load in held.chambers
    )
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def dose_sentences(outlook: Outlook) -> tuple[str, ...]:
    """Return the schedule, and the stay and oxygen dose of people from each refuge, in words."""
    held = outlook.chambers
    if held is None:
        return ()
    marked = "; INVENTED for an exercise, not to be used on people" if held.invented else ""
    table = (f"Decompression schedule as entered: {held.schedule}{marked}.",)
    return table + tuple(
        f"From the {refuge} refuge: {hours:.1f} h under pressure, {units:.0f} units of oxygen dose "
        f"({SHOWN_AS})."
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
