"""The whole answer: from what is known to where she most probably is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.contract import Moment, Others
from layers.datum.adrift.adrift import adrift
from layers.datum.adrift.objects import objects, suspended
from layers.datum.before.base import Base, base_of, upto
from layers.datum.before.ground import GroundedPrior, ground_of
from layers.datum.before.reckoned import reckoned
from layers.datum.evidence.counted import counted
from layers.datum.evidence.influence import Estimated, estimated, judged, moved_since, owners
from layers.datum.evidence.setting import EvidenceSetting
from layers.datum.found import Found, contacts, found_on_bottom
from layers.datum.model import DISSUB
from layers.datum.probability.containment import ellipse_95, smallest_circle
from layers.datum.probability.particles import Cloud, estimate, systematic
from layers.datum.proved import localisation, longest_m, loss_span, searched
from layers.datum.reports import aims, reports, setting_of, starts_of
from layers.datum.result import Adrift, Ahead, DatumResult, SearchPlan
from layers.datum.search.plan import plan_search
from layers.datum.search.watches import Sought
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.shore.land import Land
from layers.earth.told import PlaceShare
from layers.earth.values import (
    ConditionsField,
    DepthGrid,
    FoundFix,
    HullLies,
    TranspondersValue,
    WeatherValue,
)
from layers.journal.known import Entry, Known
from layers.journal.naming import data_folder

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
    net = transponders if isinstance(transponders, TranspondersValue) else None
    at, fixes = moment.at, net.fixes if net is not None else ()
    depths = net.depth_grid if net is not None else None
    base = _grounded(replace(base_of(known, at, fixes), field=field), known, depths, at)
    setting = setting_of(known, base, net, at)
    built = reports(known, base, setting, net, at)
    counts = counted(built)
    spots = aims(known, built, setting, at)
    clouds = estimate(base.target, counts.terms, SEED, aims=spots)
    made = estimated(base.target, built, counts, clouds, SEED)
    hull = net.hull if net is not None else None
    return _result(known, moment, base, setting, made, fixes, hull)


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


def _adrift(
    known: Known, base: Base, cloud: Cloud, field: ConditionsField | None, at: datetime
) -> tuple[tuple[Adrift, ...], tuple[str, ...]]:
    """Return the other objects of search, and a sentence for each that cannot be placed."""
    sightings, searches = (
        upto(known, "datum.sighting", at),
        upto(known, "datum.negative_search", at),
    )
    found, said = [], []
    for number, sought in enumerate(objects(known, at)):
        try:
            found.append(
                adrift(
                    sought,
                    list(sought.told(sightings)),
                    list(sought.told(searches)),
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
            name = sought.entry.value.name
            said.append(reason.words if name in reason.words else f"{name}: {reason.words}")
    return tuple(found), tuple(said)


def _limit(known: Known, at: datetime) -> float:
    entries = upto(known, "datum.localisation_limit", at)
    return float(entries[-1].value.across_nmi) if entries else LIMIT_ACROSS_NMI


def _result(
    known: Known,
    moment: Moment,
    base: Base,
    setting: EvidenceSetting,
    made: Estimated,
    fixes: tuple[FoundFix, ...],
    hull: HullLies | None,
) -> DatumResult:
    at, plane, answer = moment.at, base.plane, made.answer
    states, weight = made.cloud.states, made.cloud.weight
    evidence, contradictions = judged(made)
    floating, unplaced = _adrift(known, base, made.cloud, base.field, at)
    circle, circle_m = smallest_circle(states.x_m, states.y_m, weight, answer.grid)
    position = plane.position(*answer.centre_m)
    turn = plane.convergence_deg(position.latitude_deg, position.longitude_deg)
    ellipse = ellipse_95(states.x_m, states.y_m, weight)
    ellipse = replace(ellipse, bearing_true_deg=(ellipse.bearing_true_deg - turn) % 180.0)
    found = found_on_bottom(known, made.built, fixes, at)
    is_fix = found is not None and answer.radius_m <= FIX_M
    still = _still(made.cloud, at)
    limit = _limit(known, at)
    local = localisation(evidence, circle_m, limit)
    run = reckoned(base, evidence, at)
    counting = [item for item in evidence if item.state in ("counts", "counts in part")]
    starts = starts_of(base)
    heard = [item.heard_at for item in counting] + [entry.record.heard_at for entry in starts]
    notes = [*unplaced, *(base.movement.taken if base.movement is not None else ())]
    if base.field is None and any(item.kind == "datum.sighting" for item in counting):
        notes.append("no wind or current is known: drift assumes still water with a wide error")
    return DatumResult(
        at=at,
        plane=plane,
        position=position,
        radius_95_m=answer.radius_m,
        position_from=_from_words(found, len(counting) + len(starts)),
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
        along_m=longest_m(states, weight),
        grid=answer.grid,
        is_fix=is_fix,
        localised=local.yes,
        not_localised_for=local.why,
        limit_across_nmi=limit,
        depth_m=found.depth_m if found is not None else None,
        lost=loss_span(made),
        overdue=run.overdue,
        evidence=evidence,
        owners=owners(made),
        wrong_chances=setting.grading.chances,
        wrong_chances_by=setting.grading.source,
        reports=len(counting) + len(starts),
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
        ahead=still,
        plans=_plans(known, plane, still if not is_fix else None, floating, at),
        contacts=contacts(known, position, at),
        searched=searched(made),
        collapse=_collapse(made.cloud),
        hull=hull,
        contradictions=contradictions,
        notes=tuple(notes),
        moved=moved_since(made, at, WATCH_H, _named(starts)),
        prior_words=base.target.words,
        effective=made.cloud.effective,
        particles=len(states),
        rests_on=tuple(dict.fromkeys([*(e.id for e in starts), *(item.key for item in counting)])),
    )


def _plans(
    known: Known, plane: Plane, dissub: Ahead | None, floating: Sequence[Adrift], at: datetime
) -> tuple[SearchPlan, ...]:
    """Return the plan of each thing still sought: the DISSUB until she is found, who is adrift."""
    sought = [
        Sought(name=item.name, ahead=item.ahead, plane=plane)
        for item in floating
        if item.still_sought
    ]
    if dissub is not None and DISSUB not in suspended(known, at):
        sought.insert(0, Sought(name=DISSUB, ahead=dissub, plane=plane))
    searchers = upto(known, "datum.searcher", at)
    sent, done = upto(known, "datum.search_sent", at), upto(known, "datum.negative_search", at)
    plans = (plan_search(one, searchers, at, sent, done) for one in sought)
    return tuple(plan for plan in plans if plan.planned or plan.lapsed or plan.sent)


def _still(cloud: Cloud, at: datetime, count: int = 4_000) -> Ahead:
    """Return some places of her, all as likely: she does not move."""
    rows = systematic(cloud.weight, count, np.random.default_rng(SEED + 3))
    return Ahead(
        at_us=(to_us(at),),
        x_m=cloud.states.x_m[rows][None].astype(np.float32),
        y_m=cloud.states.y_m[rows][None].astype(np.float32),
    )


def _collapse(cloud: Cloud) -> str:
    if not cloud.stages:
        return ""
    return (
        f"Only {figure(cloud.effective, 0)} of {figure(len(cloud.states), 0)} places drawn from "
        f"the intended track fitted the evidence; they were drawn again in {cloud.stages} steps."
    )


def _named(starts: list[Entry]) -> list[tuple[str, datetime]]:
    names = {"datum.lkp": "last known position", "datum.intended_movement": "intended movement"}
    return [(names[entry.record.kind], entry.record.heard_at) for entry in starts]


def _from_words(found: Found | None, reports: int) -> str:
    if found is not None:
        return found.words
    return "1 report" if reports == 1 else f"{reports} reports"


def _place(entry: Entry | None) -> Position | None:
    if entry is None:
        return None
    return Position(entry.value.latitude_deg, entry.value.longitude_deg)
