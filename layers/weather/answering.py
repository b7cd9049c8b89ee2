"""What the weather answers of the watch's questions: may we dive, and what that rests on."""

from __future__ import annotations

from layers.contract import Moment
from layers.earth.clock import from_us
from layers.earth.told import DiveVerdict, InputAge
from layers.earth.uncertain import NotKnown, Number, Stated, chance_words
from layers.weather.result import WeatherResult


def dive(result: WeatherResult, moment: Moment) -> Stated[DiveVerdict] | NotKnown:
    """Return whether the sea lets a whole sortie begin; not known with what to ask for."""
    found = result.dive
    if found.open is None:
        missing = found.missing or (found.because,)
        return NotKnown(missing=missing, at=moment.at, rests_on=found.rests_on)
    chance = found.chance.value if isinstance(found.chance, Number) else None
    because = found.because
    if found.in_doubt:
        because = f"{chance_words(chance or 0.0)} that a sortie now keeps its limits"
    verdict = DiveVerdict(
        may=None if found.in_doubt else found.open,
        because=because,
        chance=chance,
        opens=found.begins,
        until=found.until,
        decide_by=found.decide_by,
        where="" if result.place is None else result.place.words,
        read_at=min(
            (one.at for one in inputs(result, moment) if one.at <= moment.at), default=None
        ),
    )
    return Stated(value=verdict, at=moment.at, rests_on=found.rests_on)


def inputs(result: WeatherResult, moment: Moment) -> tuple[InputAge, ...]:
    """Return the readings that the dive's answer rests on: the sea as seen, and the forecast."""
    names = {station.station: station.name for station in result.stations}
    seen = {one.station: from_us(one.at_us) for one in result.near.values()}
    observed = tuple(
        InputAge(what=f"sea observed at {names.get(station, station)}", at=at)
        for station, at in seen.items()
    )
    speaking = set(result.field.speaks.values())
    issued = tuple(
        InputAge(what=_named(each.issue.model), at=each.issue.issued_at)
        for each in result.newest
        if each.issue.model in speaking
    )
    return (*observed, *issued)


def _named(model: str) -> str:
    """Return a forecast by its name, the word once; that it is an exercise every screen says."""
    name = model.removesuffix(" (exercise)")
    return name if "forecast" in name.casefold() else f"forecast {name}"
