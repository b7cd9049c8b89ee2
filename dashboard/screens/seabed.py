"""Sound and seabed: the net about her in the round; the water, what is heard, charts folded."""

from collections.abc import Callable
from functools import partial

from dashboard.panels import layer
from dashboard.panels.transponders import (
    depths as transponders_depths,
    hearing as transponders_hearing,
    net as transponders_net,
    plan as transponders_plan,
    profile as transponders_profile,
    rays as transponders_rays,
    record as transponders_record,
    residuals as transponders_residuals,
    three_d as transponders_three_d,
)
from dashboard.view import current

seen = current()
parts: dict[str, Callable[[], object]] = {}
if layer.head(seen, "transponders"):
    transponders_three_d.show(seen)
    parts = {
        "The net": partial(transponders_net.show, seen),
        "Where it is good": partial(transponders_plan.show, seen),
        "Each reply": partial(transponders_residuals.show, seen),
        "The water": partial(transponders_profile.show, seen),
        "How sound runs": partial(transponders_rays.show, seen),
        "How far she is heard": partial(transponders_hearing.show, seen),
        "Charts": partial(transponders_depths.show, seen),
    }
if seen.writable:
    parts["Record"] = partial(transponders_record.show, seen)
layer.foot(seen, "seabed", parts)
