"""One quantity of a refuge against its level: how it stands, and the hour at which it ends.

Healthy is at the left, the level stands at one place for all, hatched beyond it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape

from layers.earth.clock import clock_words, duration_words
from layers.earth.uncertain import Bounds
from layers.scene.ink import Ink
from layers.survivors.air.endurance import OpenEnd
from layers.survivors.air.formulas import RefugeAir
from layers.survivors.air.levels import LevelHours, LevelSpread
from layers.survivors.chambers.pressure import sev_percent

WIDE, LEVEL_AT = 178.0, 153.0
# Where a bar begins; only where to draw from, never a limit.
HEALTHY = {"oxygen": 21.0, "carbon dioxide": 0.0, "pressure": 1.013, "temperature": 20.0}
QUANTITY_OF = {
    "low oxygen": "oxygen",
    "high oxygen": "oxygen",
    "low temperature": "temperature",
    "high temperature": "temperature",
}
BASIC = ("oxygen", "carbon dioxide", "pressure", "temperature")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """What one gauge shows; ``now`` None when it was never read."""

    quantity: str
    now: LevelSpread | None
    figure: str
    unit: str
    level: LevelHours | None
    open_end: OpenEnd | None
    limit: float | None
    limit_words: str
    under: str
    binds: bool


def gauges(one: RefugeAir, at: datetime) -> list[Gauge]:
    """Return the gauges of a refuge: the four that are always told, and every other level."""
    first: dict[str, LevelHours] = {}
    for level in one.levels:  # what comes first stands before the others
        first.setdefault(_quantity(level.quantity), level)
    names = {end.level for end in one.unknown}
    opened = {n: e for e in one.unknown for n in names if e.level == n}
    others = [q for q in first if q not in BASIC]
    found = [_gauge(one, q, first.get(q), at) for q in (*BASIC, *others)]
    shown = {g.level.name for g in found if g.level}
    for name, end in opened.items():
        if name and name not in shown:
            found = _with_open(found, end)
    return found


def _quantity(quantity: str) -> str:
    return QUANTITY_OF.get(quantity, quantity)


def _with_open(found: list[Gauge], end: OpenEnd) -> list[Gauge]:
    """Put a level whose time is not known where its quantity stands, or behind."""
    asked = end.missing[0] if end.missing else ""
    for where in (f" of {end.refuge!r}", f" in {end.refuge!r}"):  # its row says whose it is
        asked = asked.removesuffix(where)
    for place, gauge in enumerate(found):
        mine = _quantity(end.quantity) == gauge.quantity
        if gauge.level is None and gauge.open_end is None and mine:
            under = f"ask for {asked}"
            found[place] = _replaced(gauge, end, under)
            return found
    bare = Gauge(
        quantity=end.level, now=None, figure="–", unit="", level=None, open_end=end, limit=None,
        limit_words="", under=f"ask for {asked}", binds=False,
    )  # fmt: skip
    return [*found, bare]


def _replaced(gauge: Gauge, end: OpenEnd, under: str) -> Gauge:
    return Gauge(
        quantity=gauge.quantity, now=gauge.now, figure=gauge.figure, unit=gauge.unit, level=None,
        open_end=end, limit=None, limit_words="", under=under, binds=False,
    )  # fmt: skip


def _gauge(one: RefugeAir, quantity: str, level: LevelHours | None, at: datetime) -> Gauge:
    now, unit, places = _now(one, quantity)
    limit = None if level is None else _limit(level)
    return Gauge(
        quantity=quantity,
        now=now,
        figure="–" if now is None else f"{now.p50:.{places}f}",
        unit=unit,
        level=level,
        open_end=None,
        limit=limit,
        limit_words="" if level is None else _limit_words(level, at),
        under=_under(one, quantity, level, now, at),
        binds=bool(one.levels) and level is one.levels[0],
    )


def _now(one: RefugeAir, quantity: str) -> tuple[LevelSpread | None, str, int]:
    if quantity == "oxygen":
        return one.oxygen_kpa, "kPa", 1
    if quantity == "carbon dioxide":
        return one.co2_sev_percent, "% SEV", 1
    if quantity == "pressure":
        return one.pressure_bar, "bar abs", 2
    if quantity == "flooding":
        return one.volume_m3, "m³ free", 0
    trend = next((t for t in one.trends if t.quantity.casefold() == quantity.casefold()), None)
    if trend is None:
        return None, "", 1
    same = LevelSpread(p10=trend.last, p50=trend.last, p90=trend.last)
    return same, "°C" if quantity == "temperature" else "ppm SEV", 1 if trend.unit == "°C" else 0


def _limit(level: LevelHours) -> float:
    if level.quantity == "carbon dioxide":
        return sev_percent(level.limit_value)
    return level.limit_value


def _limit_words(level: LevelHours, at: datetime) -> str:
    short = level.limit.split(" (")[0].replace(" SEV", "").replace(" absolute", "")
    short = short.replace(" surface equivalent", "").replace(" still free", "")
    hours = level.hours.p50
    if level.reached or hours > level.horizon_h:
        return short
    least = "≥ " if level.untold else ""
    return f"{short}, {least}{clock_words(at + timedelta(hours=hours), at)}"


def _under(
    one: RefugeAir, quantity: str, level: LevelHours | None, now: LevelSpread | None, at: datetime
) -> str:
    read = one.read_at_of(quantity)
    if now is None:
        return "never read: ask for it"
    if level is None:
        return "no level entered"
    if read is not None and read < one.read_at:
        return f"read {clock_words(read, at)}"
    if level.at_least_h is not None:
        return "a doubtful reading: see below"
    low, high = (_span(h, level.horizon_h) for h in (level.hours.p10, level.hours.p90))
    how = "by trend " if level.how == "trend" else ""
    if level.hours.p10 > level.horizon_h:
        return "by trend" if how else f"{now.p10:.1f} to {now.p90:.1f} now"
    if level.untold:
        return f"P10 {low}, P90 not known"
    return f"{how}{low} to {high}" if how else f"P10 {low}, P90 {high}"


def _span(hours: float, horizon_h: float) -> str:
    if hours > horizon_h:
        return f"over {horizon_h / 24:.0f} d"
    return "now" if hours <= 0.0 else duration_words(timedelta(hours=hours))


def _ends(gauge: Gauge) -> str:
    level = gauge.level
    if gauge.open_end is not None:
        return "not known"
    if level is None:
        return ""
    if level.reached:
        return "REACHED"
    form = level.form
    if isinstance(form, Bounds) and level.untold:
        return f"≥ {_span(form.at_least or 0.0, level.horizon_h)}"
    if isinstance(form, Bounds) and form.at_least is not None and form.at_most is not None:
        return f"{_span(form.at_least, level.horizon_h)} or {_span(form.at_most, level.horizon_h)}"
    return _span(level.hours.p50, level.horizon_h)


def _place(gauge: Gauge, value: float) -> float:
    """Return where a value stands between healthy, 0, and the level, 1; a little beyond at most."""
    assert gauge.limit is not None
    start = HEALTHY.get(gauge.quantity, 0.0)
    if gauge.quantity == "flooding" and gauge.now is not None:
        start = max(gauge.now.p90, gauge.limit) * 1.3
    if gauge.level is not None and gauge.level.quantity == "high oxygen":
        start = 0.0
    if start == gauge.limit:
        return 1.0
    part = (value - start) / (gauge.limit - start)
    return min(max(part, 0.0), WIDE / LEVEL_AT)


def drawing(gauge: Gauge, ink: Ink, name: str) -> str:
    """Return one gauge as inline SVG; ``name`` makes its pattern its own."""
    ends = _ends(gauge)
    reached = gauge.level is not None and gauge.level.reached
    small = ends.startswith(("over", "not ")) or len(ends) > 10
    parts = [
        _text(0, 16, gauge.quantity, ink.quiet, 14),
        _text(WIDE, 16, "binds", ink.ink, 14, "end", 650) if gauge.binds else "",
        f'<text x="0" y="40" font-size="22" font-weight="650" fill="{ink.ink}">{gauge.figure}'
        f'<tspan font-size="14" font-weight="400"> {escape(gauge.unit)}</tspan></text>',
        _text(
            WIDE, 40, ends,
            ink.late if reached else ink.quiet if small else ink.ink,
            15 if small else 20, "end", 400 if small else 650,
        ),
    ]  # fmt: skip
    parts += _bar(gauge, ink, name)
    parts.append(_text(LEVEL_AT, 83, gauge.limit_words, ink.ink, 13, "end"))
    parts.append(_text(0, 99, gauge.under, ink.quiet, 13))
    framed = (
        f'<rect x="-9" y="-1" width="196" height="106" fill="none" stroke="{ink.ink}" '
        'stroke-width="2"/>'
        if gauge.binds
        else ""
    )
    said = f"{gauge.quantity} {gauge.figure} {gauge.unit}: {ends or 'no level'}"
    return (
        f'<svg role="img" aria-label="{escape(said)}" viewBox="-10 -2 198 108" '
        f'style="width:100%;max-width:13.25rem;height:auto">{framed}{"".join(parts)}</svg>'
    )


def _bar(gauge: Gauge, ink: Ink, name: str) -> list[str]:
    pattern = f"beyond-{name}"
    found = [
        f'<rect x="0" y="54" width="{LEVEL_AT}" height="9" fill="{ink.line}"/>',
        f'<defs><pattern id="{pattern}" width="4" height="4" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="4" stroke="{ink.quiet}" '
        "/></pattern></defs>",
    ]
    if gauge.limit is None:
        return found
    found.append(
        f'<rect x="{LEVEL_AT}" y="54" width="{WIDE - LEVEL_AT}" height="9" fill="url(#{pattern})"/>'
    )
    if gauge.now is not None:
        reached = gauge.level is not None and gauge.level.reached
        middle = _place(gauge, gauge.now.p50) * LEVEL_AT
        low, high = sorted(_place(gauge, v) * LEVEL_AT for v in (gauge.now.p10, gauge.now.p90))
        colour = ink.late_plate if reached else ink.sound
        found.append(f'<rect x="0" y="54" width="{middle:.1f}" height="9" fill="{colour}"/>')
        found.append(
            f'<rect x="{low:.1f}" y="56.5" width="{max(high - low, 1.5):.1f}" height="4" '
            f'fill="{ink.ink}"/>'
        )
    found.append(
        f'<line x1="{LEVEL_AT}" y1="49" x2="{LEVEL_AT}" y2="68" stroke="{ink.ink}" '
        'stroke-width="2.4"/>'
    )
    return found


def _text(
    x: float, y: float, said: str, colour: str, size: int, anchor: str = "start", weight: int = 400
) -> str:
    return (
        f'<text x="{x:.0f}" y="{y}" font-size="{size}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{colour}">{escape(said)}</text>'
    )
