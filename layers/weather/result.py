"""What the weather layer works out; frozen, read by marks, tables, sentence and screens."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.weather.place import Place
from layers.weather.stations import StationNow


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherResult:
    """The weather at one moment.

    ``stations`` are sorted nearest first; ``nearest`` is the nearest of all, ``freshest`` the
    one heard of last, ``headline`` the nearest that is not stale and measures waves (failing
    that, wind): the one the sentence speaks of.
    """

    at: datetime
    as_of: datetime
    place: Place | None
    stations: tuple[StationNow, ...]
    nearest: StationNow | None
    freshest: StationNow | None
    headline: StationNow | None
    rests_on: tuple[str, ...]
