"""Times, hours and sources as the tables of lifts and decisions write them."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

from layers.earth.clock import dtg, from_us
from layers.earth.uncertain import Bounds, Quantity, words
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.spread import Spread3

NOT_PLANNED = "not within the plan"
NOT_REACHED = "none within the time looked ahead"


def at_words(outlook: Outlook, hours: float, never: str = NOT_PLANNED) -> str:
    """Return the date-time group of so many hours after the moment, or that there is none."""
    if not math.isfinite(hours):
        return never
    return dtg(from_us(outlook.at_us) + timedelta(hours=hours))


def times_words(outlook: Outlook, hours: Spread3, never: str = NOT_PLANNED) -> tuple[str, str, str]:
    """Return the times of a spread, P10, P50 and P90."""
    return (
        at_words(outlook, hours.p10, never),
        at_words(outlook, hours.p50, never),
        at_words(outlook, hours.p90, never),
    )


def hours_words(hours: float) -> str:
    """Return hours with their sign, or what an infinite margin means."""
    if hours == -math.inf:
        return "not all out"
    if hours == math.inf:
        return "no level reached"
    whole = math.floor(hours + 1e-9)
    return f"{'−' if whole < 0 else ''}{abs(whole)}"


def persons_words(found: Quantity) -> str:
    """Return expected persons in words: ``37.9``, ``between 37.9 and 49.9``."""
    if isinstance(found, Bounds) and not found.at_least:
        return f"at most {found.at_most:.1f}"
    return words(replace(found, missing=()) if isinstance(found, Bounds) else found, _tenths)


def _tenths(value: float) -> str:
    return f"{value:.1f}"


def row_sources(outlook: Outlook, rows: int) -> tuple[str, ...]:
    """Return the records that every row of a table rests on."""
    return (" ".join(outlook.rests_on),) * rows
