"""Sightings of things that left her, turned into terms by running their drift backwards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.datum.adrift.drift import sample_field, unknown_words
from layers.datum.adrift.leeway import leeway_of
from layers.datum.before.base import Base
from layers.datum.evidence.evidence import aside, weighed
from layers.datum.evidence.setting import Built, EvidenceSetting, Parts
from layers.datum.evidence.sightings import TimeOfLeaving, back_track, sighting_term
from layers.datum.model import Sighting
from layers.datum.result import Drawn
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import ConditionsField
from layers.journal.known import Entry

SEED = 650_713 + 17
THINGS_PER_M2 = 1.0 / (20.0 * M_PER_NMI) ** 2  # stray oil and gear: one in (20 nmi)^2


def sighted(
    entries: list[Entry],
    base: Base,
    setting: EvidenceSetting,
    field: ConditionsField | None,
    weights: Mapping[str, tuple[float, str]],
) -> list[Built]:
    """Return the sightings of things that left her, drift run backwards."""
    start_us = to_us(base.prior.start)
    last_us = max(to_us(entry.record.valid_at) for entry in entries)
    points = [setting.plane.point(e.value.latitude_deg, e.value.longitude_deg) for e in entries]
    middle = float(np.mean([p[0] for p in points])), float(np.mean([p[1] for p in points]))
    spread = max(np.hypot(p[0] - middle[0], p[1] - middle[1]) for p in points)
    side = 2.0 * (float(spread) + 60_000.0)
    sampled = sample_field(field, setting.plane, middle, side, start_us, max(last_us, start_us + 1))
    found = []
    for entry, (x, y) in zip(entries, points, strict=True):
        value: Sighting = entry.value
        place = Position(value.latitude_deg, value.longitude_deg)
        says = f"{value.what.removesuffix(' seen')} seen by {value.observer} ({value.object_type}"
        try:
            leeway = leeway_of(
                value.object_type,
                value.leeway_percent,
                value.leeway_sigma_percent,
                value.leeway_source,
            )
        except InputError as reason:
            unusable = aside("datum.sighting", entry, reason.words)
            evidence = replace(unusable.evidence, says=f"{says})", drawn=Drawn(place=place))
            found.append(replace(unusable, evidence=evidence))
            continue
        seen_us = to_us(entry.record.valid_at)
        rng = np.random.default_rng(SEED)
        track = back_track(sampled, x, y, value.sigma_m, seen_us, start_us, leeway, rng)
        release = TimeOfLeaving(
            seen_s=(seen_us - start_us) / 1e6,
            from_s=_after(value.released_from, base.prior.start, 0.0),
            to_s=_after(value.released_to, base.prior.start, np.inf),
            at_loss=0.0 if value.released_from else value.at_loss_chance,
            still_rising=value.still_rising_chance if value.leak == "up-drift end" else 0.0,
        )
        chance, graded = setting.grading.chance_wrong(entry)
        term = sighting_term(track, release, base.prior.span_s, chance, THINGS_PER_M2)
        steps = max(len(track.before_s) // 12, 1)
        path = tuple(
            setting.plane.position(*(float(v) for v in track.mean_m[:, row].mean(axis=0)))
            for row in range(0, len(track.before_s), steps)
        )
        says += f", {leeway.mark}), drift run back"
        if lacks := unknown_words(sampled.unknown_current, sampled.unknown_wind):
            says += f"; {lacks}"
        parts = Parts(
            likelihood=term,
            says=says,
            drawn=Drawn(place=place, radius_m=2.45 * value.sigma_m, track=path),
        )
        found.append(weighed("datum.sighting", entry, setting, weights, parts, graded))
    return found


def _after(at: datetime | None, start: datetime, otherwise: float) -> float:
    return otherwise if at is None else (at - start).total_seconds()
