"""Conditions at any place and time: what the layer hands to drift, to windows and to rescue.

For each quantity one model speaks: the one adopted for planning, else the one with the least
running error, else the newest. From its newest issue's time on, only that issue is used, to
its end. An earlier time is read from the issue that was newest then, at its short lead; that is
the past as last forecast, and no forecast is spliced. Where no forecast reaches, the nearest
observation in place and time stands in, its uncertainty growing with both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_H
from layers.earth.position import Position
from layers.earth.units import M_S_PER_KN
from layers.earth.values import Conditions
from layers.weather.forecast.issues import Issue
from layers.weather.forecast.running_error import ENOUGH_PAIRS, Errors, RunningError
from layers.weather.observed import ObservedSea
from layers.weather.sea.tidal import Stream

WIND = ("wind_east_m_s", "wind_north_m_s")
CURRENT = ("current_east_m_s", "current_north_m_s")
WAVES = ("hs_m", "tp_s")
NAMES = (*CURRENT, *WAVES, *WIND)
GROUPS = (("wind_m_s", WIND), ("current_m_s", CURRENT), ("hs_m", WAVES))
# How far an observation speaks for other places and times; an assumption of our own (common
# practice, no source). One more standard deviation is added for each of these steps away.
REACH_NMI, REACH_H = 30.0, 3.0
FARTHEST_STEPS = 4.0
TIDE_SIGMA_M_S = 0.10  # a table's own uncertainty; common practice, no source
NMI_PER_DEG = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where conditions came from, arrays of shape (n,), one for each place and time.

    ``origin`` names a model, ``tidal stream`` or a station; ``distance_nmi`` is to the nearest
    grid point or to the station, ``age_h`` from the issue or the observation to the time.
    """

    origin: npt.NDArray[np.object_]
    distance_nmi: Floats
    age_h: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherField:
    """Conditions at any place and time (a ``ConditionsField`` of ``layers/earth/values.py``).

    Parameters
    ----------
    by_model : mapping of str to tuple of Issue
        Oldest issue first.
    speaks : mapping of str to str
        Quantity (``"hs_m"``, ``"wind_m_s"``, ``"current_m_s"``) to the model that speaks.
    errors : mapping
        Running errors by (model, quantity).
    seen : ObservedSea
        Observations, for places and times without a forecast.
    tides : tuple of Stream
        Surface tidal streams; within their radius they are the current.
    """

    by_model: Mapping[str, tuple[Issue, ...]]
    speaks: Mapping[str, str]
    errors: Errors
    seen: ObservedSea
    tides: tuple[Stream, ...]

    def conditions(self, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints) -> Conditions:
        """Return the conditions at ``n`` places and times, shape (n,), NaN where not known."""
        latitudes, longitudes = _floats(latitudes_deg), _floats(longitudes_deg)
        times = np.asarray(at_us, dtype=np.int64)
        values, leads = self._forecast(latitudes, longitudes, times)
        sigmas = {quantity: self._sigma(quantity, lead_h) for quantity, lead_h in leads.items()}
        self._fill_from_observations(latitudes, longitudes, times, values, sigmas)
        self._tide(latitudes, longitudes, times, values, sigmas)
        return Conditions(
            wind_east_m_s=values["wind_east_m_s"],
            wind_north_m_s=values["wind_north_m_s"],
            wind_sigma_m_s=sigmas["wind_m_s"],
            current_east_m_s=values["current_east_m_s"],
            current_north_m_s=values["current_north_m_s"],
            current_sigma_m_s=sigmas["current_m_s"],
            hs_m=values["hs_m"],
            hs_sigma_m=sigmas["hs_m"],
            tp_s=values["tp_s"],
        )

    def variable(
        self, name: str, quantity: str, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints
    ) -> Floats:
        """Return one further variable of the model that speaks for a quantity, NaN where none."""
        model = self.speaks.get(quantity)
        if model is None:
            return np.full(len(at_us), np.nan)
        found, _ = look_up(self.by_model[model], (name,), latitudes_deg, longitudes_deg, at_us)
        return found[:, 0]

    def provenance(
        self, quantity: str, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints
    ) -> Provenance:
        """Return where one quantity comes from at ``n`` places and times."""
        latitudes, longitudes = _floats(latitudes_deg), _floats(longitudes_deg)
        n = len(at_us)
        origin = np.full(n, "", dtype=object)
        distance, age = np.full(n, np.nan), np.full(n, np.nan)
        names = dict(GROUPS)[quantity]
        model = self.speaks.get(quantity)
        empty = np.ones(n, dtype=np.bool_)
        if model is not None:
            issues = self.by_model[model]
            values, lead_h = look_up(issues, names, latitudes, longitudes, at_us)
            empty = np.isnan(values[:, 0])
            origin[~empty], age[~empty] = model, lead_h[~empty]
            distance[~empty] = _to_grid_point(issues[-1], latitudes, longitudes)[~empty]
        rows, off_nmi, off_h, steps = self._nearest_seen(names[0], latitudes, longitudes, at_us)
        near = empty & (steps <= FARTHEST_STEPS)
        origin[near] = self.seen.station[rows[near]] if near.any() else ""
        distance[near], age[near] = off_nmi[near], off_h[near]
        if quantity == "current_m_s":
            for tide in self.tides:
                here = tide.covers(latitudes, longitudes).astype(np.bool_)
                origin[here], distance[here], age[here] = "tidal stream", 0.0, 0.0
        return Provenance(origin=origin, distance_nmi=distance, age_h=age)

    def _forecast(
        self, latitudes: Floats, longitudes: Floats, times: Ints
    ) -> tuple[dict[str, Floats], dict[str, Floats]]:
        values = {name: np.full(len(times), np.nan) for name in NAMES}
        leads: dict[str, Floats] = {q: np.full(len(times), np.nan) for q, _ in GROUPS}
        for model in dict.fromkeys(self.speaks.values()):
            asked = [(q, names) for q, names in GROUPS if self.speaks.get(q) == model]
            names = tuple(sorted(name for _, group in asked for name in group))
            found, lead_h = look_up(self.by_model[model], names, latitudes, longitudes, times)
            for index, name in enumerate(names):
                values[name] = found[:, index]
            for quantity, _ in asked:
                leads[quantity] = lead_h
        return values, leads

    def _sigma(self, quantity: str, lead_h: Floats) -> Floats:
        model = self.speaks.get(quantity, "")
        error = self.errors.get((model, quantity)) or RunningError(
            model=model, quantity=quantity, bins=()
        )
        return error.sigma(lead_h)

    def _fill_from_observations(
        self,
        latitudes: Floats,
        longitudes: Floats,
        times: Ints,
        values: dict[str, Floats],
        sigmas: dict[str, Floats],
    ) -> None:
        for quantity, names in GROUPS:
            empty = np.flatnonzero(np.isnan(values[names[0]]))
            if not len(empty):
                continue
            rows, _, _, steps = self._nearest_seen(
                names[0], latitudes[empty], longitudes[empty], times[empty]
            )
            near = steps <= FARTHEST_STEPS
            for name in names:
                values[name][empty[near]] = getattr(self.seen, name)[rows[near]]
            start = self._sigma(quantity, np.zeros(1))[0]
            sigmas[quantity][empty] = np.nan
            sigmas[quantity][empty[near]] = start * (1.0 + steps[near])

    def _nearest_seen(
        self, name: str, latitudes: Floats, longitudes: Floats, times: Ints
    ) -> tuple[Ints, Floats, Floats, Floats]:
        """Return the nearest observation in place and time: row, miles, hours, steps away."""
        held = np.flatnonzero(~np.isnan(getattr(self.seen, name)))
        n = len(times)
        if not len(held):
            return np.zeros(n, dtype=np.int64), *(np.full(n, np.inf) for _ in range(3))  # type: ignore[return-value]  # three arrays, counted by the reader
        narrow = np.cos(np.radians(np.clip(float(np.mean(latitudes)), -89.0, 89.0)))
        west = float(longitudes[0])

        def steps_of(lat: Floats, lon: Floats, at: Ints) -> Floats:
            east = ((lon - west + 180.0) % 360.0 - 180.0) * narrow
            scale = NMI_PER_DEG / REACH_NMI
            return np.column_stack((lat * scale, east * scale, at / US_PER_H / REACH_H))

        seen = self.seen
        tree = scipy.spatial.cKDTree(
            steps_of(seen.latitude_deg[held], seen.longitude_deg[held], seen.at_us[held])
        )
        steps, index = tree.query(steps_of(latitudes, longitudes, times))
        rows = held[index]
        east = ((longitudes - seen.longitude_deg[rows] + 180.0) % 360.0 - 180.0) * narrow
        off_nmi = np.hypot(latitudes - seen.latitude_deg[rows], east) * NMI_PER_DEG
        off_h = np.abs(times - seen.at_us[rows]) / US_PER_H
        return rows.astype(np.int64), off_nmi, off_h, np.asarray(steps)

    def _tide(
        self,
        latitudes: Floats,
        longitudes: Floats,
        times: Ints,
        values: dict[str, Floats],
        sigmas: dict[str, Floats],
    ) -> None:
        for tide in self.tides:
            here = np.flatnonzero(tide.covers(latitudes, longitudes))
            if not len(here):
                continue
            east, north = tide.at(times[here])
            known = ~np.isnan(east)
            values["current_east_m_s"][here[known]] = east[known]
            values["current_north_m_s"][here[known]] = north[known]
            sigmas["current_m_s"][here[known]] = TIDE_SIGMA_M_S


def look_up(
    issues: tuple[Issue, ...],
    names: tuple[str, ...],
    latitudes_deg: Floats,
    longitudes_deg: Floats,
    at_us: Ints,
) -> tuple[Floats, Floats]:
    """Return variables, shape (n, len(names)), and leads in hours, from the issue newest then.

    A time before the first issue is read from the first one, if it reaches so far back.
    """
    if not len(at_us):
        return np.empty((0, len(names))), np.empty(0)
    issued = np.array([issue.issued_at_us for issue in issues], dtype=np.int64)
    which = np.maximum(np.searchsorted(issued, at_us, side="right") - 1, 0)
    lead_h = np.abs(at_us - issued[which]) / US_PER_H
    if len(issues) == 1 or (which == which[0]).all():
        return issues[int(which[0])].at(names, latitudes_deg, longitudes_deg, at_us), lead_h
    values = np.full((len(at_us), len(names)), np.nan)
    for index in np.unique(which):
        rows = np.flatnonzero(which == index)
        values[rows] = issues[int(index)].at(
            names, latitudes_deg[rows], longitudes_deg[rows], at_us[rows]
        )
    return values, lead_h


def who_speaks(
    by_model: Mapping[str, tuple[Issue, ...]], errors: Errors, place: Position | None
) -> dict[str, str]:
    """Return, per quantity, the model that speaks for it."""
    chosen: dict[str, str] = {}
    for quantity, names in GROUPS:
        fit = [
            (model, issues[-1])
            for model, issues in by_model.items()
            if names[0] in issues[-1].names and (place is None or issues[-1].covers(place))
        ]
        if fit:
            chosen[quantity] = min(fit, key=lambda held: _order(held, quantity, errors))[0]
    return chosen


def _order(held: tuple[str, Issue], quantity: str, errors: Errors) -> tuple[bool, float, int]:
    model, newest = held
    error = errors.get((model, quantity))
    least = np.inf
    if error is not None and error.measured:
        least = next(b.rms for b in error.bins if b.pairs >= ENOUGH_PAIRS)
    return (not newest.adopted, float(least), -newest.issued_at_us)


def _to_grid_point(issue: Issue, latitudes: Floats, longitudes: Floats) -> Floats:
    """Return the distance to the nearest grid point, nautical miles."""
    best = np.full(len(latitudes), np.inf)
    for piece in issue.pieces:
        north = np.abs(latitudes[:, None] - piece.latitudes_deg[None, :]).min(axis=1)
        east = np.abs(
            (longitudes[:, None] - piece.longitudes_deg[None, :] + 180.0) % 360.0 - 180.0
        ).min(axis=1) * np.cos(np.radians(latitudes))
        best = np.minimum(best, np.hypot(north, east) * NMI_PER_DEG)
    return best


def _floats(values: npt.ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def knots(east_m_s: Floats, north_m_s: Floats) -> Floats:
    """Return the speed in knots of two components in metres per second."""
    return np.asarray(np.hypot(east_m_s, north_m_s) / M_S_PER_KN)


def towards_deg(east: Floats, north: Floats) -> Floats:
    """Return the direction a vector points to, degrees true, 0 to 360."""
    return np.asarray(np.degrees(np.arctan2(east, north)) % 360.0)
