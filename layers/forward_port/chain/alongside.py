"""When a chain brings its ship to her berth."""

from __future__ import annotations

from datetime import datetime

from layers.earth import geodesy
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.forward_port import model
from layers.forward_port.facts import Facts
from layers.forward_port.result import ActivityForecast

AT_PORT_NMI = 5.0


def alongside(
    option: model.Option, activities: tuple[ActivityForecast, ...], facts: Facts
) -> tuple[datetime, ...]:
    """Return when the chain brings the ship to her berth: early, likely and late.

    The activity that the option names, else the first passage that ends at its port. Empty
    where neither is in the chain and no time was entered.
    """
    port = facts.last("port", option.port)
    for each in activities:
        leg = each.leg
        named = option.alongside and each.key == option.alongside
        ends_here = False
        if not option.alongside and leg is not None and leg.mode == "sea" and port is not None:
            end = Position(float(leg.latitudes_deg[-1]), float(leg.longitudes_deg[-1]))
            there = Position(port.latitude_deg, port.longitude_deg)
            ends_here = geodesy.between(end, there)[0] <= AT_PORT_NMI * M_PER_NMI
        if named or ends_here:
            if each.finished_at is not None:
                return (each.finished_at,)
            if not each.known:
                return ()
            return each.finish.p10, each.finish.p50, each.finish.p90
    return (option.alongside_from,) if option.alongside_from is not None else ()
