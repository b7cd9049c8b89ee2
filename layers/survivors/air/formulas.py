"""The air of the refuges from now on: how it stands, what it comes to, when levels are reached."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from layers.contract import Moment
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.uncertain import NotKnown, Quantity, first_of
from layers.journal.known import Known
from layers.survivors.air.chemistry import CO2_KG_MOL, O2_KG_MOL, standard_litres
from layers.survivors.air.doubts import (
    cause,
    last_read,
    levels_not_entered,
    oxygen_dose,
    question,
    stale,
)
from layers.survivors.air.endurance import Endurance, OpenEnd
from layers.survivors.air.known import PodKnown, RefugeKnown, levels_known, refuges_known
from layers.survivors.air.learning.again import HORIZON_H, AirModel, pods_on_the_way
from layers.survivors.air.learning.events import Correction
from layers.survivors.air.learning.inflow import only_in
from layers.survivors.air.learning.learn import Learned, as_last_read, learn
from layers.survivors.air.learning.trend import Trend, trend_questions, trends
from layers.survivors.air.levels import LevelHours, LevelSpread, band, level_hours
from layers.survivors.air.past_level import past_questions
from layers.survivors.air.state import Air, AirRun, LevelLine, stacked
from layers.survivors.air.stores import perhaps_held, untold_stores
from layers.survivors.chambers.pressure import sev_percent

DRAWS = 10_000
SEED = 20270316
CURVE_STEP_H = 4.0
CURVE_DRAWS = 2_000
STORES = (LevelLine(what="absorbent"), LevelLine(what="oxygen stores"))


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreState:
    """A pool of stores: kg of carbon dioxide it still takes, or of oxygen it still gives."""

    store: str
    left_kg: LevelSpread
    lasts_h: LevelSpread


@dataclass(frozen=True, slots=True, kw_only=True)
class PodGain:
    """What pods not yet taken in would add, hours to a level, paired draw by draw."""

    pods: tuple[str, ...]
    level: str
    gain_h: LevelSpread


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The air ahead as bands; each array has shape (3, n_times) for P10, P50, P90."""

    at: tuple[datetime, ...]
    pressure_bar: Floats
    oxygen_kpa: Floats
    co2_sev_percent: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeAir:
    """The air of one refuge at the moment shown.

    A gas that was never read is None, never a figure; ``levels`` are those whose time can be
    said, what comes first before the others, and ``unknown`` those whose time cannot, with what
    to ask for. ``doubt`` is the question about a reading that may not be right, empty without.
    ``breath_ratio`` is what people breathe against the figure taken before anything was read.
    """

    refuge: str
    persons: int
    read_at: datetime
    pressure_bar: LevelSpread
    oxygen_kpa: LevelSpread | None
    co2_kpa: LevelSpread | None
    co2_sev_percent: LevelSpread | None
    volume_m3: LevelSpread | None
    breath_ratio: LevelSpread
    water_m3_h: LevelSpread
    leak_m3_h: LevelSpread
    cause: str
    stores: tuple[StoreState, ...]
    levels: tuple[LevelHours, ...]
    pods: tuple[PodKnown, ...]
    pod_gains: tuple[PodGain, ...]
    curve: Curve
    corrections: tuple[Correction, ...]
    trends: tuple[Trend, ...]
    doubts: tuple[str, ...]
    breathing_source: str
    rests_on: tuple[str, ...]
    unknown: tuple[OpenEnd, ...] = ()
    doubt: str = ""
    read: tuple[tuple[str, datetime], ...] = ()

    @property
    def lasts(self) -> Quantity:
        """Hours until the first of its levels: a number, bounds, or not known."""
        ends = [level.form for level in self.levels]
        ends += [NotKnown(unit="h", missing=one.missing) for one in self.unknown]
        if not ends:
            return NotKnown(unit="h", missing=("a level of the air",))
        return replace(first_of(ends), unit="h")

    def read_at_of(self, quantity: str) -> datetime | None:
        """Return when a quantity was last read, None if never."""
        return dict(self.read).get(quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirOutlook:
    """The air of all refuges, and the model to run again.

    ``unknown`` is all that is not known of any refuge, those without a reading included.
    """

    refuges: tuple[RefugeAir, ...]
    endurance: tuple[Endurance, ...]
    model: AirModel
    missing: tuple[str, ...]
    rests_on: tuple[str, ...]
    unknown: tuple[OpenEnd, ...] = ()

    def of(self, refuge: str) -> RefugeAir | None:
        """Return one refuge by name."""
        return next((one for one in self.refuges if one.refuge == refuge), None)


def air_outlook(
    known: Known,
    moment: Moment,
    *,
    n_draws: int = DRAWS,
    seed: int = SEED,
    horizon_h: float = HORIZON_H,
) -> AirOutlook:
    """Return the air of every refuge that has readings, as known and learnt at a moment.

    ``horizon_h`` is how far to look: as long as the plan that it is set against.
    """
    told, missing, unknown = refuges_known(known, moment.at)
    levels = levels_known(known, moment.at)
    learnt = [_learn(one, moment.at, n_draws, seed) for one in told]
    model = AirModel(
        at=moment.at,
        refuges=told,
        air=stacked([_ahead_of(one.air) for one in learnt]) if learnt else None,
        doubted=_doubted(learnt),
        unheld=_unheld(told, learnt, moment.at, n_draws, seed),
        read=tuple(one.read for one in learnt),
        persons=tuple(one.persons for one in learnt),
        levels=levels,
        seed=seed,
        unknown=unknown,
        horizon_h=horizon_h,
    )
    said = list(missing)
    if told and not levels:
        said.append(
            "No level of the air is entered: the medical officer enters each with its source; "
            "none is shipped as approved."
        )
    elif told:
        said += levels_not_entered(told, levels)
    if model.air is None:
        return AirOutlook(
            refuges=(), endurance=(), model=model, missing=tuple(said), rests_on=(), unknown=unknown
        )
    return _ahead(known, model, learnt, tuple(said), n_draws)


def _unheld(
    told: tuple[RefugeKnown, ...], learnt: list[Learned], at: datetime, n_draws: int, seed: int
) -> Air | None:
    """Return the air if stores that nobody told of held what was read until now."""
    found, any_held = [], False
    for one, known in zip(told, learnt, strict=True):
        events = as_last_read(one.events, perhaps_held(one.stocks), known.doubt)
        held = events != tuple(one.events)
        any_held |= held
        again = _learn(replace(one, events=events), at, n_draws, seed) if held else known
        found.append(_ahead_of(again.air))
    return stacked(found) if any_held else None


def _learn(one: RefugeKnown, at: datetime, n_draws: int, seed: int) -> Learned:
    # where nothing can be worked out ahead, the reading stands as it was read
    until = one.readings[-1].record.valid_at if one.unknown else at
    learnt = learn(
        one.prior,
        one.events,
        (to_us(until) - to_us(one.origin)) / 3.6e9,
        n_draws=n_draws,
        seed=seed,
        name=one.refuge,
        activities=one.activities,
    )
    assert learnt is not None  # a refuge is known by its readings
    return learnt


def _doubted(learnt: list[Learned]) -> Air | None:
    if all(one.doubted is None for one in learnt):
        return None
    return stacked([_ahead_of(one.air if one.doubted is None else one.doubted) for one in learnt])


def _ahead_of(air: Air) -> Air:
    """Return the air to look ahead with: water only comes in, and what stores that came would hold.

    That is the partial pressure of now.
    """
    held = only_in(air)
    if not np.all(np.isfinite(air.hold_co2_kpa)):
        held.hold_co2_kpa = held.partial_kpa(held.co2)
    if not np.any(air.hold_o2_kpa > 0.0):
        held.hold_o2_kpa = held.partial_kpa(held.o2)
    return held


def _ahead(
    known: Known,
    model: AirModel,
    learnt: list[Learned],
    missing: tuple[str, ...],
    n_draws: int,
) -> AirOutlook:
    hours = tuple(np.arange(0.0, model.horizon_h + 0.1, CURVE_STEP_H).tolist())
    changes = model.changes(n_draws)
    ran = model.run(changes, n_draws, extra=STORES)
    few = min(CURVE_DRAWS, n_draws)
    ahead = model.run(model.changes(few), few, snapshot_hours=hours)
    other = None if model.doubted is None else model.run(changes, n_draws, of=model.doubted)
    endurance = sure = model.endurance(ran, other)
    if model.unheld is not None:  # what is shown counts on no store that nobody told of
        least = model.run(changes, n_draws, of=model.unheld).reached_h
        sure = model.endurance(
            replace(ran, reached_h=np.minimum(ran.reached_h[: len(least)], least)), other
        )
    open_ends = model.open_ends(ran)
    model = replace(model, unknown=(*model.unknown, *open_ends))
    with_pods: AirRun | None = None
    if any(pods_on_the_way(refuge) for refuge in model.refuges) and model.watched():
        with_pods = model.run((*changes, *model.pod_changes(n_draws)), n_draws)
    runs = (ran, ahead, with_pods)
    refuges = tuple(
        _refuge_air(model, c, learnt[c], runs, sure, hours) for c in range(len(model.refuges))
    )
    records = [record for _, record in model.levels]
    return AirOutlook(
        refuges=refuges,
        endurance=endurance,
        model=model,
        missing=missing,
        rests_on=(*(i for one in refuges for i in one.rests_on), *records),
        unknown=model.unknown,
    )


def _refuge_air(
    model: AirModel,
    c: int,
    learnt: Learned,
    runs: tuple[AirRun, AirRun, AirRun | None],
    endurance: tuple[Endurance, ...],
    hours: tuple[float, ...],
) -> RefugeAir:
    one, air = model.refuges[c], learnt.air
    assert model.air is not None
    ran, ahead, with_pods = runs
    n_levels = len(model.watched())
    bar = air.pressure_bar()
    water = bar * air.water_m3_h / air.volume_m3
    leak = bar * air.leak_mol_h / (air.o2 + air.co2 + air.inert)
    co2 = air.partial_kpa(air.co2) if "carbon dioxide" in learnt.read else None
    levels = level_hours(
        model,
        one.refuge,
        endurance,
        untold_stores(one.refuge, one.stocks, learnt.read, one.otherwise.fewer),
    )
    asked = (question(one, learnt), *trend_questions(one))
    return RefugeAir(
        refuge=one.refuge,
        persons=one.people,
        read_at=one.readings[-1].record.valid_at,
        pressure_bar=band(bar),
        oxygen_kpa=band(air.partial_kpa(air.o2)) if "oxygen" in learnt.read else None,
        co2_kpa=None if co2 is None else band(co2),
        co2_sev_percent=None if co2 is None else band(sev_percent(1.0) * co2),
        volume_m3=None if one.compartment is None else band(air.volume_m3),
        breath_ratio=band(air.breath / one.prior.breath),
        water_m3_h=band(model.air.water_m3_h[c : c + 1]),
        leak_m3_h=band(np.maximum(air.leak_mol_h, 0.0) * standard_litres(1.0) / 1000.0),
        cause=cause(water, leak),
        stores=_stores(air, ran.reached_h[n_levels:, c]),
        levels=levels,
        pods=one.pods,
        pod_gains=_pod_gains(model, c, ran, with_pods),
        curve=_curve(model.at, c, ahead, hours),
        corrections=learnt.corrections,
        trends=trends(one, model.levels, model.at),
        doubts=(*one.doubts, *stale(one, model.at), *oxygen_dose(one)),
        breathing_source=one.breathing_source,
        rests_on=one.rests_on,
        unknown=tuple(end for end in model.unknown if end.refuge == one.refuge),
        doubt=" ".join(filter(None, (*past_questions(one, model.levels, levels), *asked))),
        read=last_read(one),
    )


def _stores(air: Air, spent_h: Floats) -> tuple[StoreState, ...]:
    pools = (
        ("absorbent", air.absorbs_left * CO2_KG_MOL, spent_h[0]),
        ("oxygen stores", air.oxygen_left * O2_KG_MOL, spent_h[1]),
    )
    return tuple(
        StoreState(store=name, left_kg=band(left), lasts_h=band(lasts))
        for name, left, lasts in pools
        if np.any(left > 0.0)
    )


def _pod_gains(
    model: AirModel, c: int, ran: AirRun, with_pods: AirRun | None
) -> tuple[PodGain, ...]:
    pods = tuple(pod.pod for pod in pods_on_the_way(model.refuges[c]))
    if with_pods is None or not pods:
        return ()
    found = []
    for number, (level, _) in enumerate(model.watched()):
        capped = np.minimum(with_pods.reached_h[number, c], model.horizon_h)
        gain = capped - np.minimum(ran.reached_h[number, c], model.horizon_h)
        found.append(PodGain(pods=pods, level=level.name, gain_h=band(gain)))
    return tuple(found)


def _curve(at: datetime, c: int, ran: AirRun, hours: tuple[float, ...]) -> Curve:
    def bands(values: list[Floats]) -> Floats:
        return np.percentile(np.array(values), (10, 50, 90), axis=1)

    snapshots = ran.snapshots
    return Curve(
        at=tuple(at + timedelta(hours=hour) for hour in hours),
        pressure_bar=bands([one.pressure_bar()[c] for one in snapshots]),
        oxygen_kpa=bands([one.partial_kpa(one.o2)[c] for one in snapshots]),
        co2_sev_percent=bands(
            [sev_percent(1.0) * one.partial_kpa(one.co2)[c] for one in snapshots]
        ),
    )
