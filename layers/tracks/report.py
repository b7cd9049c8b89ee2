"""The ships in one table, what does not hold together in another, and one sentence."""

from __future__ import annotations

from datetime import timedelta

from layers.earth import geodesy
from layers.earth.block import Block, span_words
from layers.earth.clock import clock_words, dtg, duration_words
from layers.earth.table import Table
from layers.earth.tells import TELLS_POSITION
from layers.earth.units import M_PER_NMI
from layers.tracks.marks import break_words, track_words
from layers.tracks.model import ShipTrack, TracksResult
from layers.tracks.route_marks import ROUTES_DRAWN, sailing_words

CAUTION = (
    "AIS may be absent or false: a ship that is not shown may be there, and one that is shown "
    "may not be who it says. Dead reckoning is trusted for one hour after a fix. "
    "Jumps and gaps are looked for in the 48 h before a ship's last fix, of other traffic 3 h. "
    "Not for navigation."
)
AT_THE_DATUM_NMI = 1.0


def table(result: TracksResult) -> Table:
    """Return one row a ship taking part, then traffic, with arrival at the datum."""
    heads = (
        "Name",
        "Role",
        "Last fix (Z)",
        "Age (min)",
        "Position",
        "Speed (kn)",
        "Course (°T)",
        "By dead reckoning now",
        "Range to datum (nmi)",
        "Bearing to datum (°T)",
        "ETA great circle (Z)",
        "ETA rhumb line (Z)",
        "ETA at (kn)",
        "Remarks",
    )
    rows = tuple(_row(ship, result) for ship in result.ships)
    return Table(heads=heads, rows=rows, sources=tuple(ship.record_id for ship in result.ships))


def _row(ship: ShipTrack, result: TracksResult) -> tuple[str | float | None, ...]:
    range_nmi = bearing = None
    over_block: str | None = None
    if isinstance(result.where, Block):
        over_block = span_words(result.where.distance_nmi(ship.position))
    elif result.where is not None:
        distance_m, bearing, _ = geodesy.between(ship.position, result.where)
        range_nmi = round(distance_m / M_PER_NMI, 1)
        bearing = round(bearing, 1) if bearing == bearing else None
    eta = ship.arrival if ship.arrival and (range_nmi or 0.0) > AT_THE_DATUM_NMI else None
    if eta is not None and not eta.under_way:
        eta = None  # no time of day: it would slip with the clock; the remarks have the hours
    return (
        ship.name,
        ship.role,
        dtg(ship.fixed_at),
        round(ship.age_s / 60.0),
        str(ship.position),
        None if ship.speed_kn is None else round(ship.speed_kn, 1),
        None if ship.course_true_deg is None else round(ship.course_true_deg, 1),
        None if ship.expected is None else str(ship.expected),
        over_block or range_nmi,
        bearing,
        dtg(eta.by_great_circle) if eta else None,
        dtg(eta.by_rhumb) if eta else None,
        round(eta.speed_kn, 1) if eta else None,
        _remarks(ship),
    )


def _remarks(ship: ShipTrack) -> str:
    words = []
    if ship.doubt:
        words.append(ship.doubt)
    if ship.stale:
        words.append("stale")
    if not ship.dead_reckoning_trusted:
        words.append("dead reckoning past its trust")
    if ship.jumps or ship.gaps:
        counted = f"{_count(ship.jumps, 'jump')}, {_count(ship.gaps, 'gap')}"
        words.append(f"{counted} in her last {track_words(ship)}{_cut_words(ship)}")
    if ship.arrival:
        words.append(eta_words(ship))
    return "; ".join(words)


def _cut_words(ship: ShipTrack) -> str:
    more = ship.jumps + ship.gaps - len(ship.breaks)
    return f", the newest {len(ship.breaks)} of them drawn and listed" if more else ""


def tables(result: TracksResult) -> dict[str, Table]:
    """Return jumps and gaps, closest approaches, and the routes when there are any."""
    broken = tuple(
        (ship.name, each.kind, dtg(each.from_at), dtg(each.to_at), break_words(each))
        for ship in result.ships
        if ship.role != "other"
        for each in ship.breaks
    )
    near = tuple(
        (a.first, a.second, round(a.range_now_nmi, 1), round(a.cpa_nmi, 2), dtg(a.tcpa))
        for a in result.approaches
    )
    return {
        "Jumps and gaps": Table(heads=("Ship", "What", "From (Z)", "To (Z)", "Said"), rows=broken),
        "Closest approach, course and speed held": Table(
            heads=("First", "Second", "Range now (nmi)", "CPA (nmi)", "At (Z)"), rows=near
        ),
        **({"Routes": _routes(result)} if result.routes else {}),
        **({"Areas": _areas(result)} if result.areas else {}),
        **({"Safety texts heard on AIS": _texts(result)} if result.texts else {}),
        **({"Aids to navigation heard on AIS": _aids(result)} if result.aids else {}),
    }


def _areas(result: TracksResult) -> Table:
    """Return one row an area, the newest first."""
    return Table(
        heads=("Area", "Vertices", "From", "Recorded (Z)"),
        rows=tuple(
            (a.name, len(a.latitudes_deg) - 1, a.from_format, dtg(a.at)) for a in result.areas
        ),
        sources=tuple(a.record_id for a in result.areas),
        tells=TELLS_POSITION,
    )


def _texts(result: TracksResult) -> Table:
    """Return one row a safety text, the newest first."""
    return Table(
        heads=("From", "Name", "Text", "Heard (Z)", "Call for help"),
        rows=tuple(
            (t.subject, t.name, t.text, dtg(t.at), "yes" if t.distress else "")
            for t in result.texts
        ),
        sources=tuple(t.record_id for t in result.texts),
        tells=TELLS_POSITION,
    )


def _aids(result: TracksResult) -> Table:
    """Return one row an aid, wreck marks first."""
    return Table(
        heads=("From", "Name", "What", "Position", "Off its position", "Heard (Z)"),
        rows=tuple(
            (
                a.subject,
                a.name,
                a.words,
                str(a.position),
                "yes" if a.off_position else "",
                dtg(a.at),
            )
            for a in result.aids
        ),
        sources=tuple(a.record_id for a in result.aids),
        tells=TELLS_POSITION,
    )


def _routes(result: TracksResult) -> Table:
    """Return one row a route; of very many the older ones are not drawn, and it says so."""
    rows = tuple(
        (
            route.name,
            round(float(route.leg_m.sum()) / M_PER_NMI, 1),
            len(route.names),
            sailing_words(route),
            route.from_format,
            dtg(route.at),
            "yes" if number < ROUTES_DRAWN else "no",
        )
        for number, route in enumerate(result.routes)
    )
    heads = ("Route", "Length (nmi)", "Waypoints", "Legs by", "From", "Recorded (Z)", "Drawn")
    return Table(heads=heads, rows=rows, sources=tuple(r.record_id for r in result.routes))


def sentence(result: TracksResult) -> str:
    """Return what can be read out: the support ship first, then the ship nearest the datum."""
    taking_part = [ship for ship in result.ships if ship.role != "other"]
    order = {"support ship": 0, "ship of opportunity": 1, "search ship": 2}
    taking_part.sort(key=lambda ship: (order.get(ship.role, 3), ship.age_s))
    said = [_said(ship, result) for ship in taking_part[:2]]
    others = result.subjects - len(taking_part)
    stale = [ship.name for ship in taking_part if ship.stale]
    said = [f"{ship.name} is in doubt: {ship.doubt}." for ship in taking_part if ship.doubt] + said
    if stale:
        said.append(f"Stale: {', '.join(stale)}.")
    if result.unseen:
        said.append(f"Taking part, their places withheld here: {', '.join(result.unseen)}.")
        said.append(f"{others} other tracks known.")
    else:
        said.append(f"{_count(len(taking_part), 'ship')} taking part, {others} other tracks known.")
    if result.routes:
        said.append(f"{_count(len(result.routes), 'route')} recorded.")
    calls = [text for text in result.texts if text.distress]
    if calls:
        newest = calls[0]
        when = clock_words(newest.at, result.at)
        words = (
            f"Call for help on AIS at {when} from {newest.name or newest.subject}: {newest.text}."
        )
        said.insert(0, words)
    return " ".join(said)


def _said(ship: ShipTrack, result: TracksResult) -> str:
    age = duration_words(timedelta(seconds=ship.age_s))
    fixed = clock_words(ship.fixed_at, result.at)
    words = f"{ship.name}, {ship.role}: fix of {fixed}, {age} old, {ship.position}"
    if isinstance(result.where, Block):
        away = span_words(result.where.distance_nmi(ship.position))
        return f"{words}, {away} from the area told."
    if result.where is None:
        return f"{words}; no datum yet to measure to."
    distance_m, bearing, _ = geodesy.between(ship.position, result.where)
    range_nmi = distance_m / M_PER_NMI
    if range_nmi <= AT_THE_DATUM_NMI:
        return f"{words}, {range_nmi:.1f} nmi from the datum."
    words += f", datum {range_nmi:.1f} nmi on {bearing:03.0f}°T"
    return f"{words}; {eta_words(ship)}."


def eta_words(ship: ShipTrack) -> str:
    """Return when she can be at the datum as it is said, by her own state."""
    eta = ship.arrival
    if eta is None:
        if ship.doubt:
            return "no ETA, her place is in doubt"
        if ship.expected is None:
            return "no ETA, where she is now cannot be reckoned"
        return "no ETA, her speed is not known"
    if eta.great_circle_nmi <= AT_THE_DATUM_NMI:
        return "at the datum"
    rate = f"at {eta.speed_kn:.1f} kn ({eta.speed_from})"
    hours = timedelta(hours=eta.great_circle_nmi / eta.speed_kn)
    if not eta.under_way:
        return f"not under way: {duration_words(hours)} when ordered, {rate}"
    by_rhumb = clock_words(eta.by_rhumb, eta.by_great_circle)
    when = f"ETA {dtg(eta.by_great_circle)} by great circle, {by_rhumb} by rhumb line, {rate}"
    if eta.turns:
        return f"steams another way; if she turns for the datum now, {when}"
    return when


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
