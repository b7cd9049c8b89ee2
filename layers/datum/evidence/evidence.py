"""Records turned into terms: which count, and how much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from layers.datum.evidence.builders import BUILDERS
from layers.datum.evidence.likelihood import BearingTerm, PlaceTerm, RangeTerm
from layers.datum.evidence.setting import Built, EvidenceSetting, Parts
from layers.datum.evidence.shared import Member
from layers.datum.evidence.timed import TimedPlace, TimedReport
from layers.datum.model import DISSUB
from layers.datum.probability.particles import Term
from layers.datum.result import Drawn, Evidence
from layers.earth.clock import day_hhmm
from layers.earth.errors import InputError
from layers.journal.known import Entry, Known


def weightings(known: Known, at: datetime) -> Mapping[str, tuple[float, str]]:
    """Return weight and reason by record id; the last weighting of a record counts."""
    found: dict[str, tuple[float, str]] = {}
    for entry in known.entries("datum.weighting"):
        if entry.record.valid_at <= at:
            found[entry.value.target] = entry.value.weight, entry.value.reason
    return found


def build(
    kind: str, entry: Entry, setting: EvidenceSetting, weights: Mapping[str, tuple[float, str]]
) -> Built:
    """Return one report ready to count; what cannot be used is set aside with its reason."""
    value, at, why = entry.value, entry.record.valid_at, ""
    if hasattr(value, "chance_wrong"):
        chance, why = setting.grading.chance_wrong(entry)
        value = value.model_copy(update={"chance_wrong": chance})
    try:
        if getattr(value, "object", DISSUB) != DISSUB:
            raise InputError(f"bears on {value.object!r}, not on the DISSUB")
        parts = BUILDERS[kind](value, at, setting)
    except InputError as reason:
        return aside(kind, entry, reason.words)
    return weighed(kind, entry, setting, weights, parts, why)


def weighed(
    kind: str,
    entry: Entry,
    setting: EvidenceSetting,
    weights: Mapping[str, tuple[float, str]],
    parts: Parts,
    graded: str = "",
) -> Built:
    """Return a report with its weight applied, and its time set against the time of loss."""
    at, timing = entry.record.valid_at, parts.timing
    doubtful = isinstance(parts.likelihood, PlaceTerm) and not parts.likelihood.identified
    bottom = timing is not None and timing.she_was == "on the bottom" and not doubtful
    evidence = Evidence(
        key=entry.id,
        kind=kind,
        says=parts.says,
        source=entry.record.source,
        at=at,
        heard_at=entry.record.heard_at,
        drawn=parts.drawn,
        disputed=entry.disputed,
        on_the_bottom=bottom,
        observer=getattr(entry.value, "observer", ""),
    )
    if at < setting.start and kind not in ("datum.loss_time", "datum.wreck"):
        why = f"timed {day_hhmm(at)}, before she can have been lost ({day_hhmm(setting.start)})"
        return Built(evidence=replace(evidence, state="set aside", why=why, weight=0.0), term=None)
    weight, why = weights.get(entry.id, (1.0, ""))
    state = "counts" if weight == 1.0 else "counts in part" if weight > 0.0 else "suspended"
    said = "; ".join(text for text in (why, graded) if text)
    evidence = replace(evidence, weight=weight, why=said, state=state)
    likelihood: Any = parts.likelihood
    if likelihood is None:
        return Built(evidence=replace(evidence, state="noted"), term=None)
    if weight == 0.0:
        return Built(evidence=evidence, term=None)
    member = None
    if parts.owner and isinstance(likelihood, BearingTerm | RangeTerm):
        timed = timing if timing is not None and timing.matters else None
        member = Member(key=entry.id, term=likelihood, timing=timed, weight=weight)
    if timing is not None and timing.matters:
        sort = TimedPlace if isinstance(likelihood, PlaceTerm) else TimedReport
        likelihood = sort(likelihood=likelihood, timing=timing)
    term = Term(key=entry.id, likelihood=likelihood, weight=weight)
    return Built(evidence=evidence, term=term, owner=parts.owner, member=member)


def aside(kind: str, entry: Entry, why: str) -> Built:
    """Return a report that cannot be used, with the reason."""
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
