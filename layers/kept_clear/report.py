"""The ground kept clear in words, tables and marks, and the warnings drafted from it."""

from __future__ import annotations

from datetime import datetime

from layers.earth.chart.marks import AreaMark
from layers.earth.clock import clock_words, dtg
from layers.earth.geodesy import ring
from layers.earth.table import Column, Table
from layers.earth.tells import TELLS_POSITION
from layers.kept_clear.compute import Ground, Inside, Kept

CAUTION = (
    "Nothing here stops a sonar: ask each ship, and take nobody's silence for a yes. The warnings "
    "are drafts: the coordinator of the sea area and the aeronautical office number, word and "
    "send them."
)
BLANK = "____"


def sentence(kept: Kept) -> str:
    """Return who is under water, and what is not known to have stopped."""
    head = "; ".join(_head(kept, ground) for ground in kept.grounds)
    head = head[0].upper() + head[1:]
    below = ", ".join(one.who for one in kept.under)
    under = f"under water: {below}" if below else "nobody is told to be under water"
    loud = [f"{one.what} {one.said}" for one in kept.open_questions[:2]]
    stops = f"; {'; '.join(loud)}" if loud else "; sonar, charges, gear and anchors stopped"
    return f"{head}; {under}{stops}."


def _head(kept: Kept, ground: Ground) -> str:
    """Return one area in words, by its name where there are several."""
    area = ground.area
    if not ground.in_force:
        ended = area.ends <= kept.at
        when, at = ("ended", area.ends) if ended else ("begins", area.starts)
        return f"the {area.name} {when} {dtg(at)}"
    name = f"{area.name}: " if len(kept.grounds) > 1 else ""
    until = clock_words(area.ends, kept.at)
    return f"{name}{area.radius_nmi:g} nmi {ground.about} are kept clear until {until}"


def wall_line(kept: Kept) -> str:
    """Return what goes on while somebody is under water, empty when nothing does."""
    if not kept.under:
        return ""
    return "; ".join(f"{one.what} {one.said}" for one in kept.stopped if one.safe is False)


def table(kept: Kept) -> Table:
    """Return who is under water and since when."""
    rows = Table.of(
        kept.under,
        Column("Under water", lambda one: one.who),
        Column("What", lambda one: one.sort),
        Column("Persons", lambda one: one.persons),
        Column("Since (UTC)", lambda one: one.since),
        Column("By", lambda one: one.said),
        source=lambda one: one.rests_on,
    )
    if rows.rows:
        return rows
    nobody = ("nobody is told to be", "", None, None, "no report of anybody below")
    return Table(heads=rows.heads, rows=(nobody,), sources=(kept.grounds[0].record,))


def tables(kept: Kept) -> dict[str, Table]:
    """Return what must be stopped, and who is in the area or steers into it."""
    words = {True: "stopped", False: "GOES ON", None: "not known"}
    return {
        "Stopped while anybody is under water": Table.of(
            kept.stopped,
            Column("What", lambda one: one.what),
            Column("State", lambda one: words[one.safe]),
            Column("In words", lambda one: one.said),
            source=lambda one: " ".join(one.rests_on) or kept.grounds[0].record,
        ),
        "In the area, or steering into it": Table.of(
            kept.ships,
            Column("Ship", lambda one: one.name),
            Column("Role", lambda one: one.role),
            Column("Area", lambda one: one.area),
            Column("Range from its middle (nmi)", lambda one: round(one.off_nmi, 1)),
            Column("Comes in (UTC)", lambda one: one.enters),
            Column("Position", lambda one: fix_words(one, kept)),
            source=lambda one: kept.grounds[0].record,
        ),
    }


def fix_words(one: Inside, kept: Kept) -> str:
    """Return how old the fix is that a ship's place is reckoned from: ``reckoned from 1120Z``."""
    return f"reckoned from {clock_words(one.fixed_at, kept.at)}{', stale' if one.stale else ''}"


def marks(kept: Kept) -> tuple[AreaMark, ...]:
    """Return the edge of each area; broken before it begins and after it ends."""
    found = []
    for place, ground in enumerate(kept.grounds):
        if ground.centre is None:
            continue
        lat, lon = ring(ground.centre, ground.area.radius_nmi * 1852.0)
        found.append(
            AreaMark(
                key=f"kept clear{'' if place == 0 else f' {place + 1}'}",
                style="kept clear",
                latitudes_deg=lat,
                longitudes_deg=lon,
                dotted=not ground.in_force,
                label="kept clear",
                source=ground.record,
                tells=TELLS_POSITION,
                tooltip=sentence(kept),
            )
        )
    return tuple(found)


def degrees_minutes(ground: Ground) -> str:
    """Return the middle as warnings write it: ``49-50.12N 008-29.79W``."""
    if ground.centre is None:
        return f"{BLANK}-{BLANK}N {BLANK}-{BLANK}W"
    where = ground.centre
    return f"{_dm(where.latitude_deg, 2, 'NS')} {_dm(where.longitude_deg, 3, 'EW')}"


def _dm(value: float, digits: int, sides: str) -> str:
    hundredths = round(abs(value) * 6000.0)
    whole, rest = divmod(hundredths, 6000)
    return f"{whole:0{digits}d}-{rest / 100.0:05.2f}{sides[0] if value >= 0 else sides[1]}"


def to_shipping(kept: Kept, ground: Ground, exercise: str = "") -> str:
    """Return a navigational warning as a draft, in the order of the message elements.

    The order (area, number, locality, subject, position, remarks, cancelling) is that of the
    Joint IMO/IHO/WMO Manual on Maritime Safety Information (S-53; from memory, not checked
    against the page). What nobody entered is left as a blank to be filled.
    """
    area = ground.area
    lines = [
        f"{(area.sea_area or BLANK).upper()} WARNING {BLANK}/{kept.at:%y}",
        "SUBMARINE RESCUE OPERATIONS" + (f" ({exercise.upper()})" if exercise else ""),
        f"1. FROM {_utc(area.starts)} TO {_utc(area.ends)} WITHIN {area.radius_nmi:g} MILES OF "
        f"{degrees_minutes(ground)}.",
        "2. UNDERWATER VEHICLES AND DIVERS MAY BE BELOW. VESSELS REQUESTED TO KEEP CLEAR OF THE "
        "AREA.",
        "3. NO ACTIVE SONAR, UNDERWATER CHARGES, TOWED GEAR OR ANCHORING WITHIN THE AREA.",
        f"4. CANCEL THIS MESSAGE {_utc(area.ends)}.",
    ]
    return _marked(lines, exercise)


def to_airmen(kept: Kept, ground: Ground, exercise: str = "") -> str:
    """Return a notice to airmen as a draft: the lettered items of ICAO Annex 15 (from memory)."""
    area = ground.area
    if area.ceiling_ft is None:
        return ""
    lines = [
        f"({BLANK}/{kept.at:%y} NOTAMN",
        f"A) {BLANK} B) {area.starts:%y%m%d%H%M} C) {area.ends:%y%m%d%H%M}",
        f"E) SUBMARINE RESCUE OPERATIONS{f' ({exercise.upper()})' if exercise else ''}. AIRCRAFT "
        f"REQUESTED TO KEEP CLEAR WITHIN {area.radius_nmi:g}NM OF {degrees_minutes(ground)} UNLESS "
        "TAKING PART.",
        f"F) SFC G) {area.ceiling_ft:.0f}FT AMSL)",
    ]
    return _marked(lines, exercise)


def _marked(lines: list[str], exercise: str) -> str:
    if exercise:
        lines = ["EXERCISE EXERCISE EXERCISE", *lines, "EXERCISE EXERCISE EXERCISE"]
    return "\n".join(lines)


def _utc(at: datetime) -> str:
    return f"{at:%d%H%M} UTC {at:%b %y}".upper()
