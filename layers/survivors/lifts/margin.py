"""The margin: hours between when people must be out and when they will be.

People count as out of a refuge when the vehicle's hatch is shut behind the last of them; on deck
they are later by the time up and the recovery. Two margins stand beside each other: *if nobody
leaves*, which leads (last out by the plan against air that everybody still breathes, so that the
plan's own success is not taken for granted in the figure that judges it), and *if the lifts go
as planned*.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from layers.contract import Moment, Others
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.uncertain import Bounds, NotKnown, Number, Quantity, either, total
from layers.earth.values import DatumValue, ForwardPortValue, WeatherValue
from layers.journal.known import Known
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.chambers.chamber import occupancy
from layers.survivors.decisions.choices import Decisions, if_run, if_soon, weigh_either
from layers.survivors.lifts.check import remarks
from layers.survivors.lifts.choose import as_chosen, lacking
from layers.survivors.lifts.margin_model import (
    Outlook,
    RefugeOutlook,
)
from layers.survivors.lifts.outlooks import (
    Join,
    _binding,
    _waits,
    as_told,
    gaps_of,
    held,
    hopeful,
    joined,
    lift_outlook,
    not_run,
    refuge_outlook,
)
from layers.survivors.lifts.plan import PlanSetting, read_setting
from layers.survivors.lifts.propose import propose
from layers.survivors.lifts.quantities import (
    all_chance,
    loss_remarks,
    not_heard_words,
    pressure_remarks,
    without,
)
from layers.survivors.lifts.run.ample import Unstored, ample_s, put_off, without_stored
from layers.survivors.lifts.run.draws import Uniforms
from layers.survivors.lifts.run.ground import AirAhead, Curves, PlanGround, PressureAt
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate, limits_s
from layers.survivors.lifts.run.ready import ready_draws, with_unready
from layers.survivors.lifts.run.undated import at_best, between_both, undated
from layers.survivors.lifts.run.windows import extended, wave_draws, wave_errors
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.sorties.sortie import sorties
from layers.survivors.lifts.sorties.track import seen_in
from layers.survivors.lifts.spread import hours_spread
from layers.survivors.lifts.take_over import (
    lost_aboard,
    persons_lost_aboard,
    said as take_over_remarks,
    taken_over,
)
from layers.survivors.lifts.untold import (
    perhaps_run,
    perhaps_run_remarks,
    perhaps_run_words,
    unforecast,
    ways_run,
)

DRAWS = 10_000
SEED = 20270316
FILLED = (
    "No lift is planned: they are filled from the muster by who goes first, until a plan is "
    "recorded."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirGaps:
    """What is not known of the air, and what is expected of its pressure.

    ``missing`` by refuge in words; ``unread`` the refuges of which nothing can be said;
    ``unstored`` what stores of theirs nobody told, by the quantity that these would hold;
    ``not_heard_said`` how many are not heard of as it is said, a span where accounts differ;
    ``not_there`` by refuge how many counted in it are not there by another account, in words too.
    """

    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    not_heard: int = 0
    not_heard_said: str = ""
    not_there: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    pressure_at: PressureAt | None = None
    curves: Curves | None = None
    unstored: Unstored = field(default_factory=dict)


def outlook(
    known: Known,
    others: Others,
    moment: Moment,
    people: Sequence[RefugePeople],
    air: AirAhead,
    *,
    gaps: AirGaps | None = None,
    n_draws: int = DRAWS,
    seed: int = SEED,
    decision_draws: int | None = None,
) -> Outlook:
    """Return lifts, margin and decisions at a moment.

    Parameters
    ----------
    known, others, moment
        As a layer gets them; weather, forward port and datum are used where they are there.
    people : sequence of RefugePeople
        Who waits in the refuges.
    air : AirAhead
        Runs the air of the refuges on the same draws.
    gaps : AirGaps, optional
        What is not known of it.
    n_draws, seed : int
        Of everything; part of the result.
    decision_draws : int, optional
        The first so many draws are used to compare decisions; 0 compares none.

    Notes
    -----
    Never raises `InputError` for a plan that is missing or cannot run: the muster and the air
    stand without it, and ``unavailable`` says what would fill the place.
    """
    at_us = to_us(moment.at)
    found = gaps or AirGaps()
    try:
        setting = read_setting(known, moment, _depth_m(others), seen_in(others))
        recorded = _filled(setting, people)
        until_us = at_us + round(recorded.limits.horizon_h * 3.6e9)
        ground = ground_of(others, people, air, n_draws, seed, until_us, found)
        return _whole(known, moment, recorded, ground, decision_draws)
    except InputError as reason:
        ground = ground_of(others, people, air, n_draws, seed, at_us, found)
        return _no_plan(at_us, ground, reason)


def ground_of(
    others: Others,
    people: Sequence[RefugePeople],
    air: AirAhead,
    n_draws: int,
    seed: int,
    until_us: int,
    gaps: AirGaps | None = None,
) -> PlanGround:
    """Return what stays the same whatever is decided, the sea carried on until a time."""
    weather, response = others.get("weather"), others.get("forward_port")
    series = weather.series_at_datum if isinstance(weather, WeatherValue) else None
    if series is not None and not np.isfinite(series.hs_m).any():
        series = None
    uniforms = Uniforms(n_draws, seed)
    carried = None if series is None else extended(series, until_us)
    errors = None if carried is None else wave_errors(carried, uniforms)
    found = gaps or AirGaps()
    return PlanGround(
        people=tuple(people),
        uniforms=uniforms,
        series=carried,
        waves=None if carried is None else wave_draws(carried, uniforms),
        response=response if isinstance(response, ForwardPortValue) else None,
        air=air,
        errors=errors,
        forecast_ends_us=None if series is None else int(series.at_us[-1]),
        missing=found.missing,
        unread=found.unread,
        not_heard=found.not_heard,
        not_heard_said=found.not_heard_said or str(found.not_heard),
        not_there=found.not_there,
        pressure_at=found.pressure_at,
        curves=found.curves,
        unstored=found.unstored,
        unforecast=unforecast(series),
        sortie_starts=weather.sortie_starts if isinstance(weather, WeatherValue) else (),
    )


def _depth_m(others: Others) -> float | None:
    datum = others.get("datum")
    return datum.depth_m if isinstance(datum, DatumValue) else None


def _filled(setting: PlanSetting, people: Sequence[RefugePeople]) -> PlanSetting:
    """Return the plan, its lifts filled from the muster where only who goes first was told."""
    if setting.lifts or setting.held:
        return setting
    if not setting.vehicles:
        raise InputError("no rescue vehicle is in the plan",
                         accepted="one that is more than on the table")  # fmt: skip
    if not any(place.persons for place in people):
        raise InputError("nobody is known to wait in a refuge",
                         accepted="how many are in which compartment")  # fmt: skip
    return replace(setting, lifts=propose(setting, people), filled=True)


def _no_plan(at_us: int, ground: PlanGround, reason: InputError) -> Outlook:
    """Return how long they can last, where there is no plan to bring them out by."""
    alone = ground.endurance(False, ())
    limit = limits_s(alone, ground.people, at_us, ground.n_draws)
    others = without_stored(alone, ground.unstored)
    ample = ample_s(limit, limits_s(others, ground.people, at_us, ground.n_draws), ground.unstored)
    waiting = [place for place in ground.people if place.persons]
    refuges = []
    for place in waiting:
        gap = gaps_of(ground, place.refuge, (reason.short,))
        unknown = NotKnown(unit="h", missing=(*gap.air, *gap.plan))
        ends = None if gap.unread else limit.get(place.refuge)
        refuges.append(
            RefugeOutlook(
                **_waits(place),
                levels=(),
                binding="" if ends is None else _binding(alone, place.refuge, ends, at_us),
                alone_h=None if ends is None else hours_spread(ends),
                runs_out_h=None,
                last_left_h=None,
                last_on_deck_h=None,
                nobody=unknown,
                planned=unknown,
                late_h=None,
                chance=NotKnown(unit="chance", missing=unknown.missing),
                out_in_time=NotKnown(unit="persons", missing=unknown.missing),
                at_most=bool(gap.air),
                at_least=ends is not None and put_off(place.refuge, limit, ample),
            )
        )
    none = NotKnown(unit="chance", missing=(reason.short, *not_heard_words(ground)))
    return Outlook(
        at_us=at_us,
        refuges=tuple(refuges),
        all_out=none,
        refuges_out=NotKnown(unit="chance", missing=(reason.short,)),
        out_in_time=replace(none, unit="persons"),
        to_bring=sum(place.persons for place in waiting) + ground.not_heard,
        not_heard=ground.not_heard,
        not_heard_said=ground.not_heard_said,
        unavailable=reason.words,
        lacks=reason.short,
        draws=ground.n_draws,
        seed=ground.uniforms.seed,
    )


def _whole(
    known: Known,
    moment: Moment,
    recorded: PlanSetting,
    ground: PlanGround,
    decision_draws: int | None,
) -> Outlook:
    chosen = with_unready(as_chosen(recorded), ground)
    setting = taken_over(chosen)
    outcome = evaluate(setting, ground)
    lifts = [lift_outlook(outcome, n, ground) for n in range(len(outcome.setting.lifts))]
    lifts += [not_run(setting, k, outcome) for k in setting.lifts if k.key in outcome.stopped]
    order = {lift.key: n for n, lift in enumerate(setting.lifts)}
    said = list(remarks(setting, outcome.setting, ground.people, outcome.stopped))
    said += [*take_over_remarks(chosen, setting), *pressure_remarks(outcome)]
    said += loss_remarks(outcome)
    said += [
        f"What is chosen is not put in whole: {why.words}." for why in lacking(recorded).values()
    ]
    if setting.filled:
        said.append(FILLED)
    if ground.series is None:
        said.append("No forecast of the sea is known: no wave, current or night is counted.")
    elif not ground.series.waves_forecast:
        said.append("No forecast of the waves is known: the last observed are held on.")
    unheard = (*not_heard_words(ground), *lost_aboard(setting))
    told = _judged(outcome, ground, unheard)
    waits = {place.refuge for place in ground.people if place.persons}
    matters = {lift.key for lift in setting.lifts if lift.refuge in waits}
    found = perhaps_run(known, moment, setting)
    perhaps = {key: fact for key, fact in found.items() if key in matters}
    if perhaps:
        said += perhaps_run_remarks(perhaps)
        told = _or_run(told, setting, ground, perhaps, unheard)
    if asked := undated(chosen):
        best = taken_over(at_best(chosen))
        at_most = _judged(evaluate(best, ground), ground, unheard)
        if perhaps:
            at_most = _or_run(at_most, best, ground, perhaps, unheard)
        told = told.joined(at_most, partial(between_both, asked=asked))
    refuges = tuple(as_told(one, lifts) for one in told.refuges)
    nowhere = ground.not_heard + persons_lost_aboard(setting)
    rests_on = setting.rests_on
    parts = [without(one.out_in_time, *ground.not_there.get(one.refuge, (0, "")))
             for one in refuges]  # fmt: skip
    if nowhere:
        parts.append(Bounds(at_least=0.0, at_most=float(nowhere), missing=unheard))
    return Outlook(
        at_us=setting.at_us,
        refuges=refuges,
        lifts=tuple(sorted(lifts, key=lambda lift: order[lift.key])),
        held=tuple(held(setting, lift) for lift in setting.held),
        all_out=told.all_out,
        refuges_out=told.refuges_out,
        out_in_time=total(parts) if parts else Number(value=0.0, unit="persons"),
        to_bring=sum(place.persons for place in ground.people) + nowhere,
        not_heard=ground.not_heard,
        not_heard_said=ground.not_heard_said,
        chambers=occupancy(outcome),
        decisions=None
        if decision_draws == 0
        else _weighed(with_unready(recorded, ground), ground, perhaps, decision_draws),
        sorties=sorties(known, moment, setting, ground.series),
        setting=setting,
        remarks=tuple(said),
        sea=ground.series,
        sea_ends_us=ground.forecast_ends_us,
        undated=undated(chosen),
        first_dive_us=_first_dive_us(setting, ground),
        draws=ground.n_draws,
        seed=ground.uniforms.seed,
        rests_on=rests_on,
    )


def _weighed(
    recorded: PlanSetting,
    ground: PlanGround,
    perhaps: Mapping[str, LiftFact],
    n_draws: int | None,
) -> Decisions:
    """Return the decisions weighed, by what the plan may be too where that is not told."""
    others = [if_run(recorded, perhaps)] if perhaps else []
    if undated(recorded):
        others.append(if_soon(recorded))
    return weigh_either(recorded, ground, others, n_draws)


@dataclass(frozen=True, slots=True)
class _Judged:
    """What a plan comes to: by refuge, for all on board, and for those in the refuges."""

    refuges: tuple[RefugeOutlook, ...]
    all_out: Quantity
    refuges_out: Quantity

    def joined(self, other: _Judged, join: Join) -> _Judged:
        """Return what can be said where either may be so."""
        return _Judged(
            tuple(joined(*pair, join) for pair in zip(self.refuges, other.refuges, strict=True)),
            join(self.all_out, other.all_out),
            join(self.refuges_out, other.refuges_out),
        )


def _or_run(
    told: _Judged,
    setting: PlanSetting,
    ground: PlanGround,
    perhaps: Mapping[str, LiftFact],
    unheard: tuple[str, ...],
) -> _Judged:
    """Return what can be said where lifts that wait by the plan were perhaps run, some or all."""
    asked = perhaps_run_words(perhaps)
    for some in ways_run(setting, perhaps):
        run = replace(setting, facts={**setting.facts, **some})
        other = _judged(evaluate(run, ground), ground, unheard)
        told = told.joined(other, lambda one, two: either((one, two), asked))
    return told


def _judged(outcome: PlanOutcome, ground: PlanGround, unheard: tuple[str, ...]) -> _Judged:
    waiting = [place for place in ground.people if place.persons]
    late = [m for place in waiting for m in hopeful(outcome, place, ground)]
    unread = [m for place in waiting for m in gaps_of(ground, place.refuge).air]
    missing = tuple(dict.fromkeys((*unread, *late)))
    rests_on, unstored = outcome.setting.rests_on, ground.unstored
    return _Judged(
        tuple(refuge_outlook(outcome, place, ground) for place in waiting),
        all_chance(outcome, (*missing, *unheard), rests_on, unstored),
        all_chance(outcome, missing, rests_on, unstored),
    )


def _first_dive_us(setting: PlanSetting, ground: PlanGround) -> int | None:
    """Return from when the first vehicle of the plan can dive, in the middle of the draws."""
    able = [v for v in setting.vehicles if not setting.why_not(v.name)]
    ready = [int(np.median(ready_draws(v, setting, ground))) for v in able]
    return min(ready, default=None)
