"""A sortie under way: its phase, what it has left, what it needs, and its clocks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from layers.contract import Moment
from layers.earth.clock import US_PER_H, US_PER_MIN, to_us
from layers.earth.values import SeaSeries
from layers.journal.known import Entry, Known
from layers.survivors.lifts.model import PHASES, Lift, Phase, SortieCase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.sorties.depth import way_left
from layers.survivors.lifts.sorties.energy import power_kw, used_in
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.sorties.learn import estimate_min
from layers.survivors.lifts.sorties.turn_back import Left, recovery_closes, sooner, turn_back
from layers.survivors.lifts.vehicle import Vehicle

GOING_HOME = (Phase.AWAY, Phase.UP, Phase.RECOVER)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTime:
    """A phase of a sortie: when it began, what it took or has taken, and the estimate."""

    phase: Phase
    began_us: int | None
    taken_min: float | None
    expected_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseClock:
    """Something gone wrong under water: since when, and the user's own drill for it."""

    case: str
    since_us: int
    drill: str
    drill_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sortie:
    """A vehicle under water.

    Battery in kWh, with the reserve apart from the need; life support in hours; times UTC
    microseconds. ``turn_back_because`` says which of battery, life support and sea sets the
    latest time to turn back, at most likely times; ``turn_back_early_us`` is early enough in nine
    cases of ten. ``battery_reported_us`` None: taken as full at the dive.
    """

    vehicle: str
    lift: str
    refuge: str
    phase: Phase
    phase_since_us: int
    dived_us: int
    phases: tuple[PhaseTime, ...]
    aboard: int
    battery_kwh: float
    battery_reported_us: int | None
    battery_need_kwh: float
    reserve_kwh: float
    life_support_h: float
    life_support_need_h: float
    next_due_us: int
    overdue_min: float
    on_deck_us: int
    turn_back_us: int
    turn_back_early_us: int
    turn_back_because: str
    cases: tuple[CaseClock, ...]
    rests_on: tuple[str, ...]
    depth_m: float | None = None
    by_depth: bool = False  # nobody told its phase: its depth shows it, or its track
    by_track: bool = False
    beside: str = ""  # the ship it is alongside
    not_told: tuple[str, ...] = ()  # of battery_kwh and life_support_h, what nobody gave

    @property
    def returning(self) -> bool:
        """Whether it has left the seat: there is nothing left to turn back from."""
        return self.phase in GOING_HOME

    @property
    def battery_spare_kwh(self) -> float:
        """What would be left above the reserve; negative: not enough."""
        return self.battery_kwh - self.battery_need_kwh - self.reserve_kwh


def phase_words(one: Sortie) -> str:
    """Return the phase, and the vehicle's depth where it is told; a phase nobody told says so."""
    by = "track" if one.by_track else "depth"
    told = f"{one.phase.value} (by its {by})" if one.by_depth else one.phase.value
    if one.beside:
        return f"{told}, alongside {one.beside}"
    return told if one.depth_m is None else f"{told}, {one.depth_m:.0f} m deep"


def sorties(
    known: Known, moment: Moment, setting: PlanSetting, series: SeaSeries | None = None
) -> tuple[Sortie, ...]:
    """Return the sorties under way at a moment, none when every vehicle is on deck."""
    by_key = {lift.key: lift for lift in (*setting.lifts, *setting.held)}
    found = []
    for fact in setting.facts.values():
        if fact.under_way and fact.lift in by_key:
            vehicle = setting.vehicle(fact.vehicle)
            found.append(_sortie(known, moment, setting, fact, by_key[fact.lift], vehicle, series))
    return tuple(found)


def _sortie(
    known: Known,
    moment: Moment,
    setting: PlanSetting,
    fact: LiftFact,
    lift: Lift,
    vehicle: Vehicle,
    series: SeaSeries | None,
) -> Sortie:
    at_us = to_us(moment.at)
    dived_us = fact.began_us.get(Phase.DOWN, min(fact.began_us.values()))
    phases = _phases(fact, lift, vehicle, setting.depth_m, at_us)
    reports = _about(known, moment.at, "survivors.sortie_report", vehicle.name, dived_us)
    battery, told_us = _battery(fact, reports, vehicle, at_us, dived_us)
    rest = _rest_min(phases, fact.phase)
    if fact.again_us is not None:
        gone_min = (at_us - fact.again_us) / US_PER_MIN
        rest[fact.phase] = max(vehicle.mate.likely - gone_min, 0.0)
    way = way_left(fact.phase, fact.depths, vehicle, setting.depth_m)
    if way is not None:
        rest[fact.phase] = max(way[1] - (at_us - way[0]) / US_PER_MIN, 0.0)
    need = _energy(rest, vehicle)
    life = _life_support(reports, vehicle, at_us, dived_us)
    left = Left(battery_kwh=battery, life_h=life, phase=fact.phase, rest_min=rest)
    turn = turn_back(vehicle, setting.depth_m, left, at_us)
    turn = sooner(
        turn,
        _home_by(vehicle, setting, recovery_closes(series, setting.limits.recovery_hs_m, at_us)),
    )
    due_us = _next_due(reports, vehicle, fact)
    return Sortie(
        vehicle=vehicle.name,
        lift=lift.key,
        refuge=lift.refuge,
        phase=fact.phase,
        phase_since_us=fact.began_us[fact.phase],
        dived_us=dived_us,
        phases=phases,
        aboard=(fact.walking or 0) + (fact.stretcher or 0),
        not_told=tuple(
            name
            for name in ("battery_kwh", "life_support_h")
            if name not in vehicle.model_fields_set
        ),
        battery_kwh=battery,
        battery_reported_us=told_us,
        battery_need_kwh=need,
        reserve_kwh=vehicle.reserve_kwh,
        life_support_h=life,
        life_support_need_h=sum(rest.values()) / 60.0,
        next_due_us=due_us,
        overdue_min=max((at_us - due_us) / US_PER_MIN, 0.0),
        on_deck_us=at_us + round(sum(rest.values()) * US_PER_MIN),
        turn_back_us=turn.likely_us,
        turn_back_early_us=turn.early_us,
        turn_back_because=turn.because,
        depth_m=fact.depths[-1].depth_m if fact.depths else None,
        by_depth=fact.phase in fact.by_depth,
        by_track=fact.phase in fact.by_track,
        beside=fact.depths[-1].beside if fact.depths else "",
        cases=_cases(known, moment.at, vehicle.name, dived_us),
        rests_on=(*fact.rests_on, *(entry.id for entry in reports)),
    )


def _phases(
    fact: LiftFact, lift: Lift, vehicle: Vehicle, depth_m: float, at_us: int
) -> tuple[PhaseTime, ...]:
    found = []
    for phase in PHASES:
        began = fact.began_us.get(phase)
        taken_us = fact.taken_us(phase)
        if taken_us is None and began is not None:
            taken_us = at_us - began
        found.append(
            PhaseTime(
                phase=phase,
                began_us=began,
                taken_min=None if taken_us is None else taken_us / US_PER_MIN,
                expected_min=estimate_min(vehicle, lift, phase, depth_m),
            )
        )
    return tuple(found)


def _rest_min(phases: Iterable[PhaseTime], current: Phase) -> dict[Phase, float]:
    """Return the minutes still to come in each phase, at its most likely length."""
    rest = {}
    order = list(PHASES)
    for one in phases:
        if order.index(one.phase) < order.index(current):
            continue
        gone = one.taken_min or 0.0 if one.phase is current else 0.0
        rest[one.phase] = max(one.expected_min - gone, 0.0)
    return rest


def _energy(minutes: dict[Phase, float], vehicle: Vehicle) -> float:
    return sum(m * power_kw(phase, vehicle) for phase, m in minutes.items()) / 60.0


def _about(known: Known, at: datetime, kind: str, vehicle: str, since_us: int) -> list[Entry]:
    return [
        entry
        for entry in known.entries(kind)
        if entry.value.vehicle == vehicle
        and entry.record.valid_at <= at
        and to_us(entry.record.valid_at) >= since_us
    ]


def _battery(
    fact: LiftFact, reports: list[Entry], vehicle: Vehicle, at_us: int, dived_us: int
) -> tuple[float, int | None]:
    """Return the battery now: the last one told, less what the phases since have used."""
    told = [(to_us(e.record.valid_at), e.value.battery_kwh) for e in reports]
    told = [(us, kwh) for us, kwh in told if kwh is not None]
    if fact.battery_kwh is not None and fact.battery_us is not None:
        told.append((fact.battery_us, fact.battery_kwh))
    from_us, kwh = max(told, default=(dived_us, vehicle.battery_kwh))
    kwh -= used_in(fact.began_us, vehicle, from_us, at_us)
    return max(kwh, 0.0), from_us if told else None


def _life_support(reports: list[Entry], vehicle: Vehicle, at_us: int, dived_us: int) -> float:
    told = [
        (to_us(e.record.valid_at), e.value.life_support_h)
        for e in reports
        if e.value.life_support_h is not None
    ]
    from_us, hours = max(told, default=(dived_us, vehicle.life_support_h))
    return max(hours - (at_us - from_us) / US_PER_H, 0.0)


def _next_due(reports: list[Entry], vehicle: Vehicle, fact: LiftFact) -> int:
    every_us = round(vehicle.report_every_min * US_PER_MIN)
    heard = max(fact.began_us.values())
    for entry in reports:
        heard = max(heard, to_us(entry.record.valid_at))
    agreed = [e for e in reports if e.value.next_due is not None]
    if agreed and to_us(agreed[-1].record.valid_at) >= heard:
        return to_us(agreed[-1].value.next_due)
    return heard + every_us


def _home_by(vehicle: Vehicle, setting: PlanSetting, closes_us: int | None) -> int | None:
    """Return when it must leave the seat to be on deck before the sea shuts the recovery."""
    if closes_us is None:
        return None
    home = (Phase.AWAY, Phase.UP, Phase.RECOVER)
    lift = setting.lifts[0] if setting.lifts else None
    minutes = (
        0.0
        if lift is None
        else sum(estimate_min(vehicle, lift, phase, setting.depth_m) for phase in home)
    )
    return closes_us - round(minutes * US_PER_MIN)


def _cases(known: Known, at: datetime, vehicle: str, since_us: int) -> tuple[CaseClock, ...]:
    drills = {e.value.case: e.value for e in known.entries("survivors.drill")}
    open_cases: dict[str, int] = {}
    for entry in _about(known, at, "survivors.sortie_case", vehicle, since_us):
        said: SortieCase = entry.value
        if said.ended:
            open_cases.pop(said.case, None)
        else:
            open_cases.setdefault(said.case, to_us(entry.record.valid_at))
    return tuple(
        CaseClock(
            case=case,
            since_us=us,
            drill=drills[case].text if case in drills else "",
            drill_source=drills[case].source if case in drills else "",
        )
        for case, us in open_cases.items()
    )


def moves_of(
    phase: Phase,
    lift: Lift,
    chamber: str | None,
    *,
    aboard: tuple[int, int] | None = None,
    vehicle_place: str = "vehicle",
) -> tuple[dict[str, Any], ...]:
    """Return the payloads of the moves in the muster that a phase brings with it.

    At away the people of the lift go from the refuge into the vehicle; at back from the vehicle
    into the chamber named, or on deck.

    Parameters
    ----------
    aboard : tuple of int, optional
        ``(walking, stretcher)`` who are really aboard; the plan's numbers without it.
    vehicle_place : str
        The vehicle's place in the muster.
    """
    walking, stretcher = aboard or (lift.walking, lift.stretcher)
    groups = [
        {"persons": count, "fitness": fitness}
        for count, fitness in ((walking, "walking"), (stretcher, "stretcher"))
        if count
    ]
    places = {
        Phase.AWAY: (lift.refuge, vehicle_place, "hatch shut, off the seat"),
        Phase.BACK: (vehicle_place, chamber or "deck", "recovered"),
    }
    if phase not in places or not groups:
        return ()
    origin, to, reason = places[phase]
    said = f"lift {lift.key}: {reason}"
    return ({"from_place": origin, "to_place": to, "groups": groups, "reason": said},)
