"""What rests when an operation is at its end, and when it is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from layers.earth.told import PersonsNow
from layers.earth.uncertain import NotKnown, Stated
from layers.watch.result import WatchState

if TYPE_CHECKING:
    from layers.answers import Answers


def _rests(persons: object, watch: WatchState) -> bool:
    """Whether the operation is at its end: told so, and nobody is left to be brought out.

    Somebody in the hull, in a vehicle, adrift or not heard of keeps everything running, whatever
    was told.
    """
    if watch.stages or (watch.ended_at is None and watch.closed is None):
        return False
    return isinstance(persons, PersonsNow) and not (
        persons.in_hull or persons.in_vehicle or persons.adrift or persons.not_heard_of
    )


def at_rest(found: Answers, watch: WatchState) -> Answers:
    """Return the answers; at the end with windows, margins and what would come next at rest."""
    if not _rests(found.persons, watch):
        return found
    quiet = NotKnown(missing=(f"rests, {watch.stage_words()}",))
    return replace(
        found,
        margin={},
        margin_unless=quiet,
        all_out=quiet,
        dive=quiet,
        sortie=found.sortie if isinstance(found.sortie, Stated) else quiet,
        next_decision=quiet,
        first_out=quiet,
        search_next=quiet,
    )
