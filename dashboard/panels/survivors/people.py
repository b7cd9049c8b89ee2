"""Everybody on board as marks, one a person: who stands, who lies, not heard of, adrift, dead."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from html import escape

from dashboard.panels.strokes import text, width_of
from layers.earth.clock import clock_words
from layers.scene.ink import Ink
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState
from layers.survivors.muster.persons import COUNT_OF, SHOWN, persons_of
from layers.survivors.report import COUNT_WORDS

STEP, TOP = 21.0, 58.0
WIDTH = 1010
GAP, PART = 20.0, 32.0


def drawing(who: Muster, ink: Ink) -> str:
    """Return the marks by count and place as inline SVG in one line."""
    rows, now = _rows_for(who.pob), persons_of(who)
    parts: list[str] = []
    x = 0.0
    for name in SHOWN:
        places = _places(who, name)
        if not places and name not in now.between:
            continue
        if x:
            parts.append(_rule(x - PART / 2, ink))
        x = _count(parts, name, now.figure(name), places, x, rows, ink, who.at) + PART
    wide = max(x, float(WIDTH))
    said = ", ".join(
        f"{now.figure(name)} {COUNT_WORDS[name]}"
        for name in SHOWN
        if _places(who, name) or name in now.between
    )
    return (
        f'<svg role="img" aria-label="{escape(said)}" data-answer="persons" '
        f'viewBox="0 0 {wide:.0f} {_height(rows):.0f}" style="width:100%;'
        f'max-width:{wide / 16.0:.2f}rem;height:auto;display:block" font-size="15">'
        f"{''.join(parts)}</svg>"
    )


def _rows_for(persons: int) -> int:
    return 4 if persons <= 90 else 8


def _height(rows: int) -> float:
    return TOP + rows * STEP + 20.0


def _places(who: Muster, name: str) -> list[tuple[PlaceState, int]]:
    """Return the places of one count with how many of theirs are in it."""
    if name == "dead":
        return [(p, p.of("dead")) for p in who.places if p.of("dead")]
    return [(p, p.alive) for p in who.places if COUNT_OF[p.sort] == name and p.alive]


def _rule(x: float, ink: Ink) -> str:
    return f'<line x1="{x:.0f}" y1="4" x2="{x:.0f}" y2="152" stroke="{ink.line}" />'


def _count(
    parts: list[str],
    name: str,
    total: str,
    places: list[tuple[PlaceState, int]],
    x: float,
    rows: int,
    ink: Ink,
    now: datetime,
) -> float:
    colour = ink.people if name == "adrift" else ink.ink
    figure = 13.5 * sum(c.isdigit() for c in total) + 11.5 * sum(c.isalpha() for c in total)
    figure += 6.0 * total.count(" ")
    parts.append(
        f'<text x="{x:.0f}" y="22" font-size="25" font-weight="650" fill="{colour}">{total}</text>'
    )
    parts.append(text(x + figure + 7, 22, COUNT_WORDS[name], ink.quiet))
    end = x + figure + 7 + width_of(COUNT_WORDS[name], 13)
    alone = name in ("adrift", "dead", "missing", "not_heard_of") and len(places) == 1
    for place, count in places:
        label = "" if alone else _label(place, count, name)
        at = _when(place, now)
        parts.append(_small(x, 43, label, ink.ink, 14))
        parts += _marks(place, name, count, x, rows, ink)
        parts.append(_small(x, _height(rows) - 9, at, ink.quiet, 13))
        columns = -(-count // rows)
        x += max(columns * STEP, width_of(label, 12), width_of(at, 11)) + GAP
    return max(x - GAP, end)


def _small(x: float, y: float, said: str, colour: str, size: int) -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" font-size="{size}" fill="{colour}">{escape(said)}</text>'


def _label(place: PlaceState, count: int, name: str) -> str:
    if name == "dead":
        return "" if place.sort is PlaceSort.DEAD else place.name
    bars = [lot.exposure_bar_abs for lot in place.lots if lot.exposure_bar_abs is not None]
    pressed = f", {max(bars):.2f} bar" if bars and place.sort is PlaceSort.CHAMBER else ""
    doubt = " ?" if place.disputed else ""
    return f"{place.name}: {count}{pressed}{doubt}"


def _when(place: PlaceState, now: datetime) -> str:
    return "" if place.changed_at is None else f"told {clock_words(place.changed_at, now)}"


def _marks(
    place: PlaceState, name: str, count: int, x: float, rows: int, ink: Ink
) -> Iterable[str]:
    lying = 0 if name in ("dead", "missing", "not_heard_of") else place.of("stretcher")
    for n in range(count):
        cx, cy = x + 8 + STEP * (n // rows), TOP + STEP * (n % rows)
        if name == "dead":
            yield _cross(cx, cy, ink.quiet)
        elif name == "missing":
            yield _ring(cx, cy, ink.quiet) + _cross(cx, cy, ink.quiet, 4)
        elif name == "not_heard_of":
            yield _ring(cx, cy, ink.quiet)
        elif name == "adrift":
            yield _ring(cx, cy, ink.people, ' stroke-dasharray="3 2.2"')
        elif n >= count - lying:
            yield (
                f'<rect x="{cx - 8:.1f}" y="{cy - 3.6:.1f}" width="16" height="7.2" rx="3" '
                f'fill="{ink.ink}"/>'
            )
        else:
            yield f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="6.4" fill="{ink.ink}"/>'


def _ring(cx: float, cy: float, colour: str, more: str = "") -> str:
    return (
        f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="5.6" fill="none" stroke="{colour}" '
        f'stroke-width="1.8"{more}/>'
    )


def _cross(cx: float, cy: float, colour: str, size: float = 5.0) -> str:
    a, b, c, d = cx - size, cx + size, cy - size, cy + size
    return "".join(
        f'<line x1="{a:.1f}" y1="{y1:.1f}" x2="{b:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        'stroke-width="2"/>'
        for y1, y2 in ((c, d), (d, c))
    )
