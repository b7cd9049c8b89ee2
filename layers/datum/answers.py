"""The watch's questions that this layer answers: where she is, where to search next, its age."""

from __future__ import annotations

from layers.contract import Moment
from layers.datum.result import DatumResult
from layers.earth.told import HerPlace, InputAge, SearchNext
from layers.earth.uncertain import NotKnown, Stated

WHERE = (  # without one of these it would be said of another place than the watch's
    "datum.lkp",
    "datum.intended_movement",
    "datum.bearing",
    "datum.range",
    "datum.time_difference",
    "datum.sighting",
    "datum.heard",
    "datum.negative_search",
    "datum.contact",
    "transponders.typed_fix",
)


def position(result: DatumResult, moment: Moment) -> Stated[HerPlace]:
    """Return where she is: one place, the best of all that is known, joined in one estimate."""
    return Stated(
        value=HerPlace(
            position=result.position,
            radius_95_m=result.radius_95_m,
            said_by=result.position_from,
            last_heard=result.last_heard,
            is_fix=result.is_fix,
            depth_m=result.depth_m,
            places=result.places,
        ),
        at=moment.at,
        rests_on=result.rests_on,
    )


def search_next(result: DatumResult, moment: Moment) -> Stated[SearchNext] | NotKnown:
    """Return the search that was sent and is steered, else the one that finds most, or the ask.

    What was sent is told as it was sent and then valued. Of several the one worth most; of the
    DISSUB until she is found, else of who is adrift; never a plan that has lapsed.
    """
    sent = [one for plan in result.plans for one in plan.sent]
    if sent:
        first = max(sent, key=lambda one: one.pos)
        return Stated(
            value=SearchNext(
                who=first.searcher, begins=first.begins, until=first.ends, pos=first.pos
            ),
            at=moment.at,
            rests_on=(first.record, *result.rests_on),
        )
    planned = [item for plan in result.plans for item in plan.planned]
    if planned:
        best = max(planned, key=lambda item: item.pos)
        return Stated(
            value=SearchNext(
                who=best.searcher.name, begins=best.begins, until=best.ends, pos=best.pos
            ),
            at=moment.at,
            rests_on=(best.record, *result.rests_on),
        )
    asks = [lapsed.ask for plan in result.plans for lapsed in plan.lapsed]
    if result.is_fix and not any(item.still_sought for item in result.adrift):
        return NotKnown(missing=("nobody is searched for",))
    return NotKnown(missing=tuple(asks) or ("a searcher: where, how fast, for how long",))


def inputs(result: DatumResult, moment: Moment) -> tuple[InputAge, ...]:
    """Return the newest report that where she is rests on; a fix on the bottom does not age."""
    return (InputAge(what="last report of her", at=result.last_heard, ages=not result.is_fix),)
