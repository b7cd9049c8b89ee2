"""Records turned into terms: which count, how much, and what each one says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from layers.datum.evidence.directions import true_bearing
from layers.datum.evidence.likelihood import (
    BearingTerm,
    DifferenceTerm,
    ExcludedTerm,
    HeardTerm,
    Likelihood,
    PlaceTerm,
    RangeTerm,
)
from layers.datum.evidence.plane import WGS84, Plane
from layers.datum.evidence.searched import NotSeenTerm
from layers.datum.evidence.soundings import horizontal_ranges, mean_speed
from layers.datum.model import (
    DISSUB,
    Bearing,
    Contact,
    Heard,
    NegativeSearch,
    Range,
    TimeDifference,
    Wreck,
)
from layers.datum.particles import Term
from layers.datum.result import Drawn, Evidence
from layers.earth.clock import day_hhmm
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.quantity import figure
from layers.earth.units import M_PER_NMI
from layers.earth.values import SoundSpeedProfile
from layers.journal.known import Entry, Known

# A place on the bottom taken for her by mistake may lie anywhere she may be; at least (10 nmi)^2.
ELSEWHERE_M2 = (10.0 * M_PER_NMI) ** 2
IDENTIFIED = 0.995
Floats = npt.NDArray[np.float64]
# How far a contact may lie from a charted wreck and still be it; and how much alike in length.
WRECK_REACH_M, WRECK_LENGTH = 500.0, 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """One report ready to count: what it says, its term, and the tail of its likelihood."""

    evidence: Evidence
    term: Term | None
    tail: float | None = None  # likelihood of the report when it is simply wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What every report is read against."""

    plane: Plane
    start: datetime
    profile: SoundSpeedProfile | None
    wrecks: tuple[Entry, ...]
    area_m2: float = ELSEWHERE_M2  # that she may lie in before any evidence
    places_m: tuple[Floats, Floats] | None = None  # some of these places on the plane

    @property
    def elsewhere_per_m2(self) -> float:
        """Density of places taken for her by mistake."""
        return 1.0 / max(self.area_m2, ELSEWHERE_M2)

    def wrong_range_per_m(
        self, latitude_deg: float, longitude_deg: float, longest_m: float
    ) -> float:
        """Return the density of a wrong range: anything she may be off, at least twice as far."""
        reach_m = 0.0
        if self.places_m is not None:
            x, y = self.plane.point(latitude_deg, longitude_deg)
            away = np.hypot(self.places_m[0] - x, self.places_m[1] - y)
            reach_m = float(np.quantile(away, 0.95))
        return 1.0 / max(2.0 * longest_m, reach_m)


def weightings(known: Known, at: datetime) -> Mapping[str, tuple[float, str]]:
    """Return weight and reason by record id; the last weighting of a record counts."""
    found: dict[str, tuple[float, str]] = {}
    for entry in known.entries("datum.weighting"):
        if entry.record.valid_at <= at:
            found[entry.value.target] = entry.value.weight, entry.value.reason
    return found


def build(
    kind: str, entry: Entry, setting: Setting, weights: Mapping[str, tuple[float, str]]
) -> Built:
    """Return one report ready to count; what cannot be used is set aside with its reason."""
    value, at = entry.value, entry.record.valid_at
    try:
        term, tail, says, drawn = BUILDERS[kind](value, at, setting)
    except InputError as reason:
        return _aside(kind, entry, str(reason))
    return weighed(kind, entry, setting, weights, term, tail, says, drawn)


def weighed(
    kind: str,
    entry: Entry,
    setting: Setting,
    weights: Mapping[str, tuple[float, str]],
    likelihood: Likelihood | None,
    tail: float | None,
    says: str,
    drawn: Drawn,
) -> Built:
    """Return a report with its weight applied."""
    at = entry.record.valid_at
    evidence = Evidence(
        key=entry.id,
        kind=kind,
        says=says,
        source=entry.record.source,
        at=at,
        heard_at=entry.record.heard_at,
        drawn=drawn,
        disputed=entry.disputed,
        on_the_bottom=getattr(entry.value, "identified", "") == DISSUB,
    )
    if at < setting.start:
        why = f"timed {day_hhmm(at)}, before she can have been lost ({day_hhmm(setting.start)})"
        return Built(evidence=replace(evidence, state="set aside", why=why, weight=0.0), term=None)
    weight, why = weights.get(entry.id, (1.0, ""))
    state = "counts" if weight == 1.0 else "counts in part" if weight > 0.0 else "suspended"
    evidence = replace(evidence, weight=weight, why=why, state=state)
    if likelihood is None:
        return Built(evidence=replace(evidence, state="noted"), term=None)
    if weight == 0.0:
        return Built(evidence=evidence, term=None)
    return Built(
        evidence=evidence,
        term=Term(key=entry.id, likelihood=likelihood, weight=weight),
        tail=tail,
    )


def _aside(kind: str, entry: Entry, why: str) -> Built:
    evidence = Evidence(
        key=entry.id,
        kind=kind,
        says=kind.partition(".")[2].replace("_", " "),
        source=entry.record.source,
        at=entry.record.valid_at,
        heard_at=entry.record.heard_at,
        drawn=Drawn(),
        weight=0.0,
        state="set aside",
        why=why,
        disputed=entry.disputed,
    )
    return Built(evidence=evidence, term=None)


Parts = tuple[Likelihood | None, float | None, str, Drawn]


def _for_dissub(name: str) -> None:
    if name != DISSUB:
        raise InputError(f"bears on {name!r}, not on the DISSUB")


def _bearing(value: Bearing, at: datetime, setting: Setting) -> Parts:
    _for_dissub(value.object)
    found = true_bearing(value, at)
    bearing = BearingTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        bearing_true_deg=found.bearing_true_deg,
        sigma_deg=value.sigma_deg,
        position_sigma_m=value.position_sigma_m,
        wrong=value.chance_wrong,
    )
    says = f"bearing {found.bearing_true_deg:05.1f}°T ± {value.sigma_deg:g}° from {value.observer}"
    says += f" ({found.words})" if value.sense != "true" else ""
    likelihood: Likelihood = bearing
    tail = value.chance_wrong / 360.0
    ranges: tuple[float, ...] = ()
    if value.range_m is not None and value.range_sigma_m is not None:
        ranges = (value.range_m,)
        anything = setting.wrong_range_per_m(value.latitude_deg, value.longitude_deg, value.range_m)
        ring = RangeTerm(
            plane=setting.plane,
            latitude_deg=value.latitude_deg,
            longitude_deg=value.longitude_deg,
            horizontal_m=ranges,
            sigma_m=value.range_sigma_m,
            position_sigma_m=value.position_sigma_m,
            wrong=value.chance_wrong,
            anything_per_m=anything,
        )
        likelihood = Both(bearing, ring)
        tail *= value.chance_wrong * anything
        says += f", range {value.range_m / M_PER_NMI:.2f} nmi"
    drawn = Drawn(
        place=Position(value.latitude_deg, value.longitude_deg),
        bearing_true_deg=found.bearing_true_deg,
        sigma_deg=value.sigma_deg,
        range_m=ranges,
    )
    return likelihood, tail, says, drawn


@dataclass(frozen=True, slots=True)
class Both:
    """Two terms of one report."""

    first: Likelihood
    second: Likelihood

    def __call__(self, states: Any) -> Any:
        """Return the product, shape (n,)."""
        return self.first(states) * self.second(states)


def _range(value: Range, at: datetime, setting: Setting) -> Parts:
    _for_dissub(value.object)
    speed = mean_speed(setting.profile, value.observer_depth_m, value.object_depth_m)
    ranges, sigma_m, words = horizontal_ranges(value, speed)
    anything = setting.wrong_range_per_m(value.latitude_deg, value.longitude_deg, max(ranges))
    term = RangeTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        horizontal_m=ranges,
        sigma_m=sigma_m,
        position_sigma_m=value.position_sigma_m,
        wrong=value.chance_wrong,
        anything_per_m=anything,
    )
    said = " or ".join(f"{figure(metres, 0)}" for metres in ranges)
    says = f"range {said} m ± {figure(sigma_m, 0)} m from {value.observer} ({words})"
    drawn = Drawn(place=Position(value.latitude_deg, value.longitude_deg), range_m=tuple(ranges))
    return term, value.chance_wrong * anything, says, drawn


def _difference(value: TimeDifference, at: datetime, setting: Setting) -> Parts:
    _for_dissub(value.object)
    speed = mean_speed(setting.profile, 5.0, None)
    first = value.latitude_deg, value.longitude_deg
    second = value.second_latitude_deg, value.second_longitude_deg
    apart = float(WGS84.inv(first[1], first[0], second[1], second[0])[2])
    metres = value.earlier_by_s * speed.speed_m_s
    sigma = float(np.hypot(value.sigma_s * speed.speed_m_s, value.position_sigma_m))
    if abs(metres) > apart + 4.0 * sigma:
        raise InputError(
            f"a difference of {figure(metres, 0)} m is more than the "
            f"{figure(apart, 0)} m between the places"
        )
    term = DifferenceTerm(
        plane=setting.plane,
        first=first,
        second=second,
        difference_m=metres,
        sigma_m=sigma,
        wrong=value.chance_wrong,
        apart_m=apart,
    )
    says = f"heard {value.earlier_by_s:+.2f} s earlier by {value.observer} than at a second place"
    drawn = Drawn(place=Position(*first))
    return term, value.chance_wrong * 0.5 / apart, says, drawn


def _heard(value: Heard, at: datetime, setting: Setting) -> Parts:
    _for_dissub(value.object)
    term = HeardTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        within_m=value.within_m,
        fades_over_m=value.fades_over_m or value.within_m / 2.0,
        wrong=value.chance_wrong,
    )
    nmi = value.within_m / M_PER_NMI
    says = f"{value.by or 'heard'}: within about {nmi:.1f} nmi of {value.observer}"
    drawn = Drawn(place=Position(value.latitude_deg, value.longitude_deg), radius_m=value.within_m)
    return term, value.chance_wrong, says, drawn


def _not_seen(value: NegativeSearch, at: datetime, setting: Setting) -> Parts:
    _for_dissub(value.object)
    lat = np.array([point.latitude_deg for point in value.waypoints])
    lon = np.array([point.longitude_deg for point in value.waypoints])
    x, y = setting.plane.project(lat, lon)
    term = NotSeenTerm(x_m=x, y_m=y, sweep_width_m=value.sweep_width_m, curve=value.pod_curve)
    length = float(np.hypot(np.diff(x), np.diff(y)).sum()) / M_PER_NMI
    says = (
        f"{value.searcher} saw nothing along {length:.1f} nmi, "
        f"sweep width {figure(value.sweep_width_m, 0)} m"
        + (", cut short" if value.cut_short else "")
    )
    track = tuple(Position(point.latitude_deg, point.longitude_deg) for point in value.waypoints)
    return term, None, says, Drawn(track=track)


def _wreck(value: Wreck, at: datetime, setting: Setting) -> Parts:
    place = Position(value.latitude_deg, value.longitude_deg)
    named = "wreck" in value.name.lower()
    if not value.ruled_out:
        called = value.name if named else f"charted wreck {value.name}"
        return None, None, f"{called}, not looked at", Drawn(place=place)
    x, y = setting.plane.point(value.latitude_deg, value.longitude_deg)
    term = ExcludedTerm(x_m=x, y_m=y, radius_m=value.ruled_out_radius_m)
    drawn = Drawn(place=place, radius_m=value.ruled_out_radius_m)
    return term, None, f"{value.name if named else f'wreck {value.name}'} looked at: not her", drawn


def _contact(value: Contact, at: datetime, setting: Setting) -> Parts:
    place = Position(value.latitude_deg, value.longitude_deg)
    x, y = setting.plane.point(value.latitude_deg, value.longitude_deg)
    length = f", {value.length_m:.0f} m long" if value.length_m else ""
    says = f"contact by {value.observer}{length}, {value.form}"
    drawn = Drawn(place=place, radius_m=2.45 * value.sigma_m)
    if value.identified == "not the DISSUB":
        gone = ExcludedTerm(x_m=x, y_m=y, radius_m=max(2.45 * value.sigma_m, 200.0))
        return gone, None, f"{says}: not her", drawn
    chance = contact_chance(value, setting.wrecks)
    term = PlaceTerm(
        x_m=x,
        y_m=y,
        sigma_m=value.sigma_m,
        chance_dissub=chance,
        elsewhere_per_m2=setting.elsewhere_per_m2,
        identified=value.identified == "DISSUB",
    )
    sure = "she is seen" if value.identified == "DISSUB" else f"her with a chance of {chance:.0%}"
    return term, (1.0 - chance) * setting.elsewhere_per_m2, f"{says}: {sure}", drawn


def wreck_beside(value: Contact, wrecks: tuple[Entry, ...]) -> tuple[str, float] | None:
    """Return name and distance in metres of the nearest charted wreck, if there is any."""
    found = [
        (
            float(
                WGS84.inv(
                    value.longitude_deg,
                    value.latitude_deg,
                    wreck.value.longitude_deg,
                    wreck.value.latitude_deg,
                )[2]
            ),
            wreck.value.name,
        )
        for wreck in wrecks
    ]
    if not found:
        return None
    metres, name = min(found)
    return name, metres


def contact_chance(value: Contact, wrecks: tuple[Entry, ...]) -> float:
    """Return the chance that a contact is the DISSUB and not a charted wreck.

    Where the observer's chance meets a charted wreck within reach and of like length, a fifth of
    it is left; common practice is to suspect the wreck first, the fifth has no source.
    """
    if value.identified == "DISSUB":
        return IDENTIFIED
    beside = wreck_beside(value, wrecks)
    if beside is None or beside[1] > WRECK_REACH_M + 2.45 * value.sigma_m:
        return value.chance_dissub
    lengths = {wreck.value.name: wreck.value.length_m for wreck in wrecks}
    charted = lengths[beside[0]]
    alike = (
        charted is None
        or value.length_m is None
        or abs(charted - value.length_m) <= WRECK_LENGTH * charted
    )
    return value.chance_dissub * (0.2 if alike else 0.6)


BUILDERS: Mapping[str, Callable[[Any, datetime, Setting], Parts]] = {
    "datum.bearing": _bearing,
    "datum.range": _range,
    "datum.time_difference": _difference,
    "datum.heard": _heard,
    "datum.negative_search": _not_seen,
    "datum.wreck": _wreck,
    "datum.contact": _contact,
}
