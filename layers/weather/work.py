"""The weather at one moment, from what was known."""

from __future__ import annotations

from layers.contract import Moment, Others
from layers.earth.errors import InputError
from layers.journal.known import Known
from layers.weather.place import Place, place_of
from layers.weather.result import WeatherResult
from layers.weather.stations import StationNow, freshest, latest, nearest

NOTHING = (
    "no weather yet: a buoy file, an airfield report, a SYNOP or SHIP report, a forecast in "
    "GRIB 2 or CF-NetCDF, or a typed observation would fill this place"
)


def compute(known: Known, others: Others, moment: Moment) -> WeatherResult:
    """Return the weather at ``moment.at`` as it was known at ``moment.as_of``.

    Raises
    ------
    InputError
        Nothing to work on; the text says what would fill the place.
    """
    place = place_of(known, moment.at)
    stations = latest(known, moment.at, place)
    if not stations:
        raise InputError(NOTHING)
    return WeatherResult(
        at=moment.at,
        as_of=moment.as_of,
        place=place,
        stations=stations,
        nearest=nearest(stations, fresh=False),
        freshest=freshest(stations),
        headline=_headline(stations),
        rests_on=_rests_on(stations, place),
    )


def _headline(stations: tuple[StationNow, ...]) -> StationNow | None:
    for measures in ("hs_m", "wind_kn", ""):
        found = nearest(stations, fresh=True, measures=measures)
        if found is not None:
            return found
    return freshest(stations)


def _rests_on(stations: tuple[StationNow, ...], place: Place | None) -> tuple[str, ...]:
    ids = [name for station in stations for name in station.rests_on]
    if place is not None:
        ids.append(place.rests_on)
    return tuple(dict.fromkeys(ids))
