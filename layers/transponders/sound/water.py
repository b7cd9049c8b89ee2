"""From a measured profile to sound speed down to the seabed, and what its shape means."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import gsw
import numpy as np

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.values import SoundSpeedProfile
from layers.transponders.model import Profile
from layers.transponders.sound.sound_speed import all_equations

ASSUMED_SALINITY = 35.0  # practical; the usual open-ocean value, common practice, no source
ASSUMED_LATITUDE, ASSUMED_LONGITUDE = 45.0, 0.0
GRADIENT_BELOW_PER_S = 0.017  # pressure alone, isothermal water; d c/d z of Mackenzie (1981)
DISAGREE_M_S = 1.0  # a probe's own sound speed further than this from TEOS-10 is told
THERMOCLINE_C_PER_M = 0.02  # our own bound for naming a layer a thermocline; no source
STEP_PART = 0.12  # of the whole fall within 5 m: steep for this water; our own, no source
LEAST_FALL_C = 0.15  # less than that from top to bottom is mixed water; our own, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Sound speed from the surface to the seabed, and how sure it is.

    ``depth_m`` ascends from 0; ``speed_m_s`` beside it. ``equations`` holds the speed by every
    equation at the measured depths, empty when the profile brought sound speed alone.
    """

    depth_m: Floats
    speed_m_s: Floats
    measured_depth_m: Floats
    equations: dict[str, Floats]
    temperature_c: Floats | None
    practical_salinity: Floats | None
    spread_m_s: float | None
    taken_at: datetime
    position: Position | None
    source: str
    notes: tuple[str, ...]
    record_id: str

    def handed(self) -> SoundSpeedProfile:
        """Return the profile as other layers get it."""
        return SoundSpeedProfile(
            depth_m=self.depth_m,
            speed_m_s=self.speed_m_s,
            taken_at=self.taken_at,
            position=self.position,
            source=self.source,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What the profile means for sound.

    ``duct_m`` is the depth of the surface duct (0 for none), ``thermocline_m`` the top and
    bottom of the steepest fall of temperature, ``axis_m`` the depth of the channel's axis.
    """

    duct_m: float
    thermocline_m: tuple[float, float] | None
    axis_m: float | None
    harmonic_mean_m_s: float


def water(
    profile: Profile, *, taken_at: datetime, source: str, record_id: str, bottom_m: float
) -> Water:
    """Return the sound speed of a recorded profile, carried to the surface and to ``bottom_m``."""
    notes = list(profile.notes)
    measured = np.asarray(profile.depth_m)
    position = None
    if profile.latitude_deg is not None and profile.longitude_deg is not None:
        position = Position(profile.latitude_deg, profile.longitude_deg)
    equations: dict[str, Floats] = {}
    temperature = practical = None
    if profile.temperature_c is not None:
        temperature = np.asarray(profile.temperature_c)
        practical = practical_salinity(profile, measured, notes)
        lat, lon = _place(position, notes)
        equations = all_equations(temperature, practical, measured, lat, lon)
    speed = _chosen(profile, equations, notes)
    depth, carried = _to_the_ends(measured, speed, bottom_m, notes)
    spread = None
    if equations:
        stack = np.stack(list(equations.values()))
        spread = float(np.max(np.ptp(stack, axis=0)))
    return Water(
        depth_m=depth,
        speed_m_s=carried,
        measured_depth_m=measured,
        equations=equations,
        temperature_c=temperature,
        practical_salinity=practical,
        spread_m_s=spread,
        taken_at=taken_at,
        position=position,
        source=source,
        notes=tuple(notes),
        record_id=record_id,
    )


def practical_salinity(profile: Profile, depth_m: Floats, notes: list[str]) -> Floats:
    """Return practical salinity at the levels, from what the profile says it holds."""
    if profile.salinity is None:
        notes.append(
            f"no salinity measured: {ASSUMED_SALINITY:g} practical assumed; one unit of salinity "
            "is about 1.3 m/s"
        )
        return np.full(len(depth_m), ASSUMED_SALINITY)
    given = np.asarray(profile.salinity)
    if profile.salinity_kind == "practical":
        return given
    lat = ASSUMED_LATITUDE if profile.latitude_deg is None else profile.latitude_deg
    lon = ASSUMED_LONGITUDE if profile.longitude_deg is None else profile.longitude_deg
    return np.asarray(gsw.SP_from_SA(given, gsw.p_from_z(-depth_m, lat), lon, lat))


def _place(position: Position | None, notes: list[str]) -> tuple[float, float]:
    if position is not None:
        return position.latitude_deg, position.longitude_deg
    notes.append(
        "no position in the profile: 45°N 0°E assumed for gravity and salinity (< 0.1 m/s)"
    )
    return ASSUMED_LATITUDE, ASSUMED_LONGITUDE


def _chosen(profile: Profile, equations: dict[str, Floats], notes: list[str]) -> Floats:
    """Return TEOS-10 where temperature was measured, else the probe's own sound speed."""
    own = None if profile.sound_speed_m_s is None else np.asarray(profile.sound_speed_m_s)
    if not equations:
        if own is None:
            raise InputError("the profile has neither temperature nor sound speed")
        return own
    chosen = equations["TEOS-10"]
    if own is not None:
        gap = float(np.median(np.abs(own - chosen)))
        if gap > DISAGREE_M_S:
            notes.append(
                f"the probe's own sound speed differs from TEOS-10 by {gap:.1f} m/s (median)"
            )
    return chosen


def _to_the_ends(
    depth_m: Floats, speed_m_s: Floats, bottom_m: float, notes: list[str]
) -> tuple[Floats, Floats]:
    """Carry the profile up to the surface and down to the seabed."""
    if depth_m[0] > 0.0:
        depth_m = np.concatenate(([0.0], depth_m))
        speed_m_s = np.concatenate(([speed_m_s[0]], speed_m_s))
        if depth_m[1] > 5.0:
            notes.append(f"nothing measured above {depth_m[1]:.0f} m: its value carried up")
    if bottom_m > depth_m[-1] + 0.5:
        below = speed_m_s[-1] + GRADIENT_BELOW_PER_S * (bottom_m - depth_m[-1])
        notes.append(
            f"measured to {depth_m[-1]:.0f} m, seabed {bottom_m:.0f} m: carried down as "
            f"isothermal water, {GRADIENT_BELOW_PER_S} m/s per m"
        )
        depth_m = np.append(depth_m, bottom_m)
        speed_m_s = np.append(speed_m_s, below)
    return depth_m, speed_m_s


def harmonic_mean(depth_m: Floats, speed_m_s: Floats, top_m: float, bottom_m: float) -> float:
    """Return the speed that gives the vertical travel time between two depths, m/s.

    Between levels speed is linear, so each piece takes ln(c2/c1)/g exactly.
    """
    if bottom_m < top_m:
        top_m, bottom_m = bottom_m, top_m
    if bottom_m == top_m:
        return float(np.interp(top_m, depth_m, speed_m_s))
    inside = depth_m[(depth_m > top_m) & (depth_m < bottom_m)]
    z = np.concatenate(([top_m], inside, [bottom_m]))
    c = np.interp(z, depth_m, speed_m_s)
    relative = np.diff(c) / c[:-1]
    safe = np.where(np.abs(relative) < 1e-12, 1.0, relative)
    # ln(1 + u) / u, which is 1 in the limit of constant speed
    factor = np.where(np.abs(relative) < 1e-12, 1.0, np.log1p(safe) / safe)
    return float((bottom_m - top_m) / np.sum(np.diff(z) / c[:-1] * factor))


def shape(made: Water) -> Shape:
    """Return the duct, the thermocline, the channel axis and the mean of a profile."""
    z, c = made.depth_m, made.speed_m_s
    return Shape(
        duct_m=surface_duct(z, c),
        thermocline_m=thermocline(made.measured_depth_m, made.temperature_c),
        axis_m=channel_axis(z, c),
        harmonic_mean_m_s=harmonic_mean(z, c, float(z[0]), float(z[-1])),
    )


def surface_duct(depth_m: Floats, speed_m_s: Floats) -> float:
    """Return the depth to which speed rises from the surface, m; 0 when it does not.

    A duct needs at least 0.05 m/s of rise, the noise of a probe, and 2 m of depth, since a
    falling probe settles in the first metres (our own bounds, no source).
    """
    falls = np.flatnonzero(speed_m_s < np.maximum.accumulate(speed_m_s) - 0.05)
    end = int(falls[0]) if len(falls) else len(speed_m_s)
    top = int(np.argmax(speed_m_s[:end]))
    rises = speed_m_s[top] - speed_m_s[0] >= 0.05 and depth_m[top] >= 2.0
    return float(depth_m[top]) if rises else 0.0


AXIS_M_S = 0.2  # by how much a minimum must stand out on both sides; our own bound, no source


def channel_axis(depth_m: Floats, speed_m_s: Floats) -> float | None:
    """Return the depth of the channel's axis: of the minima, the one that stands out most."""
    found = minima(depth_m, speed_m_s)
    return found[0][0] if found else None


def minima(depth_m: Floats, speed_m_s: Floats) -> tuple[tuple[float, float], ...]:
    """Return every minimum of the sound speed below the surface, the deepest trap first.

    Of each the depth, m, and by how much it lies below the lower of its two sides, m/s: sound
    within so much of the speed at the axis is trapped. The surface and the seabed are sides,
    not minima; a lower speed at the surface takes nothing away from a channel below it.
    """
    found = []
    for low in range(1, len(speed_m_s) - 1):
        left = speed_m_s[low - 1] > speed_m_s[low]
        flat = speed_m_s[low - 1] == speed_m_s[low]
        if not (left or flat) or speed_m_s[low + 1] < speed_m_s[low]:
            continue
        sides = []
        for side in (speed_m_s[low::-1], speed_m_s[low:]):
            below = np.flatnonzero(side < speed_m_s[low])
            sides.append(float(np.max(side[: int(below[0])] if len(below) else side)))
        trap = min(sides) - float(speed_m_s[low])
        if trap > AXIS_M_S:
            found.append((float(depth_m[low]), trap))
    return tuple(sorted(found, key=lambda one: -one[1]))


def thermocline(depth_m: Floats, temperature_c: Floats | None) -> tuple[float, float] | None:
    """Return top and bottom of the steepest fall of temperature, m, over 5 m steps."""
    if temperature_c is None or depth_m[-1] - depth_m[0] < 10.0:
        return None
    z = np.arange(depth_m[0], depth_m[-1], 5.0)
    fall = -np.diff(np.interp(z, depth_m, temperature_c)) / 5.0
    # a step that is steep for this water counts though it would be nothing in another
    whole = float(np.ptp(temperature_c))
    steep = fall > min(THERMOCLINE_C_PER_M, STEP_PART * whole / 5.0)
    if not np.any(steep) or whole < LEAST_FALL_C:
        return None
    core = int(np.argmax(fall))
    top = core
    while top > 0 and steep[top - 1]:
        top -= 1
    end = core
    while end < len(steep) - 1 and steep[end + 1]:
        end += 1
    return float(z[top]), float(z[end + 1])
