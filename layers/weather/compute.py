"""The weather at one moment, from what was known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from layers.contract import Moment, Others
from layers.earth.block import Block
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.sea.draws import sea_draws
from layers.earth.values import DatumValue
from layers.journal.known import Known
from layers.journal.releases.released import is_withheld
from layers.weather.around import around
from layers.weather.forecast.conditions import WeatherField, who_speaks
from layers.weather.forecast.issue_series import last_issues
from layers.weather.forecast.issues import Issue, issues_by_model
from layers.weather.forecast.running_error import running_errors
from layers.weather.observed import observed
from layers.weather.result import IssueNow, WeatherResult
from layers.weather.sea.dive import AT_WORK, may_dive
from layers.weather.sea.expected import ExpectedSea, expected
from layers.weather.sea.hatch import HatchNow, at_the_hatch, newest_seats, newest_vehicle
from layers.weather.sea.place import TOLD, WindowPlace, place_of
from layers.weather.sea.pulled import last_seen
from layers.weather.sea.sortie import sortie_of
from layers.weather.sea.sun import sun_days
from layers.weather.sea.tidal import Stream, streams
from layers.weather.sea.windows import DRAWS, OperationOutlook, limits_in_force, outlooks
from layers.weather.stations import StationNow, freshest, latest, nearest, old_or_far

NOTHING = "no weather is known yet"
ASKED = (
    "a buoy file, an airfield report, a SYNOP or SHIP report, a forecast in GRIB 2 or CF-NetCDF, "
    "or a typed observation"
)
SUN_DAYS = 4
ONE_ISSUE_STALE = timedelta(hours=12)


def stands(result: WeatherResult, others: Others) -> bool:
    """Whether the weather is the same with the datum: another place is told, or there is none."""
    datum, place = others.get("datum"), result.place
    if not isinstance(datum, DatumValue) or isinstance(datum.where, Block):
        return True
    return place is not None and (place.block is not None or place.how == TOLD)


def compute(known: Known, others: Others, moment: Moment) -> WeatherResult:
    """Return the weather at ``moment.at`` as it was known at ``moment.as_of``.

    Raises
    ------
    InputError
        Nothing to work on; the text says what would fill the place.
    """
    at = moment.at
    datum = others.get("datum")
    place = place_of(known, at, datum if isinstance(datum, DatumValue) else None)
    stations = latest(known, at, place)
    by_model = issues_by_model(known, at)
    tides = streams(known, at)
    if not stations and not by_model and not tides["surface"]:
        raise InputError(NOTHING, accepted=ASKED)
    seen = observed(known, at)
    errors = running_errors(by_model, seen, to_us(at))
    field = WeatherField(
        by_model=by_model,
        speaks=who_speaks(by_model, errors, None if place is None else place.position),
        errors=errors,
        seen=seen,
        tides=tuple(tide for tide in tides["surface"] if not tide.lacks),
    )
    ahead = None if place is None else expected(field, place, tides, at, _seat_height(known, at))
    limited = limits_in_force(known, at)
    if place is not None and place.block is not None:
        # the stream at the seat is her place: over a block no window of it can be told
        limited = {name: each for name, each in limited.items()
                   if each[0].value.current_seat_max_kn is None}  # fmt: skip
    drawn = None if ahead is None else sea_draws(ahead, DRAWS)
    outlook = () if ahead is None or drawn is None else outlooks(limited, ahead, at, drawn)
    names = {station.station: station.name for station in stations}
    near = {} if place is None else last_seen(seen, place.position, to_us(at), names)
    entries = {name: entry for name, (entry, _) in limited.items()}
    sortie = sortie_of(known, entries, at, _deepest_seat(known, at))
    hatches = _hatches(known, ahead, outlook, at)
    return WeatherResult(
        at=at,
        as_of=moment.as_of,
        place=place,
        stations=stations,
        nearest=nearest(stations, fresh=False),
        freshest=freshest(stations),
        headline=_headline(stations),
        field=field,
        newest=tuple(_newest(issues, at) for issues in by_model.values()),
        past_issues=last_issues(field, place),
        errors=errors,
        ahead=ahead,
        around=around(field, None if place is None else place.position, at),
        outlooks=outlook,
        limits=tuple(entry.value for entry in entries.values()),
        near=near,
        dive=may_dive(
            sortie, ahead, drawn, near, at, where=AT_WORK if place is None else place.words
        ),
        hatches=hatches,
        sun=() if place is None else sun_days(place.position, at, SUN_DAYS),
        rests_on=_rests_on(stations, place, by_model, tides, outlook, hatches),
        dive_withheld=is_withheld(known, "survivors.vehicle"),
    )


def _seat_height(known: Known, at: datetime) -> float | None:
    """Return how high the highest reported seat stands above the bed, metres."""
    heights = [e.value.water_depth_m - e.value.depth_m for e in newest_seats(known, at)]
    return max(heights, default=None)


def _deepest_seat(known: Known, at: datetime) -> float | None:
    return max((e.value.depth_m for e in newest_seats(known, at)), default=None)


def _hatches(
    known: Known, ahead: ExpectedSea | None, outlook: tuple[OperationOutlook, ...], at: datetime
) -> tuple[HatchNow, ...]:
    mating = next((o.limit for o in outlook if o.operation == "mating"), None)
    vehicle = newest_vehicle(known, at)
    return tuple(at_the_hatch(seat, vehicle, mating, ahead, at) for seat in newest_seats(known, at))


def _newest(issues: tuple[Issue, ...], at: datetime) -> IssueNow:
    newest = issues[-1]
    age = at - newest.issued_at
    usual = ONE_ISSUE_STALE
    if len(issues) > 1:
        usual = 2 * (newest.issued_at - issues[-2].issued_at)
    return IssueNow(issue=newest, before=len(issues) - 1, age=age, stale=age > usual)


def _headline(told: tuple[StationNow, ...]) -> StationNow | None:
    stations = tuple(station for station in told if not old_or_far(station))
    for measures in ("hs_m", "wind_kn", ""):
        found = nearest(stations, fresh=True, measures=measures)
        if found is not None:
            return found
    return freshest(stations)


def _rests_on(
    stations: tuple[StationNow, ...],
    place: WindowPlace | None,
    by_model: Mapping[str, tuple[Issue, ...]],
    tides: Mapping[str, tuple[Stream, ...]],
    outlook: tuple[OperationOutlook, ...],
    hatches: tuple[HatchNow, ...],
) -> tuple[str, ...]:
    ids: list[str] = []
    several: Iterable[tuple[str, ...]] = (
        *(station.rests_on for station in stations),
        *(tuple(d.rests_on for d in station.doubtful.values()) for station in stations),
        *(issues[-1].rests_on for issues in by_model.values()),
        *(hatch.rests_on for hatch in hatches),
    )
    for each in several:
        ids.extend(each)
    ids.extend(tide.rests_on for level in tides.values() for tide in level)
    ids.extend(each.rests_on for each in outlook)
    if place is not None and place.rests_on:
        ids.append(place.rests_on)
    return tuple(dict.fromkeys(ids))
