"""All reports that bear on her, in order of their time, each ready to count."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from layers.datum.before.base import Base, upto
from layers.datum.before.prior import area_m2, places_m
from layers.datum.evidence.builders import BUILDERS
from layers.datum.evidence.counted import told_again
from layers.datum.evidence.evidence import build, weightings
from layers.datum.evidence.grading import grading_of
from layers.datum.evidence.net_fix import best_fix, net_fix
from layers.datum.evidence.setting import Built, EvidenceSetting
from layers.datum.evidence.sighted import sighted
from layers.datum.lines.aims import spots
from layers.datum.lines.fix_lines import line_of
from layers.datum.probability.particles import Aimed
from layers.earth.values import TranspondersValue
from layers.journal.known import Entry, Known


def setting_of(
    known: Known, base: Base, net: TranspondersValue | None, at: datetime
) -> EvidenceSetting:
    """Return what every report is read against."""
    return EvidenceSetting(
        plane=base.plane,
        start=base.prior.start,
        prior=base.target,
        grading=grading_of(known, at),
        profile=net.profile if net is not None else None,
        depths=net.depth_grid if net is not None else None,
        hearing=net.hearing if net is not None else (),
        listening=net.listening if net is not None else None,
        wrecks=tuple(upto(known, "datum.wreck", at)),
        area_m2=area_m2(base.prior),
        places_m=places_m(base.prior),
    )


def reports(
    known: Known, base: Base, setting: EvidenceSetting, net: TranspondersValue | None, at: datetime
) -> list[Built]:
    """Return every report ready to count, in order of its time."""
    weighting = weightings(known, at)
    found = [
        (kind, entry)
        for kind in BUILDERS
        for entry in upto(known, kind, at)
        if getattr(entry.value, "object", "DISSUB") == "DISSUB"
    ]
    again = told_again(found)
    built = [
        _said_before(build(kind, entry, setting, weighting), again.get(entry.id))
        for kind, entry in found
    ]
    sightings = [s for s in upto(known, "datum.sighting", at) if s.value.leak != "not of her"]
    if sightings:
        built += sighted(sightings, base, setting, base.field, weighting)
    fixes = net.fixes if net is not None else ()
    best = best_fix(fixes)
    built += [net_fix(fix, setting, weighting, fix is best) for fix in fixes]
    return sorted(built, key=lambda item: (item.evidence.at, item.evidence.key))


def _said_before(item: Built, why: str | None) -> Built:
    if why is None or item.term is None:
        return item
    return Built(evidence=replace(item.evidence, state="noted", weight=0.0, why=why), term=None)


def aims(known: Known, built: list[Built], setting: EvidenceSetting, at: datetime) -> list[Aimed]:
    """Return where the lines of position that count cross, to draw particles there too."""
    counting = {item.evidence.key for item in built if item.term is not None}
    lines = [
        line_of(entry.value, entry.record.valid_at, setting.profile)
        for kind in ("datum.bearing", "datum.range")
        for entry in upto(known, kind, at)
        if entry.id in counting
    ]
    found = spots(lines, setting.plane)
    return [] if found is None else [found]


def starts_of(base: Base) -> list[Entry]:
    """Return the records that the prior rests on."""
    first = [base.known] if base.known is not None else []
    return first + list(base.movement.entries if base.movement is not None else ())
