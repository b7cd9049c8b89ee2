"""Astronomical tide and stream from harmonic constants as they are printed.

Amplitude and Greenwich phase of each constituent come from the port's own list; speeds, phases
of the tide-raising bodies, node factors and node angles are worked out for every instant by
published formulas, so that constants are typed as printed and nothing is tied to a year.

References
----------
Schureman, Manual of Harmonic Analysis and Prediction of Tides, US Coast and Geodetic Survey
Special Publication 98 (1940, reprinted 1958): mean longitudes, orbit, node factors and angles,
equilibrium arguments (table and equation numbers from memory). Checked in ``tests/published``
against predictions of the US National Ocean Service and two general libraries.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import to_us
from layers.earth.errors import InputError

EPOCH_US = to_us(datetime(1899, 12, 31, 12, tzinfo=UTC))
US_PER_DAY, DAYS_PER_CENTURY = 86_400_000_000, 36_525.0
OBLIQUITY, LUNAR_INCLINATION = np.radians(23.452), np.radians(5.145)

# Equilibrium argument: multiples of T (hour angle of the mean sun), s, h, p, p1, and a constant
# in degrees; then how its node factor and angle are made: a name of `_NODES`, or powers of them.
_LUNAR = {"M2": 1.0}
ARGUMENTS: dict[str, tuple[tuple[int, int, int, int, int, int], dict[str, float]]] = {
    "M2": ((2, -2, 2, 0, 0, 0), _LUNAR),
    "S2": ((2, 0, 0, 0, 0, 0), {}),
    "N2": ((2, -3, 2, 1, 0, 0), _LUNAR),
    "K2": ((2, 0, 2, 0, 0, 0), {"K2": 1}),
    "K1": ((1, 0, 1, 0, 0, -90), {"K1": 1}),
    "O1": ((1, -2, 1, 0, 0, 90), {"O1": 1}),
    "P1": ((1, 0, -1, 0, 0, 90), {}),
    "Q1": ((1, -3, 1, 1, 0, 90), {"O1": 1}),
    "J1": ((1, 1, 1, -1, 0, -90), {"J1": 1}),
    "OO1": ((1, 2, 1, 0, 0, -90), {"OO1": 1}),
    "M1": ((1, -1, 1, 0, 0, -90), {"M1": 1}),
    "2Q1": ((1, -4, 1, 2, 0, 90), {"O1": 1}),
    "RHO": ((1, -3, 3, -1, 0, 90), {"O1": 1}),
    "S1": ((1, 0, 0, 0, 0, 0), {}),
    "NU2": ((2, -3, 4, -1, 0, 0), _LUNAR),
    "MU2": ((2, -4, 4, 0, 0, 0), _LUNAR),
    "2N2": ((2, -4, 2, 2, 0, 0), _LUNAR),
    "LAM2": ((2, -1, 0, 1, 0, 180), _LUNAR),
    "L2": ((2, -1, 2, -1, 0, 180), {"L2": 1}),
    "T2": ((2, 0, -1, 0, 1, 0), {}),
    "R2": ((2, 0, 1, 0, -1, 180), {}),
    "SA": ((0, 0, 1, 0, 0, 0), {}),
    "SSA": ((0, 0, 2, 0, 0, 0), {}),
    "MM": ((0, 1, 0, -1, 0, 0), {"MM": 1}),
    "MF": ((0, 2, 0, 0, 0, 0), {"MF": 1}),
    "MSF": ((0, 2, -2, 0, 0, 0), {"M2": -1}),
    "M3": ((3, -3, 3, 0, 0, 0), {"M2": 1.5}),
    "M4": ((4, -4, 4, 0, 0, 0), {"M2": 2}),
    "M6": ((6, -6, 6, 0, 0, 0), {"M2": 3}),
    "M8": ((8, -8, 8, 0, 0, 0), {"M2": 4}),
    "S4": ((4, 0, 0, 0, 0, 0), {}),
    "S6": ((6, 0, 0, 0, 0, 0), {}),
    "MN4": ((4, -5, 4, 1, 0, 0), {"M2": 2}),
    "MS4": ((4, -2, 2, 0, 0, 0), _LUNAR),
    "MK3": ((3, -2, 3, 0, 0, -90), {"M2": 1, "K1": 1}),
    "2MK3": ((3, -4, 3, 0, 0, 90), {"M2": 2, "K1": -1}),
    "2SM2": ((2, 2, -2, 0, 0, 0), {"M2": -1}),
}
# the same constituent under the name another list prints
OTHER_NAMES = {
    "LDA2": "LAM2", "LAMBDA2": "LAM2", "RHO1": "RHO", "NO1": "M1", "MO3": "2MK3", "NU 2": "NU2",
    "MU 2": "MU2", "N U2": "NU2", "SIG1": "2Q1",
}  # fmt: skip
RATES_DEG_H = (15.0, 0.54901653, 0.04106864, 0.00464183, 0.00000196)  # of T, s, h, p, p1


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One constituent of a list: amplitude in the list's unit, phase lag on Greenwich."""

    name: str
    amplitude: float
    phase_deg: float


# The four that the simplest printed lists give: without one of them a tide is not whole (common
# practice, no source). One that a place truly has not is entered as nothing.
PRINCIPAL = ("M2", "S2", "K1", "O1")


def known_name(name: str) -> str | None:
    """Return our name of a constituent, None where its argument is not known."""
    plain = name.strip().upper()
    plain = OTHER_NAMES.get(plain, plain)
    return plain if plain in ARGUMENTS else None


def principal_absent(names: Iterable[str]) -> tuple[str, ...]:
    """Return which of the principal constituents a list is without, in their usual order."""
    told = {known_name(name) for name in names}
    return tuple(name for name in PRINCIPAL if name not in told)


def speed_deg_per_h(name: str) -> float:
    """Return the speed of a constituent, degrees a mean solar hour."""
    multiples, _ = ARGUMENTS[_named(name)]
    return float(sum(m * rate for m, rate in zip(multiples, RATES_DEG_H, strict=False)))


def on_greenwich(name: str, phase_deg: float, zone_h: float) -> float:
    """Return the Greenwich phase of a phase on a zone's time.

    Parameters
    ----------
    zone_h : float
        Hours the zone is ahead of Greenwich, negative west: a zone behind subtracts
        ``speed x hours`` from the Greenwich phase to give its own.
    """
    return (phase_deg - speed_deg_per_h(name) * zone_h) % 360.0


def sums(constants: Sequence[Constant], at_us: Ints) -> Floats:
    """Return the sum of the constituents at times, in the list's unit, shape (n,).

    Raises
    ------
    InputError
        A constituent whose argument is not known.
    """
    at = np.atleast_1d(np.asarray(at_us, dtype=np.int64))
    total = np.zeros(len(at))
    if not constants:
        return total
    sky = Sky(at)
    for one in constants:
        factor, angle = sky.factor_and_angle(one.name)
        phase = sky.argument_deg(one.name) + angle - one.phase_deg
        total += factor * one.amplitude * np.cos(np.radians(phase))
    return total


class Sky:
    """Where moon and sun stand at times, and what that makes of a constituent.

    Parameters
    ----------
    at_us : ndarray of int, shape (n,)
        UTC microseconds.
    """

    def __init__(self, at_us: Ints) -> None:
        found = mean_longitudes(at_us)
        hour = np.mod(at_us, US_PER_DAY) / US_PER_DAY * 360.0 + 180.0  # of the mean sun
        self._bodies = (hour, found.s, found.h, found.p, found.p1)
        self._nodes = _nodes(orbit(found.node), found.p)
        self._ones = np.ones(len(at_us))

    def argument_deg(self, name: str) -> Floats:
        """Return the equilibrium argument V on Greenwich, degrees, shape (n,)."""
        multiples, _ = ARGUMENTS[_named(name)]
        turned = sum(m * body for m, body in zip(multiples, self._bodies, strict=False) if m)
        return np.asarray(multiples[5] + turned * self._ones)

    def factor_and_angle(self, name: str) -> tuple[Floats, Floats]:
        """Return node factor and node angle in degrees, each of shape (n,)."""
        factor, angle = self._ones, 0.0 * self._ones
        for part, power in ARGUMENTS[_named(name)][1].items():
            f, u = self._nodes[part]
            factor, angle = factor * f ** abs(power), angle + power * u
        return factor, angle


def _named(name: str) -> str:
    found = known_name(name)
    if found is None:
        raise InputError(
            f"constituent {name!r} is not known",
            where="harmonic constants",
            accepted=", ".join(ARGUMENTS),
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Longitudes:
    """Mean longitudes in degrees: moon, sun, lunar perigee, lunar node, solar perigee."""

    s: Floats
    h: Floats
    p: Floats
    node: Floats
    p1: Floats


def mean_longitudes(at_us: Ints) -> Longitudes:
    """Return the mean longitudes at times (Newcomb and Brown, epoch 1899-12-31 12:00)."""
    t = (np.asarray(at_us, dtype=np.float64) - EPOCH_US) / US_PER_DAY / DAYS_PER_CENTURY

    def turned(*powers: float) -> Floats:
        return np.mod(sum(c * t**k for k, c in enumerate(powers)), 360.0)

    return Longitudes(
        s=turned(270.43659, 481267.89057, 0.00198, 2e-6),
        h=turned(279.69668, 36000.76892, 0.0003),
        p=turned(334.32956, 4069.03403, -0.01032, -1e-5),
        node=turned(259.18328, -1934.14201, 0.00208, 2e-6),
        p1=turned(281.22083, 1.71902, 0.00045, 3e-6),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MoonOrbit:
    """The moon's orbit on the equator, radians; ``nu_1`` and ``nu_2`` are ν' and 2ν''."""

    inclination: Floats
    xi: Floats
    nu: Floats
    nu_1: Floats
    nu_2: Floats


def orbit(node_deg: Floats) -> MoonOrbit:
    """Return the orbit for the longitude of the node."""
    n = np.radians((np.asarray(node_deg) + 180.0) % 360.0 - 180.0)
    w, i = OBLIQUITY, LUNAR_INCLINATION
    inclination = np.arccos(np.cos(i) * np.cos(w) - np.sin(i) * np.sin(w) * np.cos(n))
    half = np.tan(n / 2.0)
    one = np.arctan(np.cos((w - i) / 2) / np.cos((w + i) / 2) * half)
    two = np.arctan(np.sin((w - i) / 2) / np.sin((w + i) / 2) * half)
    xi, nu = n - one - two, one - two
    twice, square = np.sin(2.0 * inclination), np.sin(inclination) ** 2
    return MoonOrbit(
        inclination=inclination,
        xi=xi,
        nu=nu,
        nu_1=np.arctan2(twice * np.sin(nu), twice * np.cos(nu) + 0.3347),
        nu_2=np.arctan2(square * np.sin(2 * nu), square * np.cos(2 * nu) + 0.0727),
    )


def _nodes(by: MoonOrbit, p_deg: Floats) -> dict[str, tuple[Floats, Floats]]:
    """Return node factor and node angle (degrees) of the constituents others are made of."""
    i, xi, nu = by.inclination, by.xi, by.nu
    perigee = np.radians(p_deg) - xi
    sine, half = np.sin(i), i / 2.0
    m2 = np.cos(half) ** 4 / 0.9154
    o1 = sine * np.cos(half) ** 2 / 0.3800
    tan2 = np.tan(half) ** 2
    l2 = m2 * np.sqrt(1.0 - 12.0 * tan2 * np.cos(2 * perigee) + 36.0 * tan2**2)
    r = np.arctan2(np.sin(2 * perigee), 1.0 / (6.0 * tan2) - np.cos(2 * perigee))
    q = np.arctan2(0.483 * np.sin(perigee), np.cos(perigee))
    k1 = np.sqrt(0.8965 * np.sin(2 * i) ** 2 + 0.6001 * np.sin(2 * i) * np.cos(nu) + 0.1006)
    k2 = np.sqrt(19.0444 * sine**4 + 2.7702 * sine**2 * np.cos(2 * nu) + 0.0981)
    radians = {
        "M2": (m2, 2 * xi - 2 * nu),
        "O1": (o1, 2 * xi - nu),
        "K1": (k1, -by.nu_1),
        "K2": (k2, -by.nu_2),
        "J1": (np.sin(2 * i) / 0.7214, -nu),
        "OO1": (sine * np.sin(half) ** 2 / 0.0164, -2 * xi - nu),
        "MF": (sine**2 / 0.1578, -2 * xi),
        "MM": ((2.0 / 3.0 - sine**2) / 0.5021, np.zeros_like(i)),
        "L2": (l2, 2 * xi - 2 * nu - r),
        "M1": (o1 * np.sqrt(2.310 + 1.435 * np.cos(2 * perigee)), xi - nu + q),
    }
    return {name: (f, np.degrees(u)) for name, (f, u) in radians.items()}


def turns(
    constants: Sequence[Constant], begin_us: int, end_us: int, step_min: float = 6.0
) -> list[tuple[int, float, bool]]:
    """Return the high (True) and low (False) waters between two times: (time, height, high).

    The height is about mean level, in the list's unit; times to a few seconds, by a parabola
    through the three heights round each turn.
    """
    step = int(step_min * 60e6)
    at = np.arange(begin_us - step, end_us + 2 * step, step, dtype=np.int64)
    height = sums(constants, at)
    rise = np.diff(height)
    found = []
    for k in np.flatnonzero(rise[:-1] * rise[1:] <= 0.0) + 1:
        before, here, after = height[k - 1 : k + 2]
        bend = before - 2.0 * here + after
        if bend == 0.0:
            continue
        off = 0.5 * (before - after) / bend
        when = int(at[k] + off * step)
        if begin_us <= when <= end_us:
            found.append((when, float(here - 0.25 * (before - after) * off), bool(bend < 0.0)))
    return found
