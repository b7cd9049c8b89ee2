"""The watch's questions that this layer answers: where she is."""

from __future__ import annotations

from layers.contract import Moment
from layers.datum.result import DatumResult
from layers.earth.told import HerPlace
from layers.earth.uncertain import Stated

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
