"""What is expected at the place of work, every ten minutes to the end of the forecast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_H, to_us
from layers.earth.units import M_S_PER_KN
from layers.earth.values import SeaSeries
from layers.weather.forecast.conditions import (
    TIDE_SIGMA_M_S,
    WIND,
    WeatherField,
    knots,
    towards_deg,
)
from layers.weather.forecast.running_error import RunningError
from layers.weather.sea.place import WindowPlace
from layers.weather.sea.pulled import ObservedNear, last_seen, pulled
from layers.weather.sea.sun import sun_up
from layers.weather.sea.tidal import Stream, carried_down

STEP_US = 600_000_000
STEPS_PER_H = 6
LONGEST_H = 240
EARLIER_ISSUES = 2
TIDE_ALONE_H = 48  # without a forecast the tide is still worth two days
# One standard deviation of what no running error is measured of: assumptions of our own, common
# practice, no source.
TP_SIGMA_S, TP_SIGMA_S_PER_DAY = 1.0, 0.5
VISIBILITY_PART = 0.4  # of the visibility forecast
CARRIED_PART = 0.15  # of a stream carried down by the power law
SPOKEN_BY = {  # which quantity's model speaks for each variable
    "hs_m": "hs_m",
    "tp_s": "hs_m",
    "wind_kn": "wind_m_s",
    "visibility_nmi": "wind_m_s",
    "current_surface_kn": "current_m_s",
}

HELD_WORDS = {"hs_m": "waves", "tp_s": "waves", "wind_kn": "wind",
              "current_surface_kn": "surface current"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedSea:
    """Arrays of shape (n,), every ten minutes from the full hour before; NaN where not known.

    Waves and wind have the running bias taken out and are pulled to the latest observation near
    the place (:mod:`pulled`). ``hs_sigma_m`` and ``wind_sigma_kn`` join the running error with
    how far the last issues disagree (:func:`disagreement`). ``waves_forecast``, ``wind_forecast``
    and ``current_forecast`` (at the surface; a tidal table is one) are false where it is an
    observation carried on; ``seen`` holds what was observed near the place in the last hours.
    ``seat_estimated`` says that the current at the seat is the surface stream carried down by a
    power law, because no table for the seat was entered. ``stream_lacks`` says by variable what
    the stream that would tell it is without. ``ends_us`` is when the last forecast ends or ended.
    """

    at_us: Ints
    hs_m: Floats
    hs_sigma_m: Floats
    tp_s: Floats
    wave_from_true_deg: Floats
    wind_kn: Floats
    wind_sigma_kn: Floats
    wind_from_true_deg: Floats
    gust_kn: Floats
    current_surface_kn: Floats
    current_surface_set_deg: Floats
    current_seat_kn: Floats
    current_seat_set_deg: Floats
    visibility_nmi: Floats
    daylight: npt.NDArray[np.bool_]
    seat_estimated: bool
    tp_sigma_s: Floats
    current_surface_sigma_kn: Floats
    current_seat_sigma_kn: Floats
    visibility_sigma_nmi: Floats
    waves_forecast: bool = True
    wind_forecast: bool = True
    current_forecast: bool = True
    seen: Mapping[str, ObservedNear] = field(default_factory=dict)
    stream_lacks: Mapping[str, str] = field(default_factory=dict)
    ends_us: int | None = None

    def hourly(self) -> SeaSeries:
        """Return every full hour, as other layers get it."""
        each = slice(None, None, STEPS_PER_H)
        return SeaSeries(
            at_us=self.at_us[each],
            hs_m=self.hs_m[each],
            hs_sigma_m=self.hs_sigma_m[each],
            tp_s=self.tp_s[each],
            wind_kn=self.wind_kn[each],
            wind_sigma_kn=self.wind_sigma_kn[each],
            current_surface_kn=self.current_surface_kn[each],
            current_seat_kn=self.current_seat_kn[each],
            visibility_nmi=self.visibility_nmi[each],
            daylight=self.daylight[each],
            tp_sigma_s=self.tp_sigma_s[each],
            current_surface_sigma_kn=self.current_surface_sigma_kn[each],
            current_seat_sigma_kn=self.current_seat_sigma_kn[each],
            visibility_sigma_nmi=self.visibility_sigma_nmi[each],
            waves_forecast=self.waves_forecast,
            wind_forecast=self.wind_forecast,
            current_forecast=self.current_forecast,
        )

    def not_forecast(self, variable: str) -> str:
        """Return what of a variable is an observation held on, in words; empty for a forecast."""
        told = {"waves": self.waves_forecast, "wind": self.wind_forecast,
                "surface current": self.current_forecast}  # fmt: skip
        word = HELD_WORDS.get(variable, "")
        return "" if told.get(word, True) else word

    def at(self, moment: datetime) -> int:
        """Return the index of the step at or before a time."""
        return int(np.clip((to_us(moment) - self.at_us[0]) // STEP_US, 0, len(self.at_us) - 1))


def expected(
    weather: WeatherField,
    place: WindowPlace,
    tides: dict[str, tuple[Stream, ...]],
    at: datetime,
    seat_height_m: float | None,
) -> ExpectedSea | None:
    """Return what is expected at a place from ``at`` on, None without forecast and tide.

    Parameters
    ----------
    seat_height_m : float or None
        Height of the seat above the bed, to carry the stream down where no table was entered.
    """
    ends = [issues[-1].ends_at for issues in weather.by_model.values()]
    if not ends and not tides["surface"]:
        return None
    start = at.replace(minute=0, second=0, microsecond=0)
    until = max(ends, default=start + timedelta(hours=TIDE_ALONE_H))
    until = min(max(until, at), at + timedelta(hours=LONGEST_H))
    at_us = np.arange(to_us(start), to_us(until) + 1, STEP_US, dtype=np.int64)
    latitudes = np.full(len(at_us), place.position.latitude_deg)
    longitudes = np.full(len(at_us), place.position.longitude_deg)
    found = weather.conditions(latitudes, longitudes, at_us)

    def other(name: str, quantity: str) -> Floats:
        return weather.variable(name, quantity, latitudes, longitudes, at_us)

    seat_east, seat_north, seat_sigma_kn, estimated = _at_the_seat(
        tides, latitudes, longitudes, at_us, place, seat_height_m
    )
    seen = last_seen(weather.seen, place.position, to_us(at))
    best = _best(weather, place, at_us, seen)
    return ExpectedSea(
        at_us=at_us,
        hs_m=best["hs_m"][0],
        hs_sigma_m=best["hs_m"][1],
        tp_s=best["tp_s"][0],
        tp_sigma_s=best["tp_s"][1],
        wave_from_true_deg=towards_deg(
            other("wave_from_east", "hs_m"), other("wave_from_north", "hs_m")
        ),
        wind_kn=best["wind_kn"][0],
        wind_sigma_kn=best["wind_kn"][1],
        wind_from_true_deg=(towards_deg(found.wind_east_m_s, found.wind_north_m_s) + 180.0) % 360.0,
        gust_kn=other("gust_m_s", "wind_m_s") / M_S_PER_KN,
        current_surface_kn=best["current_surface_kn"][0],
        current_surface_sigma_kn=best["current_surface_kn"][1],
        current_surface_set_deg=towards_deg(found.current_east_m_s, found.current_north_m_s),
        current_seat_kn=knots(seat_east, seat_north),
        current_seat_sigma_kn=seat_sigma_kn,
        current_seat_set_deg=towards_deg(seat_east, seat_north),
        visibility_nmi=best["visibility_nmi"][0],
        visibility_sigma_nmi=best["visibility_nmi"][1],
        daylight=sun_up(place.position, at_us),
        seat_estimated=estimated,
        waves_forecast="hs_m" in weather.speaks,
        wind_forecast="wind_m_s" in weather.speaks,
        current_forecast="current_m_s" in weather.speaks
        or any(tide.covers(latitudes[:1], longitudes[:1]).all() for tide in tides["surface"]),
        seen=seen,
        stream_lacks=_lacks(tides, latitudes[:1], longitudes[:1]),
        ends_us=to_us(max(ends)) if ends else None,
    )


def _best(
    weather: WeatherField, place: WindowPlace, at_us: Ints, seen: Mapping[str, ObservedNear]
) -> dict[str, tuple[Floats, Floats]]:
    """Return each variable and its sigma: bias taken out, then pulled to what was seen."""
    n = len(at_us)
    here = np.full(n, place.position.latitude_deg), np.full(n, place.position.longitude_deg)
    best = _unbiased(weather, *here, at_us)
    for name, one in seen.items():
        if one.doubtful or not _forecast(weather, name):
            continue  # what stands there is an observation itself
        then = (np.array([one.latitude_deg]), np.array([one.longitude_deg]))
        value, sigma = _unbiased(weather, *then, np.array([one.at_us]))[name]
        best[name] = pulled(*best[name], at_us, one, float(value[0]), float(sigma[0]))
    return best


def _forecast(weather: WeatherField, name: str) -> bool:
    quantity = SPOKEN_BY[name]
    if name == "current_surface_kn" and weather.tides:
        return True
    return quantity in weather.speaks


def _unbiased(
    weather: WeatherField, latitudes: Floats, longitudes: Floats, at_us: Ints
) -> dict[str, tuple[Floats, Floats]]:
    found = weather.conditions(latitudes, longitudes, at_us)
    apart = disagreement(weather, latitudes, longitudes, at_us)
    ahead_d = np.zeros(len(at_us))
    hs_m, wind_kn = found.hs_m, knots(found.wind_east_m_s, found.wind_north_m_s)
    if (lead_h := _lead_h(weather, "hs_m", at_us)) is not None:
        ahead_d = lead_h / 24.0
        error = _error(weather, "hs_m", "hs_m")
        hs_m = np.maximum(hs_m - error.bias(lead_h), 0.0)
    if (lead_h := _lead_h(weather, "wind_m_s", at_us)) is not None:
        error = _error(weather, "wind_m_s", "wind_kn")
        wind_kn = np.maximum(wind_kn - error.bias(lead_h), 0.0)
    seen_nmi = weather.variable("visibility_nmi", "wind_m_s", latitudes, longitudes, at_us)
    return {
        "hs_m": (hs_m, np.hypot(found.hs_sigma_m, apart[0])),
        "tp_s": (found.tp_s, TP_SIGMA_S + TP_SIGMA_S_PER_DAY * ahead_d),
        "wind_kn": (
            wind_kn,
            np.hypot(_wind_sigma_kn(weather, at_us, found.wind_sigma_m_s), apart[1]),
        ),
        "current_surface_kn": (
            knots(found.current_east_m_s, found.current_north_m_s),
            found.current_sigma_m_s / M_S_PER_KN,
        ),
        "visibility_nmi": (seen_nmi, VISIBILITY_PART * seen_nmi),
    }


def _lead_h(weather: WeatherField, quantity: str, at_us: Ints) -> Floats | None:
    model = weather.speaks.get(quantity)
    if model is None:
        return None
    return np.maximum(at_us - weather.by_model[model][-1].issued_at_us, 0) / US_PER_H


def _error(weather: WeatherField, quantity: str, measured: str) -> RunningError:
    model = weather.speaks[quantity]
    return weather.errors.get((model, measured)) or RunningError(
        model=model, quantity=measured, bins=()
    )


def disagreement(
    weather: WeatherField, latitudes: Floats, longitudes: Floats, at_us: Ints
) -> tuple[Floats, Floats]:
    """Return how far the two issues before differ from the newest: Hs (m) and wind (kn).

    Root mean square of the differences at each place and time, 0 where no earlier issue
    reaches. The running error is measured in the weather of the last days; in front of a
    change that nobody has met yet, issues that move the change about say more. (Issues of
    different age taken as members: Hoffman & Kalnay, Tellus 35A (1983); from memory, not
    checked against the page.)
    """
    found = []
    for quantity, names in (("hs_m", ("hs_m",)), ("wind_m_s", WIND)):
        issues = weather.by_model.get(weather.speaks.get(quantity, ""), ())
        total, count = np.zeros(len(at_us)), np.zeros(len(at_us))
        for earlier in issues[-1 - EARLIER_ISSUES : -1]:
            before = _size(earlier.at(names, latitudes, longitudes, at_us))
            newest = _size(issues[-1].at(names, latitudes, longitudes, at_us))
            known = ~np.isnan(before - newest)
            total[known] += (before - newest)[known] ** 2
            count[known] += 1
        apart = np.sqrt(total / np.maximum(count, 1))
        found.append(apart if quantity == "hs_m" else apart / M_S_PER_KN)
    return found[0], found[1]


def _size(values: Floats) -> Floats:
    return np.asarray(np.linalg.norm(values, axis=1))


def _wind_sigma_kn(weather: WeatherField, at_us: Ints, component_m_s: Floats) -> Floats:
    """Return the standard deviation of the wind's speed; of the component where no forecast."""
    lead_h = _lead_h(weather, "wind_m_s", at_us)
    if lead_h is None:
        return component_m_s / M_S_PER_KN
    return _error(weather, "wind_m_s", "wind_kn").sigma(lead_h)


def _lacks(
    tides: Mapping[str, tuple[Stream, ...]], latitudes: Floats, longitudes: Floats
) -> dict[str, str]:
    """Return what the streams here are without, by the variable that they would tell."""
    here = {
        level: next((t.lacks for t in these if t.covers(latitudes, longitudes).all()), None)
        for level, these in tides.items()
    }
    surface, seat = here["surface"] or "", here["seat"]
    told = {"current_surface_kn": surface, "current_seat_kn": surface if seat is None else seat}
    return {name: said for name, said in told.items() if said}


def _at_the_seat(
    tides: dict[str, tuple[Stream, ...]],
    latitudes: Floats,
    longitudes: Floats,
    at_us: Ints,
    place: WindowPlace,
    seat_height_m: float | None,
) -> tuple[Floats, Floats, Floats, bool]:
    """Return the stream at the seat (m/s), its sigma (kn), whether it is the surface's.

    A surface stream carried down has the doubt of the law that carries it besides its own.
    """
    own = np.full(len(at_us), TIDE_SIGMA_M_S / M_S_PER_KN)
    for tide in tides["seat"]:
        if tide.covers(latitudes[:1], longitudes[:1]).all():
            return *tide.at(at_us), own, False
    for tide in tides["surface"]:
        depth = place.water_depth_m
        if tide.covers(latitudes[:1], longitudes[:1]).all() and depth and seat_height_m:
            share = carried_down(seat_height_m, depth)
            east, north = (part * share for part in tide.at(at_us))
            return east, north, np.hypot(own * share, CARRIED_PART * knots(east, north)), True
    unknown = np.full(len(at_us), np.nan)
    return unknown, unknown.copy(), own, False
