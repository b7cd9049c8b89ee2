"""The response: first out, the ways to it, the chosen way's chain; the rest is folded."""

from collections.abc import Callable
from functools import partial

from dashboard.panels import layer
from dashboard.panels.forward_port import (
    chain as forward_port_chain,
    fit as forward_port_fit,
    home as forward_port_home,
    legs as forward_port_legs,
    options as forward_port_options,
    record as forward_port_record,
)
from dashboard.panels.plot import five_lines
from dashboard.panels.tracks import leg as tracks_leg, ships as tracks_ships
from dashboard.view import current

seen = current()
five_lines.first_out(seen)
parts: dict[str, Callable[[], object]] = {}
if layer.head(seen, "forward_port"):
    forward_port_options.show_short(seen)
    forward_port_chain.show_short(seen)
    parts = {
        "Every way": partial(forward_port_options.show, seen),
        "The whole chain": partial(forward_port_chain.show, seen),
        "Does it fit": partial(forward_port_fit.show, seen),
        "Legs": partial(forward_port_legs.show, seen),
    }


def ships() -> None:
    """Show the ships and aircraft that take part, with their layer's sentence and caution."""
    if layer.head(seen, "tracks"):
        tracks_ships.show(seen)


parts["Ships and aircraft"] = ships
parts["Search by a track"] = partial(tracks_leg.show, seen)
parts["The way home"] = partial(forward_port_home.show, seen)
parts["Record"] = partial(forward_port_record.show, seen)
layer.foot(seen, "response", parts)
