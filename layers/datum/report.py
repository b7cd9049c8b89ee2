"""What the datum layer says: tables, and the sentence that can be read out."""

from __future__ import annotations

from layers.datum.adrift.leeway import leeway_table
from layers.datum.evidence.grading import Grading, grading_table
from layers.datum.result import DatumResult
from layers.earth.clock import clock_words, dtg
from layers.earth.said.quantity import figure
from layers.earth.said.written import distance_words
from layers.earth.table import Cell, Table
from layers.earth.uncertain import chance_words
from layers.earth.units import M_PER_NMI

CAUTION = (
    "A datum is not a fix. It rests on the listed reports and assumptions, any of which may be "
    "wrong. A low probability is not zero and no area is ever cleared. A survival time is never a "
    "reason to stop searching. Supports the officer who runs the search and replaces nobody; "
    "national and local procedures come first. Not for navigation."
)


def sentence(result: DatumResult) -> str:
    """Return the sentence that can be read out."""
    name = "Position by fix" if result.is_fix else "Most probable position"
    reports = "1 report" if result.reports == 1 else f"{result.reports} reports"
    said = (
        f"{name} {result.position}, 95 % within {distance_words(result.radius_95_m)}, "
        f"from {reports}, last heard {clock_words(result.last_heard, result.at)}."
    )
    if len(result.places) > 1:
        said += " " + places_words(result)
    if not result.overdue and result.dead_reckoning is not None:
        return f"No report is overdue: by dead reckoning at {result.dead_reckoning}. {said}"
    if result.contradictions:
        said += f" {len(result.contradictions)} of them " + (
            "does not fit the rest." if len(result.contradictions) == 1 else "do not fit the rest."
        )
    return said


COUNTS = {2: "two", 3: "three", 4: "four", 5: "five"}


def places_words(result: DatumResult) -> str:
    """Return the places she may be in, with their shares, when there are several."""
    many = COUNTS.get(len(result.places), str(len(result.places)))
    each = "; ".join(
        f"{place.position}, {chance_words(place.share)}, 95 % of that within "
        f"{distance_words(place.radius_95_m)}"
        for place in result.places
    )
    elsewhere = 1.0 - sum(place.share for place in result.places)
    rest = f"; elsewhere {chance_words(elsewhere)}" if elsewhere > 0.0 else ""
    return f"She may be in one of {many} places: {each}{rest}."


def table(result: DatumResult) -> Table:
    """Return the answer, line by line."""
    circle = 2.0 * result.circle_radius_m
    ellipse = result.ellipse
    rows: list[tuple[Cell, ...]] = [
        ("Position", str(result.position), "by fix" if result.is_fix else "most probable"),
        ("95 % within", distance_words(result.radius_95_m), "about that position"),
        ("Smallest circle holding 95 %", f"{distance_words(circle)} across",
         str(result.circle_centre)),
        ("Longest way holding 95 %", distance_words(result.along_m), ""),
        ("95 % ellipse", f"{distance_words(ellipse.semi_major_m)} by "
         f"{distance_words(ellipse.semi_minor_m)}",
         f"semi-axes, the longer towards {ellipse.bearing_true_deg:03.0f}°T"),
        ("Area holding 50 / 90 / 95 %", " / ".join(
            f"{figure(result.grid.area_m2(part) / M_PER_NMI**2, 2)}" for part in (0.5, 0.9, 0.95)
        ) + " nmi²", "densest cells first"),
        ("Localisation", "yes" if result.localised else "no",
         result.not_localised_for or
         f"limit {result.limit_across_nmi:g} nmi across (6 is common practice, no source)"),
        *_loss(result),
        ("Reports that count", result.reports, f"last heard {dtg(result.last_heard)}"),
        ("Starting from", "", result.prior_words),
        ("Particles", f"{figure(result.particles, 0)}", result.collapse or
         f"worth {figure(result.effective, 0)} of equal weight"),
        ("Last watch", "", result.moved),
    ]  # fmt: skip
    rows += [("Does not fit", "", said) for said in result.contradictions]
    rows += [("Note", "", said) for said in result.notes]
    return Table(heads=("What", "Value", "Remark"), rows=tuple(rows))


def _loss(result: DatumResult) -> list[tuple[Cell, ...]]:
    lost = result.lost
    if lost.narrowed:
        span = f"5 to 95 %: {dtg(lost.p5)} to {dtg(lost.p95)}"
        return [("Time of loss", dtg(lost.p50), span)]
    return [
        (
            "Time of loss",
            "not known",
            f"between {dtg(lost.first)} and {dtg(lost.last)}; no report narrows it",
        )
    ]


def evidence_table(result: DatumResult) -> Table:
    """Return every report: what it says, how it counts, and the answer without it."""
    rows = tuple(
        (
            item.at,
            item.says + (" ?" if item.disputed else ""),
            item.state,
            item.agreement,
            None if item.shift_m is None else round(item.shift_m / M_PER_NMI, 2),
            None if item.radius_without_m is None else round(item.radius_without_m / M_PER_NMI, 2),
            None if item.chance_wrong is None else round(100.0 * item.chance_wrong, 1),
            item.weight,
            item.residual or item.why,
            item.source,
        )
        for item in result.evidence
    )
    return Table(
        heads=(
            "Time (UTC)",
            "Report",
            "Counts",
            "Agreement",
            "Datum moves without it (nmi)",
            "95 % radius without it (nmi)",
            "Likely wrong (%)",
            "Weight (0 to 1)",
            "Remark",
            "Source",
        ),
        rows=rows,
        sources=tuple(item.key for item in result.evidence),
    )


def adrift_table(result: DatumResult) -> Table:
    """Return the other objects of search."""
    rows = tuple(
        (
            item.name,
            item.persons,
            item.state,
            str(item.position),
            round(item.radius_95_m / M_PER_NMI, 2),
            dtg(item.from_at),
            f"{item.object_type}: {item.leeway_words}",
            "; ".join(item.notes),
        )
        for item in result.adrift
    )
    return Table(
        heads=(
            "Object",
            "Persons",
            "State",
            "Expected position",
            "95 % within (nmi)",
            "Adrift since (UTC)",
            "Leeway and its source",
            "Note",
        ),
        rows=rows,
        sources=tuple(" ".join(item.rests_on) for item in result.adrift),
    )


def contacts_table(result: DatumResult) -> Table:
    """Return the contacts on the bottom against the charted wrecks, likeliest first."""
    rows = tuple(
        (
            item.says,
            str(item.position),
            round(item.from_datum_m / M_PER_NMI, 2),
            item.length_m,
            item.nearest_wreck,
            None if item.wreck_m is None else round(item.wreck_m),
            round(100.0 * item.chance_dissub, 1),
            item.identified,
        )
        for item in result.contacts
    )
    return Table(
        heads=(
            "Contact",
            "Position",
            "From the datum (nmi)",
            "Length (m)",
            "Nearest charted wreck",
            "Distance to it (m)",
            "Chance of being her (%)",
            "Identified",
        ),
        rows=rows,
        sources=tuple(item.key for item in result.contacts),
    )


def owners_table(result: DatumResult) -> Table:
    """Return what the reports that share one observer's error add together."""
    return Table(
        heads=(
            "Whose error",
            "Reports",
            "Datum moves without them (nmi)",
            "95 % radius without them (nmi)",
        ),
        rows=tuple(
            (
                item.owner,
                item.reports,
                round(item.shift_m / M_PER_NMI, 2),
                round(item.radius_without_m / M_PER_NMI, 2),
            )
            for item in result.owners
        ),
    )


def tables(result: DatumResult) -> dict[str, Table]:
    """Return the further tables by title."""
    found = {"Evidence": evidence_table(result)}
    if result.owners:
        found["Observers"] = owners_table(result)
    found["What grades mean"] = grading_table(
        Grading(chances=result.wrong_chances, source=result.wrong_chances_by)
    )
    if result.adrift:
        found["Other objects of search"] = adrift_table(result)
    if result.contacts:
        found["Contacts on the bottom"] = contacts_table(result)
    found["Leeway"] = leeway_table()
    return found
