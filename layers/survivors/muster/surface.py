"""People on the surface: how long the water leaves them, where they drift, who can reach them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.earth.clock import duration_words, to_us
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.said.alike import plain_name
from layers.earth.units import m_to_nmi
from layers.earth.values import DatumValue, DriftingGroup, ShipState
from layers.journal.known import Entry, Known
from layers.survivors.muster.cold_water import ColdWater, predicted
from layers.survivors.muster.on_board import in_order
from layers.survivors.muster.surface_model import Craft


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftArrival:
    """How soon one craft is over a group: ready, then straight there at its speed.

    ``fixed_at`` is when she was where that is reckoned from, ``tracked`` that it is from her track.
    """

    craft: str
    sort: str
    distance_nmi: float
    bearing_true_deg: float
    hours: float
    within_radius: bool
    seats: int
    stretchers: int
    fixed_at: datetime
    tracked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterGroup:
    """A group in the water.

    ``position`` and ``radius_95_m`` are where the datum layer has them now; None when it has no
    such group.
    """

    group: str
    persons: int
    since: datetime
    in_water_h: float
    clothing: str
    sea_c: float | None
    sea_source: str
    cold: ColdWater
    position: Position | None
    radius_95_m: float | None
    reach: tuple[CraftArrival, ...]
    rests_on: tuple[str, ...]

    @property
    def nearest(self) -> CraftArrival | None:
        """Who can be there first."""
        return next((one for one in self.reach if one.within_radius), None)

    @property
    def words(self) -> str:
        """The group as it is read out."""
        said = f"{self.group}: {self.persons} in the water for {self.in_water_h:.0f} h"
        if self.cold.minutes is None:
            said += f"; no time is worked out, {self.cold.why_not}"
        else:
            hours = self.cold.minutes / 60.0
            said += f"; predicted to 30 °C core temperature {hours:.1f} h at {self.sea_c:g} °C"
        nearest = self.nearest
        if nearest is not None:
            said += f"; {nearest.craft} can be there in {_in(nearest.hours)}"
        elif self.position is not None:
            said += "; no craft recorded can reach them"
        return said + "."


def _in(hours: float) -> str:
    return duration_words(timedelta(hours=hours))


def latest_by(known: Known, kind: str, at: datetime, name: str) -> list[Entry]:
    """Return the last entry on each name, disputed ones left out."""
    latest: dict[str, Entry] = {}
    for entry in in_order(known.entries(kind), at):
        if not entry.disputed:
            latest[getattr(entry.value, name)] = entry
    return list(latest.values())


def water_groups(
    known: Known, at: datetime, datum: DatumValue | None, ships: Sequence[ShipState] = ()
) -> tuple[WaterGroup, ...]:
    """Return the groups in the water that are not recovered; ``ships`` are as their tracks say."""
    crafts = latest_by(known, "survivors.craft", at, "craft")
    groups = latest_by(known, "survivors.in_water", at, "group")
    seen = {plain_name(ship.name): ship for ship in ships}
    return tuple(
        _group(entry, at, datum, crafts, seen) for entry in groups if not entry.value.recovered
    )


def _group(
    entry: Entry,
    at: datetime,
    datum: DatumValue | None,
    crafts: list[Entry],
    ships: Mapping[str, ShipState],
) -> WaterGroup:
    value = entry.value
    adrift = _adrift(value.group, datum)
    reach = []
    if adrift is not None:
        reach = [_reach(c, ships.get(plain_name(c.value.craft)), adrift.position) for c in crafts]
    return WaterGroup(
        group=value.group,
        persons=value.persons,
        since=value.since,
        in_water_h=(to_us(at) - to_us(value.since)) / 3.6e9,
        clothing=value.clothing,
        sea_c=value.sea_c,
        sea_source=value.sea_source,
        cold=predicted(value.sea_c, value.clothing),
        position=adrift.position if adrift else None,
        radius_95_m=adrift.radius_95_m if adrift else None,
        reach=tuple(sorted(reach, key=lambda one: (not one.within_radius, one.hours))),
        rests_on=(entry.id, *(c.id for c in crafts)),
    )


def _adrift(group: str, datum: DatumValue | None) -> DriftingGroup | None:
    """Return where the datum layer has a group: by name, or the only one there is."""
    found = () if datum is None else datum.adrift
    named = [one for one in found if one.name == group]
    if named:
        return named[0]
    return found[0] if len(found) == 1 else None


def _reach(entry: Entry, ship: ShipState | None, to: Position) -> CraftArrival:
    craft: Craft = entry.value
    told_at = entry.record.valid_at
    start, fixed_at = Position(craft.latitude_deg, craft.longitude_deg), told_at
    tracked = ship is not None and ship.fixed_at >= told_at
    if tracked and ship is not None:
        start, fixed_at = ship.position, ship.fixed_at
    distance_m, bearing, _ = between(start, to)
    distance = m_to_nmi(distance_m)
    return CraftArrival(
        craft=craft.craft,
        sort=craft.sort,
        distance_nmi=distance,
        bearing_true_deg=bearing,
        hours=craft.ready_min / 60.0 + distance / craft.speed_kn,
        within_radius=craft.available
        and (craft.radius_nmi is None or distance <= craft.radius_nmi),
        seats=craft.seats,
        stretchers=craft.stretchers,
        fixed_at=fixed_at,
        tracked=tracked,
    )
