"""Fixes of the vehicle and of the DISSUB from typed lines: ranges, bearing, depression, depth."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import scipy

from layers.contract import Moment
from layers.earth.arrays import Floats
from layers.earth.clock import day_hhmm
from layers.earth.errors import InputError
from layers.earth.plane import Plane, ellipse_of
from layers.earth.position import Position
from layers.earth.values import Ellipse
from layers.journal.known import Entry, Known
from layers.transponders.model import NetRange, TypedFix
from layers.transponders.net.net import LineInSpace, NetFix, fix, scale_line
from layers.transponders.net.priors import SCALE_SIGMA, UNMEASURED_SIGMA, delay_sigma_s
from layers.transponders.result import BoxIn, Fixed, Transponder
from layers.transponders.sound.travel import reached_m
from layers.transponders.sound.water import Water, harmonic_mean

STALE_AFTER = timedelta(hours=1)  # of a vehicle that moves; the DISSUB does not grow stale
UNITS = {"range": "m", "bearing": "°", "depression": "°", "depth": "m"}
SHIP_SIGMA_M = 3.0  # of the ship's own position; satellite fix, common practice, no source


def latest_fixes(
    known: Known,
    found: tuple[Transponder, ...],
    made: Water | None,
    moment: Moment,
    boxin: BoxIn | None = None,
) -> tuple[tuple[Fixed, ...], tuple[str, ...]]:
    """Return the latest fix of each subject, and a sentence for each that cannot be worked out."""
    latest: dict[str, Fixed] = {}
    refused: list[str] = []
    entries = [e for e in known.entries("transponders.typed_fix") if e.record.valid_at <= moment.at]
    for entry in sorted(entries, key=lambda one: one.record.valid_at, reverse=True):
        if entry.value.subject in latest:
            continue
        try:
            latest[entry.value.subject] = solve_entry(entry, found, made, moment, boxin)
        except InputError as reason:
            at = day_hhmm(entry.record.valid_at)
            refused.append(f"fix of {entry.value.subject} at {at} not worked out: {reason.words}")
    ordered = sorted(latest, key=lambda name: (latest[name].is_dissub, name))
    return tuple(latest[name] for name in ordered), tuple(refused)


MOST_ON_A_PATH = 60


def paths(
    known: Known,
    found: tuple[Transponder, ...],
    made: Water | None,
    moment: Moment,
    boxin: BoxIn | None,
) -> dict[str, tuple[Fixed, ...]]:
    """Return the newest fixes of each subject but the DISSUB, oldest first: its way through water.

    A fix that cannot be worked out is left out here; `latest_fixes` says why.
    """
    entries = [e for e in known.entries("transponders.typed_fix") if e.record.valid_at <= moment.at]
    held: dict[str, list[Fixed]] = {}
    for entry in sorted(entries, key=lambda one: one.record.valid_at)[-MOST_ON_A_PATH:]:
        if entry.value.is_dissub:
            continue
        try:
            one = solve_entry(entry, found, made, moment, boxin)
        except InputError:
            continue
        held.setdefault(entry.value.subject, []).append(one)
    return {name: tuple(fixes) for name, fixes in held.items()}


def solve_entry(
    entry: Entry,
    found: tuple[Transponder, ...],
    made: Water | None,
    moment: Moment,
    boxin: BoxIn | None = None,
) -> Fixed:
    """Return the place that one typed fix gives.

    Ranges by travel time carry the scale of the sound speed that the box-in solved, with its
    error; without a box-in the error of a profile, without a profile that of a guess.

    Raises
    ------
    InputError
        A transponder that is not in the net, or lines that do not fix a place.
    """
    typed: TypedFix = entry.value
    plane = Plane.about(_origin(typed, found))
    scale = 1.0 if boxin is None else boxin.scale
    guess = _guess(typed, found, plane)
    lines, used = _lines(typed, found, made, plane, scale, guess)
    more: list[LineInSpace] = []
    if any(asked.two_way_s is not None for asked in typed.ranges):
        more.append(scale_line(_scale_sigma(boxin, made)))
    solved = fix(_sighted([*lines, *more], guess, typed, made), guess)
    # how good a range is depends on where it leads: once more, from the place found
    lines, _ = _lines(typed, found, made, plane, scale, solved.place_m)
    lines = [*lines, *more]
    solved = fix(_sighted(lines, guess, typed, made), guess)
    return _fixed(entry, typed, solved, lines, plane, used, moment, found)


def _sighted(
    lines: list[LineInSpace], guess: Floats, typed: TypedFix, made: Water | None
) -> tuple[LineInSpace, ...]:
    if typed.depression_deg is None:
        return tuple(lines)
    return tuple(_bent(line, float(guess[2]), made) for line in lines)


def _scale_sigma(boxin: BoxIn | None, made: Water | None) -> float:
    if boxin is not None:
        return boxin.scale_sigma
    return SCALE_SIGMA if made is not None else UNMEASURED_SIGMA


def _bent(line: LineInSpace, depth_m: float, made: Water | None) -> LineInSpace:
    """Return a depression as the straight line to where the bent ray meets a depth.

    Raises
    ------
    InputError
        The ray turns before it comes so deep.
    """
    if line.sort != "depression" or made is None or line.measured >= 89.0:
        return line
    top = line.origin_m[2]

    def straight(angle_deg: float) -> float | None:
        out = reached_m(made.depth_m, made.speed_m_s, top, depth_m, angle_deg)
        return None if out is None else float(np.degrees(np.arctan2(depth_m - top, out)))

    middle = straight(line.measured)
    if middle is None:
        raise InputError(
            f"sound that leaves the ship {line.measured:g}° down turns before {depth_m:.0f} m",
            where="depression from ship",
            accepted="a steeper depression, or a profile of the water as it is now",
        )
    low, high = straight(line.measured - 0.1), straight(line.measured + 0.1)
    slope = 1.0 if low is None or high is None else (high - low) / 0.2
    return replace(line, measured=middle, sigma=line.sigma * max(slope, 0.2))


def _origin(typed: TypedFix, found: tuple[Transponder, ...]) -> Position:
    if typed.ship_latitude_deg is not None and typed.ship_longitude_deg is not None:
        return Position(typed.ship_latitude_deg, typed.ship_longitude_deg)
    by_name = {one.name: one for one in found}
    for asked in typed.ranges:
        if asked.transponder in by_name:
            return by_name[asked.transponder].position
    raise InputError(
        "no transponder of this fix has been dropped",
        where=typed.subject,
        accepted=", ".join(by_name) or "drops come first",
    )


def _guess(typed: TypedFix, found: tuple[Transponder, ...], plane: Plane) -> Floats:
    names = {asked.transponder for asked in typed.ranges}
    mine = [one.position for one in found if one.name in names]
    depth = (
        typed.depth_m
        if typed.depth_m is not None
        else max((one.depth_m for one in found), default=100.0)
    )
    if not mine:
        down = np.radians(typed.depression_deg or 45.0)
        bearing = np.radians(typed.bearing_true_deg or 0.0)
        out = max(1.0, (depth - typed.transducer_depth_m) / np.tan(down))
        return np.array([out * np.sin(bearing), out * np.cos(bearing), depth])
    east, north = plane.project([p.latitude_deg for p in mine], [p.longitude_deg for p in mine])
    return np.array([np.mean(east) + 1.0, np.mean(north) + 1.0, depth])


def _lines(
    typed: TypedFix,
    found: tuple[Transponder, ...],
    made: Water | None,
    plane: Plane,
    scale: float,
    about_m: Floats,
) -> tuple[list[LineInSpace], list[str]]:
    by_name = {one.name: one for one in found}
    lines: list[LineInSpace] = []
    used: list[str] = []
    for asked in typed.ranges:
        one = by_name.get(asked.transponder)
        if one is None:
            raise InputError(
                f"no transponder {asked.transponder!r} in the net",
                where=typed.subject,
                accepted=", ".join(by_name),
            )
        lines.append(_range_line(asked, one, typed, made, plane, scale, about_m))
        used += one.records
    lines += _ship_lines(typed, plane)
    depth, sigma = _depth(typed, found)
    lines.append(
        LineInSpace(
            name="depth", sort="depth", origin_m=(0.0, 0.0, 0.0), measured=depth, sigma=sigma
        )
    )
    return lines, used


def _depth(typed: TypedFix, found: tuple[Transponder, ...]) -> tuple[float, float]:
    """Return the object's own depth, else that of the seabed of the net with room to be off it."""
    if typed.depth_m is not None:
        return typed.depth_m, typed.depth_sigma_m
    deepest = float(np.median([one.depth_m for one in found])) if found else 100.0
    return deepest, 0.25 * deepest if not typed.is_dissub else 5.0


def _range_line(
    asked: NetRange,
    one: Transponder,
    typed: TypedFix,
    made: Water | None,
    plane: Plane,
    scale: float,
    about_m: Floats,
) -> LineInSpace:
    """Return a range as a line; ``about_m`` is where the object is about."""
    east, north = (
        float(v) for v in plane.project(one.position.latitude_deg, one.position.longitude_deg)
    )
    origin = (east, north, one.depth_m)
    slant, by_delay = asked.slant_m, 0.0  # m of range to a second of delay
    if slant is None:
        delay = one.drop.turn_round_s + (0.0 if one.boxed is None else one.boxed.delay_s)
        one_way = ((asked.two_way_s or 0.0) - delay) / 2.0
        if one_way <= 0.0:
            raise InputError(
                f"{asked.two_way_s:g} s is no longer than the turn-round delay of {one.name}",
                where=typed.subject,
                accepted=f"more than {one.drop.turn_round_s:g} s",
            )
        by_delay = scale * _speed(one.depth_m, typed.depth_m, made)
        slant, by_delay = by_delay * one_way, by_delay / 2.0
    if one.boxed is None:
        own = one.expected.sigma_m**2 + (by_delay * delay_sigma_s(one.drop)) ** 2
    else:
        away = about_m - np.array(origin)
        along = np.append(-away / max(float(np.linalg.norm(away)), 1.0), by_delay)
        own = float(along @ one.boxed.own_covariance @ along)
    return LineInSpace(
        name=f"range {one.name}",
        sort="range",
        origin_m=origin,
        measured=slant,
        sigma=float(np.sqrt(typed.range_sigma_m**2 + own)),
    )


def _speed(a_m: float, b_m: float | None, made: Water | None) -> float:
    """Return the mean sound speed between two depths; within a net rays are all but straight."""
    if made is None:
        return 1500.0
    last = float(made.depth_m[-1])
    far = a_m if b_m is None else b_m
    return harmonic_mean(made.depth_m, made.speed_m_s, min(a_m, last), min(far, last))


def _ship_lines(typed: TypedFix, plane: Plane) -> list[LineInSpace]:
    if typed.ship_latitude_deg is None or typed.ship_longitude_deg is None:
        return []
    east, north = (
        float(v) for v in plane.project(typed.ship_latitude_deg, typed.ship_longitude_deg)
    )
    origin = (east, north, typed.transducer_depth_m)
    lines = []
    if typed.bearing_true_deg is not None:
        lines.append(
            LineInSpace(
                name="bearing from ship",
                sort="bearing",
                origin_m=origin,
                measured=typed.bearing_true_deg,
                sigma=typed.bearing_sigma_deg,
            )
        )
    if typed.depression_deg is not None:
        lines.append(
            LineInSpace(
                name="depression from ship",
                sort="depression",
                origin_m=origin,
                measured=typed.depression_deg,
                sigma=typed.depression_sigma_deg,
            )
        )
    return lines


def _fixed(
    entry: Entry,
    typed: TypedFix,
    solved: NetFix,
    lines: list[LineInSpace],
    plane: Plane,
    used: list[str],
    moment: Moment,
    found: tuple[Transponder, ...],
) -> Fixed:
    covariance = solved.covariance
    if typed.bearing_true_deg is not None or typed.depression_deg is not None:
        # A bearing carries the ship's own error into the place whole.
        covariance = covariance + np.diag([SHIP_SIGMA_M**2, SHIP_SIGMA_M**2, 0.0]) * (
            0.0 if typed.ranges else 1.0
        )
    # what was wrong with the ship's place while she boxed in moves the whole net, and the fix
    common = _common(used_of(typed, found))
    covariance = covariance + np.diag([common, common, 0.0])
    ellipse = ellipse_of(covariance[:2, :2])
    agrees = solved.freedom < 1 or solved.chi2 <= scipy.special.chdtri(solved.freedom, 0.01)
    return Fixed(
        subject=typed.subject,
        is_dissub=typed.is_dissub,
        at=entry.record.valid_at,
        position=plane.position(float(solved.place_m[0]), float(solved.place_m[1])),
        depth_m=float(solved.place_m[2]),
        depth_sigma_m=float(np.sqrt(covariance[2, 2])),
        ellipse=ellipse,
        good_to_m=circle_95(ellipse),
        lines=tuple(
            (line.name, solved.residual[line.name], UNITS[line.sort])
            for line in lines
            if line.sort != "scale"
        ),
        agrees=bool(agrees),
        suspect=solved.suspect,
        without=None
        if solved.without_m is None
        else plane.position(float(solved.without_m[0]), float(solved.without_m[1])),
        second=None
        if solved.second_m is None
        else plane.position(float(solved.second_m[0]), float(solved.second_m[1])),
        stale=not typed.is_dissub and moment.at - entry.record.valid_at > STALE_AFTER,
        disputed=entry.disputed,
        records=(entry.id, *used),
        heard_at=entry.record.heard_at,
        source=entry.record.source,
    )


def used_of(typed: TypedFix, found: tuple[Transponder, ...]) -> list[Transponder]:
    """Return the transponders whose ranges a fix rests on."""
    names = {asked.transponder for asked in typed.ranges}
    return [one for one in found if one.name in names]


def _common(used: list[Transponder]) -> float:
    """Return the variance that all boxed transponders of a fix share, m²."""
    shared = [
        float(np.min(np.diag(one.boxed.covariance - one.boxed.own_covariance[:3, :3])[:2]))
        for one in used
        if one.boxed is not None
    ]
    return max(shared, default=0.0)


def circle_95(ellipse: Ellipse) -> float:
    """Return the radius of the circle that holds 95 % of a two-dimensional normal error, m.

    The probability within R is 1 less the mean of exp(-R² / 2(a² cos² + b² sin²)) over the
    eccentric angle; the radius lies between 1.960 sigma (one axis only) and 2.448 (both equal).
    """
    factor = float(np.sqrt(scipy.special.chdtri(2, 0.05)))
    a, b = ellipse.semi_major_m / factor, ellipse.semi_minor_m / factor
    angle = (np.arange(720) + 0.5) * (np.pi / 1440.0)
    variance = np.maximum((a * np.cos(angle)) ** 2 + (b * np.sin(angle)) ** 2, 1e-30)
    low, high = 0.0, 2.6 * a
    for _ in range(50):
        radius = 0.5 * (low + high)
        share = 1.0 - float(np.mean(np.exp(-0.5 * radius**2 / variance)))
        low, high = (radius, high) if share < 0.95 else (low, radius)
    return 0.5 * (low + high)
