"""What the weather layer works out; frozen, read by marks, tables, sentence and screens."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.earth.values import WeatherValue
from layers.weather.around import Around
from layers.weather.forecast.conditions import WeatherField
from layers.weather.forecast.issue_series import IssueSeries
from layers.weather.forecast.issues import Issue
from layers.weather.forecast.running_error import Errors
from layers.weather.model import Limit
from layers.weather.sea.dive import Dive
from layers.weather.sea.expected import ExpectedSea
from layers.weather.sea.hatch import HatchNow
from layers.weather.sea.place import WindowPlace
from layers.weather.sea.pulled import ObservedNear
from layers.weather.sea.sun import SunDay
from layers.weather.sea.windows import OperationOutlook, handed
from layers.weather.stations import StationNow


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueNow:
    """The newest issue of one model, its age and whether it is past its time.

    ``stale`` when it is older than twice the gap to the issue before (or than 12 h where there
    is only one).
    """

    issue: Issue
    before: int
    age: timedelta
    stale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherResult:
    """The weather at one moment.

    ``stations`` are sorted nearest first; ``nearest`` is the nearest of all, ``freshest`` the
    one heard of last, ``headline`` the nearest that is not stale and measures waves (failing
    that, wind): the one the sentence speaks of. ``ahead`` is what is expected at the place,
    ``around`` the forecast round it at the time shown. ``dive`` is the one answer for a whole
    sortie; ``limits`` are those in force, forecast or not; ``near`` what was observed
    near the place in the last hours.
    """

    at: datetime
    as_of: datetime
    place: WindowPlace | None
    stations: tuple[StationNow, ...]
    nearest: StationNow | None
    freshest: StationNow | None
    headline: StationNow | None
    field: WeatherField
    newest: tuple[IssueNow, ...]
    past_issues: tuple[IssueSeries, ...]
    errors: Errors
    ahead: ExpectedSea | None
    around: Around | None
    outlooks: tuple[OperationOutlook, ...]
    limits: tuple[Limit, ...]
    near: Mapping[str, ObservedNear]
    dive: Dive
    hatches: tuple[HatchNow, ...]
    sun: tuple[SunDay, ...]
    rests_on: tuple[str, ...]
    dive_withheld: bool = False  # a release does not tell whether a sortie may begin


def hand(result: WeatherResult) -> WeatherValue:
    """Return what other layers get of the weather."""
    return WeatherValue(
        field=result.field,
        series_at_datum=None if result.ahead is None else result.ahead.hourly(),
        windows=handed(result.outlooks),
        sortie_starts=() if result.dive_withheld else result.dive.starts,
        hs_limits_m={
            one.operation: one.limit.hs_max_m
            for one in result.outlooks
            if one.limit.hs_max_m is not None
        },
    )
