"""What the lifts answer to the watch: margin, chance, sortie, first out, next decision, inputs."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta

from layers.contract import Moment
from layers.earth.clock import dtg, from_us
from layers.earth.told import (
    DiveVerdict,
    FirstOut,
    InputAge,
    NextDecision,
    PlannedLift,
    RefugeMargin,
    SortieNow,
)
from layers.earth.uncertain import NotKnown, Quantity, Stated
from layers.survivors.compute import MarginResult
from layers.survivors.lifts.margin_model import Outlook, RefugeOutlook
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.sorties.sortie import phase_words

NOBODY = "nobody is known to wait in a refuge"


def margin_answers(result: MarginResult, moment: Moment) -> tuple[RefugeMargin, ...] | NotKnown:
    """Return the margin of each refuge where people wait, the one to look at first in front."""
    outlook = result.outlook
    if not outlook.refuges:
        return NotKnown(unit="h", missing=(NOBODY,))
    ordered = sorted(outlook.refuges, key=lambda one: one.rank)
    return tuple(_margin(result, one) for one in ordered)


def _margin(result: MarginResult, one: RefugeOutlook) -> RefugeMargin:
    outlook = result.outlook
    air = result.air.of(one.refuge)
    return RefugeMargin(
        refuge=one.refuge,
        persons=one.persons,
        binds=one.binding,
        if_nobody_leaves_h=replace(one.nobody, rests_on=result.rests_on),
        as_planned_h=replace(one.planned, rests_on=result.rests_on),
        lasts_until=None if one.alone_h is None else _at(outlook, one.alone_h.p50),
        last_out=None if one.last_left_h is None else _at(outlook, one.last_left_h.p50),
        late_case_h=one.late_h,
        read_at=None if air is None else air.read_at,
        rough=result.rough,
        at_least=one.at_least,
        how_sure=one.how_sure,
    )


def _at(outlook: Outlook, hours: float) -> datetime | None:
    if not math.isfinite(hours):
        return None
    exact = from_us(outlook.at_us) + timedelta(hours=hours)
    # an hour told as 0305 and run through hours is 0305 again, not the minute before
    return (exact + timedelta(milliseconds=500)).replace(microsecond=0)


def lift_answers(result: MarginResult, moment: Moment) -> tuple[PlannedLift, ...]:
    """Return the lifts that are still to run, each by its likeliest hours."""
    outlook = result.outlook
    found = []
    for lift in outlook.lifts:
        fact = outlook.setting.facts.get(lift.key) if outlook.setting else None
        if fact is not None and fact.done:
            continue
        dive, hatch, deck = (
            _at(outlook, spread.p50) for spread in (lift.dive_h, lift.left_h, lift.back_h)
        )
        if dive is not None and hatch is not None and deck is not None:
            found.append(
                PlannedLift(
                    key=lift.key, vehicle=lift.vehicle, refuge=lift.refuge,
                    persons=(lift.walking + lift.stretcher) or None,
                    dive=dive, hatch=hatch, deck=deck,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda one: one.hatch))


def all_out_answer(result: MarginResult, moment: Moment) -> Quantity:
    """Return the chance that all are out in time: of the refuges and those not heard of."""
    return replace(result.outlook.all_out, rests_on=result.rests_on)


def sortie_answer(result: MarginResult, moment: Moment) -> Stated[SortieNow] | NotKnown:
    """Return the sortie under way; the one longest overdue where there are several."""
    outlook = result.outlook
    at = from_us(outlook.at_us)
    if outlook.unavailable:
        return NotKnown(missing=(outlook.lacks,))
    if not outlook.sorties:
        return Stated(value=SortieNow(phase="", said="no vehicle is down"), at=at)
    lost = [one for one in outlook.sorties if _is_lost(outlook, one.vehicle)]
    one = max(lost or outlook.sorties, key=lambda sortie: sortie.overdue_min)
    if lost:
        said = f"{one.vehicle}, lift {one.lift}, {one.refuge}: lost; last told: {phase_words(one)}"
        now = SortieNow(phase="lost", vehicle=one.vehicle, said=said)
        return Stated(value=now, at=at, rests_on=one.rests_on)
    late = f", report {one.overdue_min:.0f} min overdue" if one.overdue_min else ""
    back = (
        f"on deck about {dtg(from_us(one.on_deck_us))}"
        if one.returning
        else f"turn back by {dtg(from_us(one.turn_back_us))}, {one.turn_back_because}"
    )
    said = f"{one.vehicle}, lift {one.lift}, {one.refuge}: {phase_words(one)}{late}; {back}"
    return Stated(
        value=SortieNow(
            phase=one.phase.value,
            vehicle=one.vehicle,
            since=from_us(one.phase_since_us),
            overdue_min=one.overdue_min or None,
            said=said,
        ),
        at=at,
        rests_on=one.rests_on,
    )


def _is_lost(outlook: Outlook, vehicle: str) -> bool:
    """Return whether a vehicle under way is told as lost."""
    return outlook.setting is not None and outlook.setting.vehicle(vehicle).state == "lost"


def first_out_answer(result: MarginResult, moment: Moment) -> Stated[FirstOut] | NotKnown:
    """Return when the first people are on deck: as it happened, else by the plan.

    Counted to *on deck*, from SUBMISS where that stage was declared, else from the last stage.
    """
    outlook, stage = result.outlook, result.stage
    happened = [
        fact.began_us[Phase.BACK]
        for fact in _facts(outlook)
        if Phase.BACK in fact.began_us and fact.walking != 0
    ]
    planned = [
        time for lift in outlook.lifts if (time := _at(outlook, lift.back_h.p50)) is not None
    ]
    if not happened and not planned:
        why = (outlook.lacks,) if outlook.lacks else outlook.undated
        return NotKnown(missing=why or ("no lift is in the plan that can run",))
    time = from_us(min(happened)) if happened else min(planned)
    since = None if stage is None else stage[1]
    return Stated(
        value=FirstOut(
            event="on deck",
            time=time,
            hours_from=None if since is None else (time - since).total_seconds() / 3600.0,
            stage="" if stage is None else stage[0],
            done=bool(happened),
        ),
        at=from_us(outlook.at_us),
        rests_on=outlook.rests_on,
    )


def _facts(outlook: Outlook) -> tuple[LiftFact, ...]:
    return tuple(outlook.setting.facts.values()) if outlook.setting else ()


def _none_dives(outlook: Outlook) -> str:
    """Return why no vehicle of the plan dives again, or an empty text where one may."""
    if outlook.setting is None or not outlook.setting.vehicles:
        return ""
    setting = outlook.setting
    if setting.unready:  # it may be that one dives now
        return ""
    why = [setting.why_not(vehicle.name) for vehicle in setting.vehicles]
    return ", ".join(why) if all(why) else ""


def dive_answer(result: MarginResult, moment: Moment) -> Stated[DiveVerdict]:
    """Return whether there is a vehicle that can dive now; the sea is the weather's to judge."""
    outlook = result.outlook
    gone = _none_dives(outlook)
    if gone:
        verdict = DiveVerdict(may=False, because=gone)
    elif outlook.first_dive_us is None:
        told = outlook.lacks or ", ".join(outlook.undated) or "when a vehicle can dive is not told"
        verdict = DiveVerdict(may=None, because=told)
    elif (first := from_us(outlook.first_dive_us)) - moment.at > timedelta(minutes=1):
        verdict = DiveVerdict(may=False, because="no vehicle on scene", opens=first)
    else:
        verdict = DiveVerdict(may=True, because="")
    return Stated(value=verdict, at=from_us(outlook.at_us), rests_on=outlook.rests_on)


NO_HOUR = "its hour is not known, no forecast says that a sortie may begin"


def next_decision_answer(
    result: MarginResult, moment: Moment
) -> tuple[NextDecision, ...] | NotKnown:
    """Return what of the lifts waits to be decided: the order for the next dive, and by when."""
    outlook = result.outlook
    lift = outlook.next_lift
    if lift is None or outlook.setting is None:
        why = (outlook.lacks,) if outlook.lacks else outlook.undated
        return NotKnown(missing=why or ("no lift that can run waits",))
    notice = timedelta(hours=outlook.setting.limits.notice_h)
    dives = _at(outlook, lift.dive_h.p50)
    assert dives is not None  # a lift that dives next has its hour
    order = NextDecision(what=f"order lift {lift.key}, dive {dtg(dives)}", by=dives - notice)
    if lift.unforecast:
        order = NextDecision(what=f"order lift {lift.key}: {NO_HOUR}", by=None)
    found = [order]
    if outlook.decisions is not None:
        found += [
            NextDecision(what=f"last dive of {one.branch}", by=from_us(one.latest_us))
            for one in outlook.decisions.latest[:1]
            if one.latest_us is not None and not one.beyond
        ]
    return tuple(found)


def input_answers(result: MarginResult, moment: Moment) -> tuple[InputAge, ...]:
    """Return the readings that the margin rests on, with their times."""
    return tuple(
        InputAge(what=f"air, {one.refuge} refuge", at=one.read_at) for one in result.air.refuges
    )
