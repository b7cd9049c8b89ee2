"""Where the weather is wanted for: the place of work that was told, else the datum.

Before there is a datum: the last known position.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from layers.contract.told_place import told_block
from layers.earth.block import Block
from layers.earth.position import Position
from layers.earth.tells import Tells
from layers.earth.values import DatumValue
from layers.journal.known import Known
from layers.journal.releases.released import withholds

LKP = "datum.lkp"
TOLD = "place of work"


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPlace:
    """The place the windows and the nearest station are reckoned for."""

    position: Position
    water_depth_m: float | None
    how: str  # "place of work", "datum", "last known position", "middle of the area told"
    rests_on: str
    block: Block | None = None  # her place is withheld: what is told is for somewhere in it

    @property
    def words(self) -> str:
        """Where that is, as it stands beside an answer."""
        return "in the area told" if self.block is not None else f"at the {self.how}"


def place_of(known: Known, at: datetime, datum: DatumValue | None = None) -> WindowPlace | None:
    """Return the newest place of work set by ``at``, else the datum, the newest LKP, or None.

    Where her place is withheld: the middle of the block that the watch has told.
    """
    if withholds(known, Tells.POSITION):
        block = told_block(known, at)
        if block is None:
            return None
        how = "middle of the area told"
        return WindowPlace(
            position=block.centre, water_depth_m=None, how=how, rests_on="", block=block
        )
    held = [e for e in known.entries("weather.place_of_work") if e.record.valid_at <= at]
    if held:
        newest = max(held, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq))
        value = newest.value
        return WindowPlace(
            position=Position(value.latitude_deg, value.longitude_deg),
            water_depth_m=value.water_depth_m,
            how=TOLD,
            rests_on=newest.id,
        )
    if datum is not None and isinstance(datum.where, Position):
        return WindowPlace(position=datum.where, water_depth_m=None, how="datum", rests_on="")
    return _last_known(known, at)


def _last_known(known: Known, at: datetime) -> WindowPlace | None:
    """Return the newest last known position; its kind belongs to another layer."""
    for record in reversed(known.records(LKP)):
        position = _position(record.payload)
        if record.valid_at <= at and position is not None and not _retracted(known, record.id):
            return WindowPlace(
                position=position,
                water_depth_m=None,
                how="last known position",
                rests_on=record.id,
            )
    return None


def _retracted(known: Known, record_id: str) -> bool:
    return any(o.kind == "journal.retract" for o in known.opinions().get(record_id, ()))


def _position(payload: Mapping[str, Any]) -> Position | None:
    try:
        latitude, longitude = float(payload["latitude_deg"]), float(payload["longitude_deg"])
    except (KeyError, TypeError, ValueError):
        return None
    if not (math.isfinite(latitude) and math.isfinite(longitude)):
        return None
    return Position(latitude, longitude)
