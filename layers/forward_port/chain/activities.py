"""The activities of an option as told, and the times that were planned or kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.earth.errors import InputError
from layers.forward_port import model
from layers.forward_port.chain import chain
from layers.forward_port.facts import Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualTimes:
    """Actual times of one activity, as far as known."""

    started_at: datetime | None = None
    finished_at: datetime | None = None


def activities_of(option: model.Option, facts: Facts) -> tuple[model.Activity, ...]:
    """Return the activities of an option; for a chain home, the other's the other way round."""
    every = facts.every("activity")
    if option.backwards_of:
        other = facts.last("option", option.backwards_of)
        if other is None:
            raise InputError(
                f"option {option.key!r} goes back the way of {option.backwards_of!r}, "
                "which is not entered"
            )
        mine = [a for a in activities_of(other, facts) if a.returns]
        after = {a.key: a.after for a in activities_of(other, facts)}
        turned = chain.backwards(after, [a.key for a in mine])
        home = [
            a.model_copy(update={"after": turned[a.key], "title": f"{a.title}, the other way"})
            for a in mine
        ]
        own = [a for a in every if option.key in a.options]
        first = tuple(a.key for a in own)
        return (
            *own,
            *(a if a.after else a.model_copy(update={"after": first}) for a in home),
        )
    rescue = option.purpose == "rescue"
    return tuple(a for a in every if option.key in a.options or (rescue and not a.options))


def times_of(option: model.Option, facts: Facts) -> dict[str, ActualTimes]:
    """Return the actual times by activity: the last said of each counts."""
    found: dict[str, ActualTimes] = {}
    for name in facts.names("clearance"):
        clearance = facts.last("clearance", name)
        if clearance.state == "given":
            found[name] = ActualTimes(finished_at=clearance.at)
    if option.backwards_of:
        found = {}
    for actual, _ in facts.actuals:
        shared = not actual.option and not option.backwards_of
        if shared or actual.option == option.key:
            before = found.get(actual.activity, ActualTimes())
            found[actual.activity] = ActualTimes(
                started_at=actual.started_at or before.started_at,
                finished_at=actual.finished_at or before.finished_at,
            )
    return found
