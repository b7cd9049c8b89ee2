"""A position far from all that is plotted, and the one that may have been meant."""

from __future__ import annotations

from layers.earth.position import Position
from layers.earth.said.written import dm_text
from layers.earth.units import M_PER_NMI
from layers.heard.fitted import Fitted
from layers.heard.names import LineContext
from layers.heard.result import Ask

FAR_M = 300.0 * M_PER_NMI


def put_in(text: str, part: str, reading: str) -> str:
    """Return a line with another reading in place of one of its parts."""
    at = text.rfind(part) if part else -1
    return f"{text[:at]}{reading}{text[at + len(part) :]}" if at >= 0 else f"{text} {reading}"


def far_off(fitted: Fitted, text: str, around: LineContext) -> list[Ask]:
    """Ask about a position far from all that is plotted; its twin may lie near."""
    found = []
    for bound in fitted.bound.values():
        if bound.role.sort != "position" or not isinstance(bound.value, Position):
            continue
        far = around.distance_m(bound.value)
        if far is None or far < FAR_M or "confirmed" in text.lower():
            continue
        twins = [twin for twin in _twins(bound.value) if (around.distance_m(twin) or 0.0) < FAR_M]
        if not twins and fitted.form.heard.anywhere:
            continue
        part = bound.part.text if bound.part is not None else ""
        same = f"{dm_text(bound.value, 2)} confirmed"
        readings = (*(dm_text(twin, 2) for twin in twins), same)
        about = f"{part} lies {far / M_PER_NMI:.0f} nmi from all that is plotted"
        lines = tuple(put_in(text, part, reading) for reading in readings)
        found.append(Ask(about=about, readings=readings, lines=lines, part=part))
    return found


def _twins(place: Position) -> list[Position]:
    lat, lon = place.latitude_deg, place.longitude_deg
    pairs = [(-lat, lon), (lat, -lon), (-lat, -lon)]
    if abs(lon) <= 90.0:
        pairs += [(lon, lat), (lon, -lat), (-lon, lat)]
    return [Position(a, b) for a, b in pairs]
