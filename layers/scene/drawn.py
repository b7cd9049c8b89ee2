"""What of a picture is drawn on a sheet, on the stand-alone map and on the plot.

Data that goes out (GeoJSON, KML, GPX, CSV) carries every mark.
"""

from __future__ import annotations

from datetime import timedelta

from layers.earth.chart.marks import AnyMark, GridMark, Style
from layers.earth.clock import to_us
from layers.picture import Picture

QUIET_AFTER = timedelta(hours=6)  # evidence older than this no longer moves the watch's eye
LED_THERE = ("pim", "lkp")
EVIDENCE = ("bearing-", "place-", "ring-", "track-")


def is_drawn(mark: AnyMark, *, shaded: bool) -> bool:
    """Whether a mark is drawn: fields of weather and sound shade the sea only when asked for."""
    if isinstance(mark, GridMark) and mark.edges:
        return True  # the sea's own tints
    return shaded or not isinstance(mark, GridMark) or mark.style is Style.PROBABILITY


def is_quiet(made: Picture, layer: str, mark: AnyMark) -> bool:
    """Whether a mark gives way: an old one that led to a fix, a vehicle's that is on deck since."""
    if _was_under_water(made, mark):
        return True
    datum = made.shown("datum")
    if datum is None or not getattr(datum.result, "is_fix", False):
        return False
    if mark.style is Style.HEARING:
        return True
    if layer == "datum" and mark.key in LED_THERE:
        return True  # known where she is, where she meant to go is history
    old = mark.at is not None and made.moment.at - mark.at > QUIET_AFTER
    return layer == "datum" and mark.key.startswith(EVIDENCE) and old


def _was_under_water(made: Picture, mark: AnyMark) -> bool:
    """Whether a mark is of a vehicle under water that has been secured on deck since."""
    margin = made.shown("margin")
    if margin is None or mark.at is None or not mark.key.startswith("fix "):
        return False
    setting = getattr(getattr(margin.result, "outlook", None), "setting", None)
    name, at_us = mark.key.removeprefix("fix ").casefold(), to_us(mark.at)
    return any(
        fact.vehicle.casefold() == name and fact.done and at_us < max(fact.began_us.values())
        for fact in (setting.facts.values() if setting is not None else ())
    )
