"""Listened and nothing heard: where she would have been heard, had she been sounding.

How far is taken from the sonar equation of the water there, over the real seabed and with the
wind of those hours where the layer of sound hands that on, or as typed. Either is doubtful: source
level, own noise and layers are seldom known to 10 dB, and a typed range is somebody's guess; so
the edge is wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.likelihood import HeardTerm, mean_about
from layers.datum.evidence.setting import EvidenceSetting, Parts
from layers.datum.evidence.timed import Missed, MissedAfter
from layers.datum.model import NotHeard
from layers.datum.result import Drawn
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane, range_bearing
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import HearingRange

# Of source level, noise and gain together, one standard deviation; common practice, no source.
DOUBT_DB = 10.0
RANGE_DOUBT = (1.0 / 1.5, 1.0, 1.5)  # the same as factors of the range, each as likely
TURNS, STEPS, STEP_M, HOURS = 72, 121, 250.0, 5  # of the table round a listener, to 30 km
LEAST_SIGMA_M = 0.5 * STEP_M  # a listener's place known better than so is taken as exact
# Which sound a word in a report means, by words of the source's name.
SOUNDS = (
    ("pinger", "beacon", "indicator"),
    ("telephone", "uwt", "voice"),
    ("tap", "hammer", "knock"),
    ("machinery", "propeller", "hydrophone"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WouldHear:
    """The chance that a listener hears a source, by the sonar equation and its doubt.

    Where he was is known to ``position_sigma_m``, round about, 1 sigma.
    """

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    hearing: HearingRange
    position_sigma_m: float = 0.0

    def __call__(self, states: States) -> Floats:
        """Return the chance for each state, shape (n,)."""
        metres, _ = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        if self.position_sigma_m < LEAST_SIGMA_M:
            return self.hearing.probability(metres)
        return np.interp(metres, *_would_hear_from(self.hearing, self.position_sigma_m))


@lru_cache(maxsize=64)
def _would_hear_from(hearing: HearingRange, sigma_m: float) -> tuple[Floats, Floats]:
    return mean_about(hearing.probability, 8.0 * (hearing.range_50_m or 1_000.0), sigma_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardAround:
    """The same over the real seabed and the hours listened, from a table round the listener.

    Parameters
    ----------
    chance : ndarray, shape (bearings, ranges)
        Mean over the hours, three ranges as likely each, and the places he may have been at; an
        hour whose wind nobody knows says nothing and counts as not heard.
    step_m : float
        Between ranges.
    half_m : float
        How far it is heard as likely as not, the middle of all bearings.
    """

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    chance: Floats
    step_m: float
    half_m: float

    def __call__(self, states: States) -> Floats:
        """Return the chance for each state, shape (n,)."""
        metres, bearing = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        return _looked_up(self.chance, bearing, metres / self.step_m)


def _looked_up(chance: Floats, bearing_deg: Floats, steps: Floats) -> Floats:
    """Return what a table round a listener says at bearings and so many steps away."""
    turns, count = chance.shape
    row = np.rint(bearing_deg / (360.0 / turns)).astype(np.int64) % turns
    column = np.rint(steps).astype(np.int64)
    return np.where(column < count, chance[row, np.minimum(column, count - 1)], 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SilentTerm:
    """Listened and nothing heard: had she been sounding within earshot, it would have been."""

    heard: Missed
    sounding: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the silence for each state, shape (n,)."""
        return np.asarray(1.0 - self.sounding * self.heard(states))


def silence(value: NotHeard, at: datetime, setting: EvidenceSetting) -> Parts:
    """Return what a listening that heard nothing says of her place.

    Raises
    ------
    InputError
        Nobody typed how far it would have been heard, and no such sound is worked out.
    """
    if value.within_m is not None:
        heard: Missed = HeardTerm(
            plane=setting.plane,
            latitude_deg=value.latitude_deg,
            longitude_deg=value.longitude_deg,
            within_m=value.within_m,
            fades_over_m=value.fades_over_m or value.within_m,
            wrong=0.0,
            position_sigma_m=value.position_sigma_m,
        )
        within_m, how = value.within_m, "as typed"
    else:
        around = _around(value, at, setting)
        if around is not None:
            how = "by the sonar equation over the seabed there, to a factor of 1.5"
            return _parts(value, at, setting, around, around.half_m, how)
        found = _worked_out(value, setting.hearing)
        heard = WouldHear(
            plane=setting.plane,
            latitude_deg=value.latitude_deg,
            longitude_deg=value.longitude_deg,
            hearing=found,
            position_sigma_m=value.position_sigma_m,
        )
        within_m = found.range_50_m or 0.0
        how = f"{found.source}, by the sonar equation as of now, to \N{PLUS-MINUS SIGN}10 dB"
    return _parts(value, at, setting, heard, within_m, how)


def _parts(
    value: NotHeard,
    at: datetime,
    setting: EvidenceSetting,
    heard: Missed,
    within_m: float,
    how: str,
) -> Parts:
    # a report that may be wrong says as much less: nobody listened, or not there
    term = SilentTerm(heard=heard, sounding=value.sounding_chance * (1.0 - value.chance_wrong))
    begun, ended = setting.seconds(value.started_at), setting.seconds(at)
    says = (
        f"{value.observer} listened for {value.by or 'her'} and heard nothing within about "
        f"{within_m / M_PER_NMI:.1f} nmi ({how}); that she sounds at all: "
        f"{value.sounding_chance:.0%}"
    )
    place = Position(value.latitude_deg, value.longitude_deg)
    missed = MissedAfter(missed=term, begun_s=begun, ended_s=ended)
    return Parts(likelihood=missed, says=says, drawn=Drawn(place=place, radius_m=within_m or None))


def _around(value: NotHeard, at: datetime, setting: EvidenceSetting) -> HeardAround | None:
    """Return what is heard round the listener over the hours, None where nothing hands it on."""
    listening = setting.listening
    name = None if listening is None else _named(value, listening.sources)
    if listening is None or name is None or not listening.listeners:
        return None
    first, last = to_us(value.started_at), max(to_us(at), to_us(value.started_at))
    hours = np.unique(np.linspace(first, last, HOURS).astype(np.int64))
    turn, metres = np.meshgrid(np.arange(TURNS) * 360.0 / TURNS, np.arange(STEPS) * STEP_M,
                               indexing="ij")  # fmt: skip
    lon, lat, _ = WGS84.fwd(
        np.full(turn.size, value.longitude_deg), np.full(turn.size, value.latitude_deg),
        turn.ravel(), np.maximum(metres.ravel(), 1.0),
    )  # fmt: skip
    place = Position(value.latitude_deg, value.longitude_deg)
    chances = []
    # whose ears they were is not known of one who is not recorded: then those that hear least
    own = value.observer in listening.listeners
    for who in (value.observer,) if own else listening.listeners:
        found = listening.would_hear(name, who, place, hours, np.asarray(lat), np.asarray(lon))
        if np.isfinite(found).any():
            chances.append(np.where(np.isfinite(found), found, 0.0).mean(axis=0))
    if not chances:
        return None
    chance = np.min(chances, axis=0).reshape(TURNS, STEPS)
    return HeardAround(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        chance=_doubted(chance, value.position_sigma_m),
        step_m=STEP_M,
        half_m=float(np.median((chance >= 0.5).sum(axis=1)) * STEP_M),
    )


def _doubted(chance: Floats, sigma_m: float) -> Floats:
    """Return a table round a listener as the mean over its ranges and where he may have been.

    What the seabed hides is taken to lie about him as it does about the place told.
    """
    turns, count = chance.shape
    turn, step = np.meshgrid(np.arange(turns) * 360.0 / turns, np.arange(count) * 1.0,
                             indexing="ij")  # fmt: skip
    wide = sum((_looked_up(chance, turn, step * factor) for factor in RANGE_DOUBT), 0.0 * chance)
    wide = wide / len(RANGE_DOUBT)
    if sigma_m < LEAST_SIGMA_M:
        return wide
    node, weight = np.polynomial.hermite.hermgauss(20)
    off = node * np.sqrt(2.0) * sigma_m / STEP_M
    east, north = step * np.sin(np.radians(turn)), step * np.cos(np.radians(turn))
    total = np.zeros_like(chance)
    for dx, one in zip(off, weight / np.sqrt(np.pi), strict=True):
        for dy, other in zip(off, weight / np.sqrt(np.pi), strict=True):
            bearing = np.degrees(np.arctan2(east + dx, north + dy))
            total += one * other * _looked_up(wide, bearing, np.hypot(east + dx, north + dy))
    return total


def _named(value: NotHeard, sources: Sequence[str]) -> str | None:
    """Return the source that a report names by one of its words, None where none does."""
    said = value.by.casefold()
    for names in SOUNDS:
        if any(name in said for name in names):
            for source in sources:
                if any(name in source.casefold() for name in names):
                    return source
    return None


def _worked_out(value: NotHeard, hearing: tuple[HearingRange, ...]) -> HearingRange:
    """Return the hearing of the sound a report names, with its doubt; of strangers the least."""
    name = _named(value, [one.source for one in hearing])
    theirs = [one for one in hearing if one.source == name]
    own = [one for one in theirs if one.listener == value.observer]
    if theirs:
        one = min(own or theirs, key=lambda heard: heard.merit_db)
        return replace(one, fluctuation_db=float(np.hypot(one.fluctuation_db, DOUBT_DB)))
    raise InputError(
        f"how far {value.by or 'it'} would have been heard is not known",
        where="not heard",
        accepted="within_m, or by: a sound whose source level is recorded, in known water and wind",
    )
