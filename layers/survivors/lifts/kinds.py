"""The records of the lifts, as kinds of the journal."""

from __future__ import annotations

from layers.journal.kinds import Kind
from layers.survivors.chambers.schedule import Schedule, refuse_schedule
from layers.survivors.lifts.model import (
    YEAR_S,
    Chamber,
    DecisionOption,
    Drill,
    Lift,
    LiftLimits,
    PlanChoice,
    Priority,
    SortieCase,
    SortiePhase,
    SortieReport,
    SupportShip,
)
from layers.survivors.lifts.refusals import refuse_chamber, refuse_lift, refuse_phase
from layers.survivors.lifts.vehicle import Vehicle

LIFT_KINDS: tuple[Kind, ...] = (
    Kind(name="survivors.vehicle", title="rescue vehicle", model=Vehicle, future_s=YEAR_S),
    Kind(name="survivors.ship", title="support ship's stores", model=SupportShip),
    Kind(
        name="survivors.chamber",
        title="chamber",
        model=Chamber,
        future_s=YEAR_S,
        refuse=refuse_chamber,
    ),
    Kind(
        name="survivors.schedule",
        title="decompression schedule",
        model=Schedule,
        refuse=refuse_schedule,
    ),
    Kind(name="survivors.lift_limits", title="limits of the lifts", model=LiftLimits),
    Kind(
        name="survivors.lift",
        title="planned lift",
        model=Lift,
        future_s=YEAR_S,
        refuse=refuse_lift,
    ),
    Kind(name="survivors.priority", title="who goes first", model=Priority),
    Kind(
        name="survivors.sortie_phase",
        title="phase of a sortie",
        model=SortiePhase,
        refuse=refuse_phase,
    ),
    Kind(name="survivors.sortie_report", title="report from a sortie", model=SortieReport),
    Kind(name="survivors.sortie_case", title="case under water", model=SortieCase),
    Kind(name="survivors.drill", title="drill for a case", model=Drill),
    Kind(name="survivors.decision", title="decision on the table", model=DecisionOption),
    Kind(name="survivors.plan_choice", title="plan chosen", model=PlanChoice),
)
