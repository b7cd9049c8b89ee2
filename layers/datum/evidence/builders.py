"""What each kind of record says of her place and of the time of loss: one function a kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.contacts import LookedAtTerm, contact_chance, looked_at
from layers.datum.evidence.likelihood import (
    BearingTerm,
    DifferenceTerm,
    HeardTerm,
    Likelihood,
    PlaceTerm,
    RangeTerm,
)
from layers.datum.evidence.not_seen import not_seen_term
from layers.datum.evidence.setting import EvidenceSetting, Parts
from layers.datum.evidence.silent import silence
from layers.datum.evidence.soundings import horizontal_ranges, mean_speed, range_of
from layers.datum.evidence.timed import LossTerm, MissedAfter, SheWas, Timing, she_was
from layers.datum.lines.directions import true_bearing
from layers.datum.model import Bearing, Heard, LossTime, Range, TimeDifference
from layers.datum.result import Drawn
from layers.datum.search.model import Contact, NegativeSearch, Wreck
from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI


def _timing(value: Any, at: datetime, setting: EvidenceSetting, heard: bool = False) -> Timing:
    """Return a report's time, and whether she lay or moved then."""
    lay: SheWas = she_was(value.she_was, value.by, heard)
    return Timing(prior=setting.prior, at_s=setting.seconds(at), she_was=lay)


def _bearing(value: Bearing, at: datetime, setting: EvidenceSetting) -> Parts:
    found = true_bearing(value, at)
    sigma = float(np.hypot(value.sigma_deg, found.sigma_deg))
    told = value.compass_sigma_deg
    bearing = BearingTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        bearing_true_deg=found.bearing_true_deg,
        sigma_deg=sigma,
        position_sigma_m=value.position_sigma_m,
        wrong=value.chance_wrong,
        # what the variation is off by is the same for all magnetic bearings there
        shared_sigma_deg=None if told is None else float(np.hypot(told, found.sigma_deg)),
    )
    says = f"bearing {found.bearing_true_deg:05.1f}°T ± {sigma:.2g}° from {value.observer}"
    says += f" ({found.words})" if value.sense != "true" else ""
    likelihood: Likelihood = bearing
    ranges: tuple[float, ...] = ()
    away, away_sigma, why = _away(value, setting)
    if away is not None and away_sigma is not None:
        ranges = (away,)
        ring = RangeTerm(
            plane=setting.plane,
            latitude_deg=value.latitude_deg,
            longitude_deg=value.longitude_deg,
            horizontal_m=ranges,
            sigma_m=away_sigma,
            position_sigma_m=value.position_sigma_m,
            wrong=value.chance_wrong,
            anything_per_m=setting.wrong_range_per_m(value.latitude_deg, value.longitude_deg, away),
        )
        likelihood = Both(bearing, ring)
        says += f", range {away / M_PER_NMI:.2f} nmi{why}"
    drawn = Drawn(
        place=Position(value.latitude_deg, value.longitude_deg),
        bearing_true_deg=found.bearing_true_deg,
        sigma_deg=sigma,
        range_m=ranges,
    )
    return Parts(
        likelihood=likelihood,
        says=says,
        drawn=drawn,
        owner=f"{value.observer}, {found.instrument}",
        timing=_timing(value, at, setting),
    )


def _away(value: Bearing, setting: EvidenceSetting) -> tuple[float | None, float | None, str]:
    """Return the range that came with a bearing, measured or by its depression, and its words."""
    if value.depression_deg is None:
        return value.range_m, value.range_sigma_m, ""
    depth = setting.depth_m(value.latitude_deg, value.longitude_deg)
    if value.object_depth_m is not None:
        depth = value.object_depth_m, 0.0
    if depth is None:
        return None, None, ""
    speed = mean_speed(setting.profile, value.observer_depth_m, depth[0])
    away, sigma, words = range_of(
        setting.profile, value.depression_deg, value.depression_sigma_deg,
        value.observer_depth_m, depth, speed,
    )  # fmt: skip
    return away, sigma, f" ({words})"


@dataclass(frozen=True, slots=True)
class Both:
    """Two terms of one report."""

    first: BearingTerm
    second: RangeTerm

    def __call__(self, states: States) -> Floats:
        """Return the product, shape (n,)."""
        return self.first(states) * self.second(states)

    def wrong_part(self, states: States) -> Floats:
        """Return the density with both parts wrong, times the chance of that, shape (n,)."""
        return self.first.wrong_part(states) * self.second.wrong_part(states)


def _range(value: Range, at: datetime, setting: EvidenceSetting) -> Parts:
    speed = mean_speed(setting.profile, value.observer_depth_m, value.object_depth_m)
    grid = setting.depth_m(value.latitude_deg, value.longitude_deg)
    found = horizontal_ranges(value, speed, grid)
    term = RangeTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        horizontal_m=found.metres,
        sigma_m=found.sigma_m,
        position_sigma_m=value.position_sigma_m,
        wrong=value.chance_wrong,
        anything_per_m=setting.wrong_range_per_m(
            value.latitude_deg, value.longitude_deg, max(found.metres)
        ),
        shared_sigma_m=found.speed_sigma_m,
    )
    said = " or ".join(figure(metres, 0) for metres in found.metres)
    says = f"range {said} m ± {figure(found.sigma_m, 0)} m from {value.observer} ({found.words})"
    drawn = Drawn(place=Position(value.latitude_deg, value.longitude_deg), range_m=found.metres)
    by_sound = found.speed_sigma_m is not None
    return Parts(
        likelihood=term,
        says=says,
        drawn=drawn,
        owner="the speed of sound" if by_sound else f"{value.observer}, ranges",
        timing=_timing(value, at, setting),
    )


def _difference(value: TimeDifference, at: datetime, setting: EvidenceSetting) -> Parts:
    speed = mean_speed(setting.profile, 5.0, None)
    first = value.latitude_deg, value.longitude_deg
    second = value.second_latitude_deg, value.second_longitude_deg
    apart = float(WGS84.inv(first[1], first[0], second[1], second[0])[2])
    metres = value.earlier_by_s * speed.speed_m_s
    timing_m = float(np.hypot(value.sigma_s * speed.speed_m_s, metres * speed.sigma))
    sigma = float(np.hypot(timing_m, value.position_sigma_m))
    if abs(metres) > apart + 4.0 * sigma:
        raise InputError(
            f"a difference of {figure(metres, 0)} m is more than the {figure(apart, 0)} m "
            "between the places"
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
    return Parts(
        likelihood=term,
        says=says,
        drawn=Drawn(place=Position(*first)),
        timing=_timing(value, at, setting),
    )


def _heard(value: Heard, at: datetime, setting: EvidenceSetting) -> Parts:
    term = HeardTerm(
        plane=setting.plane,
        latitude_deg=value.latitude_deg,
        longitude_deg=value.longitude_deg,
        within_m=value.within_m,
        fades_over_m=value.fades_over_m or value.within_m / 2.0,
        wrong=value.chance_wrong,
        position_sigma_m=value.position_sigma_m,
    )
    nmi = value.within_m / M_PER_NMI
    says = f"{value.by or 'heard'}: within about {nmi:.1f} nmi of {value.observer}"
    drawn = Drawn(place=Position(value.latitude_deg, value.longitude_deg), radius_m=value.within_m)
    return Parts(
        likelihood=term,
        says=says,
        drawn=drawn,
        timing=_timing(value, at, setting, heard=True),
    )


def _loss_time(value: LossTime, at: datetime, setting: EvidenceSetting) -> Parts:
    begins = -np.inf if value.earliest is None else setting.seconds(value.earliest)
    ends = np.inf if value.latest is None else setting.seconds(value.latest)
    if ends < 0.0 or begins > setting.prior.span_s:
        raise InputError("outside of the time in which she can have been lost")
    term = LossTerm(
        low_s=begins,
        high_s=ends,
        soft_s=value.sigma_s,
        span_s=setting.prior.span_s,
        wrong=value.chance_wrong,
    )
    return Parts(likelihood=term, says=f"{value.what} by {value.observer}: {value.words()}",
                 drawn=Drawn())  # fmt: skip


def _not_seen(value: NegativeSearch, at: datetime, setting: EvidenceSetting) -> Parts:
    found = not_seen_term(value, setting.plane)
    begun = min(setting.seconds(value.started_at), setting.seconds(at))
    missed = MissedAfter(missed=found.term, begun_s=begun, ended_s=setting.seconds(at))
    return Parts(likelihood=missed, says=found.says, drawn=Drawn(track=found.track))


def _wreck(value: Wreck, at: datetime, setting: EvidenceSetting) -> Parts:
    place = Position(value.latitude_deg, value.longitude_deg)
    named = "wreck" in value.name.lower()
    if not value.ruled_out:
        called = value.name if named else f"charted wreck {value.name}"
        return Parts(
            likelihood=None, says=f"{called}, not looked at", drawn=Drawn(place=place)
        )  # fmt: skip
    x, y = setting.plane.point(value.latitude_deg, value.longitude_deg)
    term = LookedAtTerm(x_m=x, y_m=y, radius_m=value.ruled_out_radius_m)
    after = setting.seconds(at)
    says = f"{value.name if named else f'wreck {value.name}'} looked at: not her"
    drawn = Drawn(place=place, radius_m=value.ruled_out_radius_m)
    missed = MissedAfter(missed=term, begun_s=after, ended_s=after)
    return Parts(likelihood=missed, says=says, drawn=drawn)


def _contact(value: Contact, at: datetime, setting: EvidenceSetting) -> Parts:
    place = Position(value.latitude_deg, value.longitude_deg)
    x, y = setting.plane.point(value.latitude_deg, value.longitude_deg)
    length = f", {value.length_m:.0f} m long" if value.length_m else ""
    says = f"contact by {value.observer}{length}, {value.form}"
    after = setting.seconds(at)
    if value.identified == "not the DISSUB":
        gone = looked_at(x, y, value)
        missed = MissedAfter(missed=gone, begun_s=after, ended_s=after)
        drawn = Drawn(place=place, radius_m=gone.radius_m)
        return Parts(likelihood=missed, says=f"{says}: not her", drawn=drawn)
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
    timing = Timing(prior=setting.prior, at_s=after, she_was="on the bottom")
    drawn = Drawn(place=place, radius_m=2.45 * value.sigma_m)
    return Parts(likelihood=term, says=f"{says}: {sure}", drawn=drawn, timing=timing)


BUILDERS: Mapping[str, Callable[[Any, datetime, EvidenceSetting], Parts]] = {
    "datum.bearing": _bearing,
    "datum.range": _range,
    "datum.time_difference": _difference,
    "datum.heard": _heard,
    "datum.not_heard": silence,
    "datum.loss_time": _loss_time,
    "datum.negative_search": _not_seen,
    "datum.wreck": _wreck,
    "datum.contact": _contact,
}
