"""The whole answer: from what is known to where she most probably is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from layers.contract import Moment, Others
from layers.datum.adrift.adrift import adrift
from layers.datum.base import Base, base_of, upto
from layers.datum.containment import (
    cell_sums,
    ellipse_95,
    grid_of,
    quantile,
    smallest_circle,
    span,
)
from layers.datum.evidence.aims import spots
from layers.datum.evidence.evidence import (
    BUILDERS,
    Built,
    Setting,
    build,
    contact_chance,
    weightings,
    wreck_beside,
)
from layers.datum.evidence.fix_lines import line_of
from layers.datum.evidence.influence import Answer, answer_of, judged, moved_since
from layers.datum.evidence.net_fix import best_fix, net_fix
from layers.datum.evidence.plane import WGS84
from layers.datum.evidence.searched import NotSeenTerm
from layers.datum.evidence.sighted import sighted
from layers.datum.ground import GroundedPrior, ground_of
from layers.datum.particles import Aimed, Cloud, estimate, weights
from layers.datum.prior import States, area_m2, places_m
from layers.datum.reckoned import reckoned
from layers.datum.result import Adrift, Contact, DatumResult, Searched
from layers.earth.clock import clock_words
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.quantity import figure
from layers.earth.shore.land import Land
from layers.earth.told import PlaceShare
from layers.earth.units import M_PER_NMI
from layers.earth.values import (
    ConditionsField,
    DepthGrid,
    FoundFix,
    TranspondersValue,
    WeatherValue,
)
from layers.journal.known import Entry, Known
from layers.journal.naming import data_folder

Floats = npt.NDArray[np.float64]
SEED = 650_713
LIMIT_ACROSS_NMI = 6.0  # common practice, no source; the watch sets its own
FIX_M = 300.0  # a circle this small, resting on a place found on the bottom, is called a fix
WATCH_H = 4.0


def compute(known: Known, others: Others, moment: Moment) -> DatumResult:
    """Return where she most probably is, as known, at a time.

    Raises
    ------
    InputError
        Nothing bears on where she is yet.
    """
    weather, transponders = others.get("weather"), others.get("transponders")
    field = weather.field if isinstance(weather, WeatherValue) else None
    profile = transponders.profile if isinstance(transponders, TranspondersValue) else None
    at = moment.at
    depths = transponders.depth_grid if isinstance(transponders, TranspondersValue) else None
    fixes = transponders.fixes if isinstance(transponders, TranspondersValue) else ()
    base = _grounded(replace(base_of(known, at, fixes), field=field), known, depths, at)
    setting = Setting(
        plane=base.plane,
        start=base.prior.start,
        profile=profile,
        wrecks=tuple(upto(known, "datum.wreck", at)),
        area_m2=area_m2(base.prior),
        places_m=places_m(base.prior),
    )
    built = _reports(known, base, setting, field, fixes, at)
    terms = [item.term for item in built if item.term is not None]
    cloud, first = estimate(base.target, terms, SEED, aims=_aims(known, built, setting, at))
    answer = answer_of(cloud.states, cloud.weight)
    return _result(known, moment, base, built, cloud, first, answer, fixes)


def _aims(known: Known, built: list[Built], setting: Setting, at: datetime) -> list[Aimed]:
    """Return where the lines of position that count cross, to draw particles there too."""
    counting = {item.evidence.key for item in built if item.term is not None}
    lines = [
        line_of(entry.value, entry.record.valid_at, setting.profile)
        for kind in ("datum.bearing", "datum.range")
        for entry in upto(known, kind, at)
        if entry.id in counting
    ]
    found = spots(lines, setting.plane)
    return [] if found is None else [found]


def _grounded(base: Base, known: Known, depths: DepthGrid | None, at: datetime) -> Base:
    """Return the base with its prior kept from land and from water she cannot lie in."""
    limits = upto(known, "datum.depth_limits", at)
    ground = ground_of(
        base.prior,
        base.plane,
        Land(data_folder() / "land"),
        depths,
        limits[-1].value if limits else None,
    )
    if ground is None:
        return base
    return replace(base, grounded=GroundedPrior(prior=base.prior, ground=ground))


def _reports(
    known: Known,
    base: Base,
    setting: Setting,
    field: ConditionsField | None,
    fixes: tuple[FoundFix, ...],
    at: datetime,
) -> list[Built]:
    """Return every report ready to count, in order of its time."""
    weighting = weightings(known, at)
    built = [
        build(kind, entry, setting, weighting)
        for kind in BUILDERS
        for entry in upto(known, kind, at)
        if getattr(entry.value, "object", "DISSUB") == "DISSUB"
    ]
    sightings = upto(known, "datum.sighting", at)
    bearing_on_her = [s for s in sightings if s.value.leak != "not of her"]
    if bearing_on_her:
        built += sighted(bearing_on_her, base, setting, field, weighting)
    best = best_fix(fixes)
    built += [net_fix(fix, setting, weighting, fix is best) for fix in fixes]
    return sorted(built, key=lambda item: (item.evidence.at, item.evidence.key))


def _adrift(
    known: Known, base: Base, cloud: Cloud, field: ConditionsField | None, at: datetime
) -> tuple[tuple[Adrift, ...], tuple[str, ...]]:
    """Return the other objects of search, and a sentence for each that cannot be placed."""
    newest = {entry.value.name: entry for entry in upto(known, "datum.object", at)}
    sightings, searches = (
        upto(known, "datum.sighting", at),
        upto(known, "datum.negative_search", at),
    )
    found, said = [], []
    for number, (name, entry) in enumerate(newest.items()):
        try:
            found.append(
                adrift(
                    entry,
                    [s for s in sightings if s.value.object == name],
                    [s for s in searches if s.value.object == name],
                    base.plane,
                    cloud.states,
                    cloud.weight,
                    base.prior.start,
                    field,
                    at,
                    SEED + 101 + number,
                )
            )
        except InputError as reason:
            said.append(str(reason))
    return tuple(found), tuple(said)


def _searched(built: list[Built], cloud: Cloud, first: Cloud, base: Base) -> Searched | None:
    """Return what the searches that saw nothing have proved, by cell, before and after."""
    terms = [t.likelihood for b in built if (t := b.term) and isinstance(t.likelihood, NotSeenTerm)]
    if not terms:
        return None
    rows = [
        row
        for row, term in enumerate(b.term for b in built if b.term is not None)
        if not isinstance(term.likelihood, NotSeenTerm)
    ]
    log_weight = first.log_base + first.log_terms[rows].sum(axis=0)
    states, weight = first.states, weights(log_weight)
    if cloud.stages:
        gone = np.delete(cloud.log_terms, rows, axis=0).sum(axis=0)
        states, weight = cloud.states, weights(-gone)
    missed = np.ones(len(states))
    for term in terms:
        missed *= term(states)
    after = weight * missed
    left = float(after.sum())
    before_grid = grid_of(states.x_m, states.y_m, weight, across=30, smooth=0.0)
    nx, ny = before_grid.held.shape[1], before_grid.held.shape[0]
    held = cell_sums(
        states.x_m, states.y_m, after / left, before_grid.x0_m, before_grid.y0_m,
        before_grid.cell_m, nx, ny,
    )  # fmt: skip
    after_grid = replace(before_grid, held=held, outside=max(1.0 - float(held.sum()), 0.0))
    outside = float(after[missed > 0.9].sum() / left)
    return Searched(
        before=before_grid, after=after_grid, probability_seen=1.0 - left, left_outside=outside
    )


def _contacts(known: Known, base: Base, answer: Answer, at: datetime) -> tuple[Contact, ...]:
    """Return the contacts on the bottom, the likeliest first."""
    wrecks = tuple(upto(known, "datum.wreck", at))
    datum = base.plane.position(*answer.centre_m)
    found = []
    for entry in upto(known, "datum.contact", at):
        value = entry.value
        beside = wreck_beside(value, wrecks)
        chance = 0.0 if value.identified == "not the DISSUB" else contact_chance(value, wrecks)
        away = WGS84.inv(
            datum.longitude_deg, datum.latitude_deg, value.longitude_deg, value.latitude_deg
        )[2]
        found.append(
            Contact(
                key=entry.id,
                says=f"{value.form} contact by {value.observer}",
                position=Position(value.latitude_deg, value.longitude_deg),
                from_datum_m=float(away),
                length_m=value.length_m,
                nearest_wreck=beside[0] if beside else "none charted",
                wreck_m=beside[1] if beside else None,
                chance_dissub=chance,
                identified=value.identified,
            )
        )
    return tuple(sorted(found, key=lambda c: (-c.chance_dissub, c.from_datum_m)))


def _limit(known: Known, at: datetime) -> float:
    entries = upto(known, "datum.localisation_limit", at)
    return float(entries[-1].value.across_nmi) if entries else LIMIT_ACROSS_NMI


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """She was seen on the bottom, fixed by the net, or both."""

    words: str = ""
    depth_m: float | None = None


def _found_on_bottom(
    known: Known, built: list[Built], fixes: tuple[FoundFix, ...], at: datetime
) -> _Found | None:
    counting = {item.evidence.key for item in built if item.term is not None}
    seen = [
        entry
        for entry in upto(known, "datum.contact", at)
        if entry.value.identified == "DISSUB" and entry.id in counting
    ]
    fixed = [fix for fix in fixes if fix.records[0] in counting]
    if not seen and not fixed:
        return None
    said = [f"net fix {clock_words(fix.at, at)}" for fix in fixed]
    said += [
        f"seen by {entry.value.observer} {clock_words(entry.record.valid_at, at)}"
        for entry in seen[-1:]
    ]
    depths = [fix.depth_m for fix in fixed] + [entry.value.depth_m for entry in seen[-1:]]
    return _Found(words=", ".join(said), depth_m=next((d for d in depths if d is not None), None))


def _longest_m(states: States, weight: Floats) -> float:
    """Return the length that holds 95 % along the way in which the places spread most."""
    mx, my = (weight * states.x_m).sum(), (weight * states.y_m).sum()
    dx, dy = states.x_m - mx, states.y_m - my
    cross = (weight * dx * dy).sum()
    _, vectors = np.linalg.eigh(
        [[(weight * dx * dx).sum(), cross], [cross, (weight * dy * dy).sum()]]
    )
    along = dx * vectors[0, 1] + dy * vectors[1, 1]
    low, high = span(along, weight, out=0.025)
    return high - low


def _result(
    known: Known,
    moment: Moment,
    base: Base,
    built: list[Built],
    cloud: Cloud,
    first: Cloud,
    answer: Answer,
    fixes: tuple[FoundFix, ...],
) -> DatumResult:
    at, plane = moment.at, base.plane
    states, weight = cloud.states, cloud.weight
    evidence, contradictions = judged(base.target, built, cloud, first, answer, SEED)
    floating, unplaced = _adrift(known, base, cloud, base.field, at)
    circle, circle_m = smallest_circle(states.x_m, states.y_m, weight, answer.grid)
    position = plane.position(*answer.centre_m)
    turn = plane.convergence_deg(position.latitude_deg, position.longitude_deg)
    ellipse = ellipse_95(states.x_m, states.y_m, weight)
    ellipse = replace(ellipse, bearing_true_deg=(ellipse.bearing_true_deg - turn) % 180.0)
    found = _found_on_bottom(known, built, fixes, at)
    limit = _limit(known, at)
    run = reckoned(base, evidence, at)
    lost = [
        base.prior.start + timedelta(seconds=quantile(states.lost_s, weight, part))
        for part in (0.05, 0.5, 0.95)
    ]
    counted = [item for item in evidence if item.state in ("counts", "counts in part")]
    starts = [base.known] if base.known is not None else []
    starts += base.movement.entries if base.movement is not None else ()
    heard = [item.heard_at for item in counted] + [entry.record.heard_at for entry in starts]
    notes = [*unplaced, *(base.movement.taken if base.movement is not None else ())]
    if base.field is None and any(item.kind == "datum.sighting" for item in counted):
        notes.append("no wind or current is known: drift assumes still water with a wide error")
    collapse = ""
    if cloud.stages:
        collapse = (
            f"Only {figure(cloud.effective, 0)} of {figure(len(states), 0)} places drawn from the "
            f"intended track fitted the evidence; they were drawn again in {cloud.stages} steps."
        )
    return DatumResult(
        at=at,
        plane=plane,
        position=position,
        radius_95_m=answer.radius_m,
        position_from=_from_words(found, len(counted) + len(starts)),
        places=tuple(
            PlaceShare(
                share=heap.share,
                position=plane.position(*heap.centre_m),
                radius_95_m=heap.radius_95_m,
            )
            for heap in answer.heaps
        ),
        ellipse=ellipse,
        circle_centre=plane.position(*circle),
        circle_radius_m=circle_m,
        along_m=_longest_m(states, weight),
        grid=answer.grid,
        is_fix=found is not None and answer.radius_m <= FIX_M,
        localised=2.0 * circle_m <= limit * M_PER_NMI,
        limit_across_nmi=limit,
        depth_m=found.depth_m if found is not None else None,
        lost_p5=lost[0],
        lost_p50=lost[1],
        lost_p95=lost[2],
        overdue=run.overdue,
        evidence=evidence,
        reports=len(counted) + len(starts),
        last_heard=max(heard, default=at),
        last_known=_place(base.known),
        last_known_at=base.known.record.valid_at if base.known else None,
        last_known_sigma_m=base.known.value.sigma_m if base.known else None,
        track=run.track,
        dead_reckoning=run.place,
        dead_reckoning_sigma_m=run.sigma_m,
        dead_reckoning_at=run.at,
        farthest_on=run.farthest,
        adrift=floating,
        contacts=_contacts(known, base, answer, at),
        searched=_searched(built, cloud, first, base),
        collapse=collapse,
        contradictions=contradictions,
        notes=tuple(notes),
        moved=moved_since(
            base.target, built, cloud, first, answer, moment.at, WATCH_H, SEED, _named(starts)
        ),
        prior_words=base.target.words,
        effective=cloud.effective,
        particles=len(states),
        rests_on=tuple(dict.fromkeys([*(e.id for e in starts), *(item.key for item in counted)])),
    )


def _named(starts: list[Entry]) -> list[tuple[str, datetime]]:
    names = {"datum.lkp": "last known position", "datum.intended_movement": "intended movement"}
    return [(names[entry.record.kind], entry.record.heard_at) for entry in starts]


def _from_words(found: _Found | None, reports: int) -> str:
    if found is not None:
        return found.words
    return "1 report" if reports == 1 else f"{reports} reports"


def _place(entry: Entry | None) -> Position | None:
    if entry is None:
        return None
    return Position(entry.value.latitude_deg, entry.value.longitude_deg)
