"""Listened and nothing heard: where she would have been heard, had she been sounding.

How far is taken from the sonar equation of the water there (the layer of sound hands it on), or
as typed. Either is doubtful: source level, own noise and layers are seldom known to 10 dB, and a
typed range is somebody's guess; so the edge is wide.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.likelihood import HeardTerm
from layers.datum.evidence.setting import Parts, Setting
from layers.datum.evidence.timed import Missed, MissedAfter
from layers.datum.lines.plane import Plane, range_bearing
from layers.datum.model import NotHeard
from layers.datum.result import Drawn
from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import HearingRange

# Of source level, noise and gain together, one standard deviation; common practice, no source.
DOUBT_DB = 10.0
# Which sound a word in a report means, by words of the source's name.
SOUNDS = (
    ("pinger", "beacon", "indicator"),
    ("telephone", "uwt", "voice"),
    ("tap", "hammer", "knock"),
    ("machinery", "propeller", "hydrophone"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WouldHear:
    """The chance that a listener hears a source, by the sonar equation and its doubt."""

    plane: Plane
    latitude_deg: float
    longitude_deg: float
    hearing: HearingRange

    def __call__(self, states: States) -> Floats:
        """Return the chance for each state, shape (n,)."""
        metres, _ = range_bearing(
            self.plane, self.latitude_deg, self.longitude_deg, states.x_m, states.y_m
        )
        return self.hearing.probability(metres)


@dataclass(frozen=True, slots=True, kw_only=True)
class SilentTerm:
    """Listened and nothing heard: had she been sounding within earshot, it would have been."""

    heard: Missed
    sounding: float

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the silence for each state, shape (n,)."""
        return np.asarray(1.0 - self.sounding * self.heard(states))


def silence(value: NotHeard, at: datetime, setting: Setting) -> Parts:
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
        )
        within_m, how = value.within_m, "as typed"
    else:
        found = _worked_out(value, setting.hearing)
        heard = WouldHear(
            plane=setting.plane,
            latitude_deg=value.latitude_deg,
            longitude_deg=value.longitude_deg,
            hearing=found,
        )
        within_m = found.range_50_m or 0.0
        how = f"{found.source}, by the sonar equation as of now, to \N{PLUS-MINUS SIGN}10 dB"
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


def _worked_out(value: NotHeard, hearing: tuple[HearingRange, ...]) -> HearingRange:
    """Return the hearing of the sound a report names, with its doubt."""
    said = value.by.casefold()
    for names in SOUNDS:
        if not any(name in said for name in names):
            continue
        for one in hearing:
            if any(name in one.source.casefold() for name in names):
                wide = float(np.hypot(one.fluctuation_db, DOUBT_DB))
                return replace(one, fluctuation_db=wide)
    raise InputError(
        f"how far {value.by or 'it'} would have been heard is not known",
        where="not heard",
        accepted="within_m, or by: a sound whose source level is recorded, in known water and wind",
    )
