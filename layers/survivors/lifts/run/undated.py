"""Hours that nobody told: when a vehicle is mended or can first dive, when a chamber can be used.

By the plan none of them comes, at best each is now. The answers hold both, with the name of what
would tell: between none out in time, or those that others bring, and the best there can be.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from layers.earth.uncertain import Number, Quantity, between, ends, missing_of
from layers.survivors.lifts.plan import PlanSetting


def undated(setting: PlanSetting) -> tuple[str, ...]:
    """Return what has no hour, in words; none where every hour is told."""
    return tuple(f"when {what} is not known" for what in without_hour(setting))


def without_hour(setting: PlanSetting) -> Iterable[str]:
    """Yield what has yet to be and has no hour: ``V1 is mended``."""
    for vehicle in setting.vehicles:
        if vehicle.state == "broken" and setting.why_not(vehicle.name):
            yield f"{vehicle.name} is mended"
        elif vehicle.name in setting.unready:
            yield f"{vehicle.name} can first dive"
    for chamber in setting.closed:
        yield f"{chamber.name} can be used"


def at_best(setting: PlanSetting) -> PlanSetting:
    """Return the plan as it is if all that has no hour is so now."""
    names = [v.name for v in setting.vehicles if v.state == "broken" or v.name in setting.unready]
    now = {name: setting.at_us for name in names if setting.why_not(name)}
    opened = {"state": "ready", "available_at": None}
    return replace(
        setting,
        mended_us={**setting.mended_us, **now},
        unready=frozenset(),
        chambers=(*setting.chambers, *(c.model_copy(update=opened) for c in setting.closed)),
        closed=(),
    )


def between_both(by_plan: Quantity, best: Quantity, asked: tuple[str, ...]) -> Quantity:
    """Return what can be said between the plan as told and the best there can be.

    What the plan lacks only because of an hour that is not told is not asked for beside that
    hour, and bounds nothing: who has no lift by the plan has one at best.
    """
    if by_plan == best:
        return by_plan
    least, most = ends(by_plan)[0], ends(best)[1]
    if isinstance(by_plan, Number) and most is not None:
        most = max(most, by_plan.value)
    if isinstance(best, Number) and least is not None:
        least = min(least, best.value)
    missing = tuple(dict.fromkeys((*asked, *missing_of((best,)))))
    return between(least, most, missing, unit=best.unit, at=best.at, rests_on=best.rests_on)
