"""The chain home made of the chain out: what is also done on the way home, turned round."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from layers.earth.clock import iso
from layers.earth.errors import InputError
from layers.forward_port.chain.activities import activities_of
from layers.forward_port.chain.chain import backwards
from layers.forward_port.facts import gather
from layers.forward_port.result import OptionForecast
from layers.journal.known import Known


def way_back(
    known: Known, each: OptionForecast, begins: datetime, taken: Collection[str]
) -> dict[str, Any]:
    """Return the option that goes back the way of another, from an hour on.

    Its last activity is the one that was the first on the way out.

    Parameters
    ----------
    known : Known
        What is known.
    each : OptionForecast
        The way out that was followed.
    begins : datetime
        When the way home begins, UTC.
    taken : collection of str
        Keys of options that are there already.

    Raises
    ------
    InputError
        Nothing of the way out is marked as also done on the way home.
    """
    rows = activities_of(each.option, gather(known, begins))
    mine = [row.key for row in rows if row.returns]
    if not mine:
        raise InputError(
            f"no activity of {each.option.title} is marked as also done on the way home",
            accepted="at least one activity that is",
        )
    turned = backwards({row.key: row.after for row in rows}, mine)
    waited_for = {key for after in turned.values() for key in after}
    planned = {one.key: one.planned_start for one in each.activities}
    ends = [key for key in mine if key not in waited_for]
    last = min(ends, key=lambda key: planned.get(key, begins))
    key, number = "home", 1
    while key in taken:
        number += 1
        key = f"home {number}"
    return {
        "key": key,
        "title": f"Way home of {each.option.title}" + (f", {number}" if number > 1 else ""),
        "purpose": "return",
        "zero": iso(begins),
        "zero_is": "the way home begins",
        "last": last,
        "backwards_of": each.option.key,
    }
