"""The muster as tables and as one sentence that can be read out."""

from __future__ import annotations

from layers.contract import Moment
from layers.earth.clock import dtg, duration_words
from layers.earth.table import Table
from layers.earth.told import InputAge, PersonsNow
from layers.survivors.air import report as air_report
from layers.survivors.compute import MarginResult, SurvivorsResult
from layers.survivors.lifts import report as lift_report
from layers.survivors.muster import people_report
from layers.survivors.muster.model import FITNESS, PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState
from layers.survivors.muster.persons import counts, persons_of

PEOPLE_CAUTION = (
    "People are shown as reported at a time; unknown is not dead. Medical detail is in "
    "confidence. This supports and does not replace the medical officer and the rescue "
    "coordinator; national and local procedures come first."
)
MARGIN_CAUTION = f"{air_report.CAUTION} {lift_report.CAUTION}"
COUNT_WORDS = {
    "in_hull": "in the hull",
    "in_vehicle": "in the vehicle",
    "adrift": "adrift",
    "not_heard_of": "not heard of",
    "out": "out",
    "dead": "dead",
    "missing": "missing",
}


def table(result: SurvivorsResult) -> Table:
    """Return the muster by place; the last row is everybody on board."""
    who = result.muster
    rows = [_row(place) for place in who.places]
    fitness = who.by_fitness
    sources = (*(" ".join(place.rests_on) for place in who.places), " ".join(who.rests_on))
    total = ("on board (POB)", who.pob, *(fitness[f] for f in FITNESS), None, None)
    if who.counts_only:  # what is withheld has no column: an empty one would read as none
        return Table(
            heads=("Place", "Persons", "Last change (UTC)"),
            rows=(
                *((row[0], row[1], row[-1]) for row in rows),
                ("on board (POB)", who.pob, None),
            ),
            sources=sources,
        )
    return Table(
        heads=(
            "Place",
            "Persons",
            *(f"{f.capitalize()} (persons)" for f in FITNESS),
            "Highest exposure (bar absolute)",
            "Last change (UTC)",
        ),
        rows=(*rows, total),
        sources=sources,
    )


def _row(place: PlaceState) -> tuple[str | int | float | None, ...]:
    exposure = max(
        (lot.exposure_bar_abs for lot in place.lots if lot.exposure_bar_abs is not None),
        default=None,
    )
    changed = dtg(place.changed_at) if place.changed_at else None
    name = f"{place.name} (disputed)" if place.disputed else place.name
    counts = (place.of(f) for f in FITNESS)
    return (name, place.persons, *counts, _rounded(exposure), changed)


def _rounded(bar: float | None) -> float | None:
    return None if bar is None else round(bar, 2)


def lot_table(who: Muster) -> Table:
    """Return the persons by place, fitness, exposure and priority; no names."""
    return Table(
        heads=("Place", "Persons", "Fitness", "Exposure (bar absolute)", "Priority (1 first)"),
        rows=tuple(
            (place.name, lot.persons, lot.fitness, _rounded(lot.exposure_bar_abs), lot.priority)
            for place in who.places
            for lot in place.lots
        ),
    )


def persons(result: SurvivorsResult, moment: Moment | None = None) -> PersonsNow:
    """Return everybody on board, each in exactly one count."""
    return persons_of(result.muster)


def inputs(result: SurvivorsResult, moment: Moment | None = None) -> tuple[InputAge, ...]:
    """Return when the people were last heard of: headcount, move or reading of their air."""
    at = result.muster.last_report_at
    return (InputAge(what="last report of the people", at=at),) if at is not None else ()


def sentence(result: SurvivorsResult) -> str:
    """Return the muster as it is read out."""
    who = result.muster
    found = counts(who)
    hull = [p for p in who.places if p.sort is PlaceSort.REFUGE and p.alive]
    where = ", ".join(f"{p.name} {p.alive}" for p in hull)
    now = persons_of(who)
    parts = [
        f"{now.figure(name)} {COUNT_WORDS[name]}" + (f" ({where})" if name == "in_hull" else "")
        for name, count in found.items()
        if count or name in now.between
    ]
    said = f"Of {now.figure('on_board')} on board: " + ", ".join(parts)
    if who.pob_disputed:
        said += f"; {who.pob_disputed} of those on board disputed"
    if who.conflicts:
        said += f"; {len(who.conflicts)} accounts do not agree"
    return f"{said}; {_age(who, guarded=result.guarded)}."


def _age(who: Muster, *, guarded: bool) -> str:
    if guarded:  # readings of the air are reports of people too, and are not read here
        told = who.last_report_at
        return "no count yet" if told is None else f"last count {dtg(told)}"
    if who.last_report_at is None:
        return "no report of people yet"
    age = duration_words(who.at - who.last_report_at)
    return f"last report {dtg(who.last_report_at)}, {age} old"


def tables(result: SurvivorsResult) -> dict[str, Table]:
    """Return the further tables: accounts that do not agree, and who waits where."""
    if result.guarded:
        return _counts_alone(result)
    found = {
        "Waiting in the refuges": Table(
            heads=(
                "Refuge",
                "Persons",
                "Stretcher (persons)",
                "Pressure (bar absolute)",
                "Rescue seat",
                "Dry or flooded",
            ),
            rows=tuple(
                (r.refuge, r.persons, r.stretcher, _rounded(r.pressure_bar_abs), r.seat, r.water)
                for r in result.refuges
            ),
        )
    }
    if any(place.lots for place in result.muster.places):
        found["By fitness, exposure and priority"] = lot_table(result.muster)
    if result.muster.conflicts:
        found["Accounts that do not agree"] = Table(
            heads=("Place", "What does not agree", "Difference (persons)"),
            rows=tuple((c.place, c.text, c.difference) for c in result.muster.conflicts),
            sources=tuple(" ".join(c.rests_on) for c in result.muster.conflicts),
        )
    return found | people_report.people_tables(result.surface, result.hospital)


def _counts_alone(result: SurvivorsResult) -> dict[str, Table]:
    """Return what a release that withholds the boat's inside may have: counts, and hospitals."""
    found = {
        "Waiting in the refuges": Table(
            heads=("Refuge", "Persons"),
            rows=tuple((r.refuge, r.persons) for r in result.refuges),
        )
    }
    if result.muster.conflicts:
        found["Accounts that do not agree"] = Table(
            heads=("Place", "What does not agree", "Difference (persons)"),
            rows=tuple((c.place, c.text, c.difference) for c in result.muster.conflicts),
        )
    if result.hospital.hospitals:
        found["Hospital places"] = people_report.hospital_table(result.hospital, flights=False)
    return found


def margin_sentence(result: MarginResult) -> str:
    """Return the air and the margin as they are read out."""
    spoken = [air_report.sentence(result.air)]
    if result.air.refuges:
        spoken.append(lift_report.margin_sentence(result.outlook))
    if result.rough:
        spoken.append(f"Rough, from {result.outlook.draws} draws: refining.")
    return " ".join(part for part in spoken if part)


def margin_table(result: MarginResult) -> Table:
    """Return each refuge's two clocks and its margin."""
    return lift_report.refuge_table(result.outlook)


def margin_tables(result: MarginResult) -> dict[str, Table]:
    """Return the air, the lifts, the chambers and the decisions as tables."""
    return air_report.air_tables(result.air) | lift_report.tables(result.outlook)
