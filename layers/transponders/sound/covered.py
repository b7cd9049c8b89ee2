"""What a listener would have heard, wherever she lies and whatever the hour: for "not heard".

From a listener's place sound comes and goes the same way (reciprocity): rays cast from the
listener over the real seabed say which ground is lit, the sonar equation with that hour's wind
how likely what lies there would have been heard. No place of hers is needed, so it serves while
she is only a datum.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field as kept

import numpy as np
import numpy.typing as npt
import scipy

from layers.earth.arrays import Floats, Ints
from layers.earth.errors import InputError
from layers.earth.geodesy import inverse
from layers.earth.position import Position
from layers.earth.values import ConditionsField, DepthGrid
from layers.transponders.model import Listener, SoundSource
from layers.transponders.sound.along import cast_about
from layers.transponders.sound.hearing import FLUCTUATION_DB, WaterColumn, hear, range_m
from layers.transponders.sound.terrain import OFF_BED_M, SoundGround, ground, lit_bed
from layers.transponders.sound.water import Water

Flags = npt.NDArray[np.bool_]
FURTHEST_M = 30_000.0  # direct sound is not looked for beyond; our own bound, no source
SURE_DB = 3.0 * FLUCTUATION_DB


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """`layers.earth.values.ListenersChance`: by source, listener, place and hour.

    Without a profile nothing is cut for shadow, and ``notes`` says so.
    """

    sources_by_name: Mapping[str, SoundSource]
    listeners_by_name: Mapping[str, Listener]
    sea: WaterColumn
    water: Water | None
    grid: DepthGrid | None
    field: ConditionsField | None
    flat_m: float
    profiles: tuple[Water, ...] = ()  # all recent ones, for water that changes along the way
    _lit: dict[tuple[object, ...], tuple[SoundGround, Flags]] = kept(default_factory=dict)

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of what may be heard."""
        return tuple(self.sources_by_name)

    @property
    def listeners(self) -> tuple[str, ...]:
        """Names of who listens."""
        return tuple(self.listeners_by_name)

    @property
    def notes(self) -> tuple[str, ...]:
        """What it rests on that nobody measured."""
        said = []
        if self.water is None:
            said.append("no sound-speed profile: no shadow is counted")
        if self.grid is None:
            said.append("no depth grid: a flat seabed is taken")
        if self.sea.assumed:
            said.append(f"water of {self.sea.assumed}")
        return tuple(said)

    def would_hear(
        self,
        source: str,
        listener: str,
        place: Position,
        at_us: Ints,
        latitudes_deg: Floats,
        longitudes_deg: Floats,
    ) -> Floats:
        """Return the chance that the listener hears the source, shape (hours, n).

        Parameters
        ----------
        source, listener : str
            Names as recorded.
        place : Position
            Where the listener is.
        at_us : ndarray of int64, shape (hours,)
            Hours listened at, UTC microseconds.
        latitudes_deg, longitudes_deg : ndarray, shape (n,)
            Where she may lie, on the seabed.

        Returns
        -------
        ndarray
            NaN in an hour whose wind nobody knows: that hour says nothing of her.

        Raises
        ------
        InputError
            A source or a listener that is not recorded.
        """
        what, who = self._named(source, listener)
        lat = np.atleast_1d(np.asarray(latitudes_deg, dtype=np.float64))
        lon = np.atleast_1d(np.asarray(longitudes_deg, dtype=np.float64))
        merits = [self._merit(what, who, place, int(us)) for us in at_us]
        known = [merit for merit, _ in merits if merit is not None]
        out = np.full((len(at_us), len(lat)), np.nan)
        if not known:
            return out
        absorption = merits[0][1]
        reach = min(FURTHEST_M, max(range_m(max(known) + SURE_DB, absorption), 100.0))
        away = inverse(place.latitude_deg, place.longitude_deg, lat, lon)
        off, bearing = np.asarray(away.distance_m), np.asarray(away.bearing_true_deg)
        lit = self._direct(who, place, reach, off, bearing)
        rise = self._depth(lat, lon) - OFF_BED_M - who.depth_m
        slant = np.maximum(np.hypot(off, rise), 1.0)
        loss = 20.0 * np.log10(slant) + absorption * slant / 1000.0
        for row, (merit, _) in enumerate(merits):
            if merit is not None:
                out[row] = np.where(lit, scipy.special.ndtr((merit - loss) / FLUCTUATION_DB), 0.0)
        return out

    def _named(self, source: str, listener: str) -> tuple[SoundSource, Listener]:
        for name, held, what in (
            (source, self.sources_by_name, "source of sound"),
            (listener, self.listeners_by_name, "listener"),
        ):
            if name not in held:
                raise InputError(
                    f"no {what} {name!r} is recorded",
                    where="what would have been heard",
                    accepted=", ".join(held) or f"record a {what} first",
                )
        return self.sources_by_name[source], self.listeners_by_name[listener]

    def _merit(
        self, what: SoundSource, who: Listener, place: Position, us: int
    ) -> tuple[float | None, float]:
        wind = who.wind_m_s
        if wind is None and self.field is not None:
            now = self.field.conditions(
                np.array([place.latitude_deg]),
                np.array([place.longitude_deg]),
                np.array([us], dtype=np.int64),
            )
            speed = float(np.hypot(now.wind_east_m_s[0], now.wind_north_m_s[0]))
            wind = speed if np.isfinite(speed) else None
        sea = WaterColumn(
            temperature_c=self.sea.temperature_c,
            salinity=self.sea.salinity,
            depth_m=self.sea.depth_m,
            wind_m_s=wind,
            wind_words="",
        )
        found = hear(what, who, sea, None)
        return found.merit_db, found.absorption_db_km

    def _direct(
        self, who: Listener, place: Position, reach_m: float, off_m: Floats, bearing_deg: Floats
    ) -> Flags:
        """Return whether direct sound joins the listener and each place on the bed."""
        near = off_m <= reach_m
        if self.water is None:
            return near
        reach = float(np.ceil(reach_m / 1000.0) * 1000.0)
        key = (who.depth_m, place.latitude_deg, place.longitude_deg, reach)
        if key not in self._lit:
            over = ground(
                place, reach, self.flat_m, None if self.grid is None else self.grid.depth_m
            )
            rays = cast_about(self.water, self.profiles, place, who.depth_m, over)
            self._lit[key] = (over, lit_bed(rays))
        over, lit = self._lit[key]
        turn = np.rint(bearing_deg / (360.0 / len(over.azimuth_deg))).astype(np.int64)
        step = over.range_m[1] - over.range_m[0]
        out = np.clip(np.rint(off_m / step).astype(np.int64), 0, len(over.range_m) - 1)
        return np.asarray(near & lit[turn % len(over.azimuth_deg), out])

    def _depth(self, lat: Floats, lon: Floats) -> Floats:
        depth = np.full(lat.shape, np.nan) if self.grid is None else self.grid.depth_m(lat, lon)
        return np.where(np.isfinite(depth), depth, self.flat_m)
