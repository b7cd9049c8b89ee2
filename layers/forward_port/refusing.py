"""What the forward port layer refuses by what else is known, each with what is accepted."""

from __future__ import annotations

from datetime import timedelta
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING

from layers.earth.clock import dtg
from layers.earth.errors import RecordRefused
from layers.journal.known import Known
from layers.journal.record import Draft

if TYPE_CHECKING:
    from layers.forward_port.model import Activity, Actual, RoadLeg

CLOCKS_APART = timedelta(minutes=15)  # what two clocks may differ; common practice, no source


def refuse_what_has_not_come(value: Actual, draft: Draft, known: Known) -> None:
    """Refuse an actual time later than it was heard: what is to come is a plan, no fact.

    Raises
    ------
    RecordRefused
        A start or a finish ahead of when it was heard, beyond what two clocks differ.
    """
    for word, at in (("started", value.started_at), ("finished", value.finished_at)):
        if at is not None and at > draft.heard_at + CLOCKS_APART:
            raise RecordRefused(
                f"{value.activity}: {word} {dtg(at)} had not come when it was heard",
                where=f"activity {value.activity}",
                accepted=f"a time not after {dtg(draft.heard_at)}",
            )


def refuse_a_circle(value: Activity, draft: Draft, known: Known) -> None:
    """Refuse an activity that would make the chain go in a circle.

    Raises
    ------
    RecordRefused
        Names the circle.
    """
    waits = {entry.value.key: entry.value.after for entry in known.entries("forward_port.activity")}
    waits[value.key] = value.after
    try:
        TopologicalSorter(waits).prepare()
    except CycleError as failure:
        ring = " waits for ".join(repr(key) for key in reversed(failure.args[1]))
        raise RecordRefused(
            f"the chain would go in a circle: {ring}",
            where=f"activity {value.key}, after",
            accepted="waits without a circle",
        ) from None


def refuse_a_way_to_nowhere(value: RoadLeg, draft: Draft, known: Known) -> None:
    """Refuse a flight or passage that lacks two places to go between, as long as it is typed.

    Raises
    ------
    RecordRefused
        Says what a leg goes between.
    """
    if value.mode == "road" or value.route or len(value.points) + value.to_datum >= 2:
        return
    raise RecordRefused(
        f"leg {value.key} goes between fewer than two places",
        where="points",
        accepted="two points or more, one and the datum, or a route that was imported",
    )
