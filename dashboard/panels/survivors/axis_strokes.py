"""The strokes of the time axis: bars that say how sure they are, and a dimension line.

Done is filled, planned hollow, P10 to P90 hatched; what they can last is one hue, and red is for
people who will not be out in time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from html import escape

from dashboard.panels.text import fitting
from layers.earth.clock import clock_words, dtg
from layers.scene.ink import Ink
from layers.survivors.lifts.axis import Axis, ChamberLine, LiftBar, RefugeLine

LETTER_W = 0.52  # of its size: about how wide a letter of the family stands
BOLD_W = 0.55
NOW_W = 3.0  # the box that says now


@dataclass(frozen=True, slots=True, kw_only=True)
class SeaLine:
    """What the sea lets through: heights with their limits, and when a whole sortie may begin.

    ``heights`` are times with Hs in metres; ``starts`` spans with True (may), False (may not),
    None (not known).
    """

    heights: tuple[tuple[datetime, float], ...]
    launch_m: float | None
    recovery_m: float | None
    starts: tuple[tuple[datetime, datetime, bool | None], ...]
    said: str


class Pen:
    """Draws on one axis; everything it writes is escaped."""

    def __init__(
        self, ink: Ink, width: int, left: int, axis: Axis, name: str, edge: int = 0
    ) -> None:
        self.edge = edge
        self.ink, self.width, self.left, self.axis, self.name = ink, width, left, axis, name
        self._parts: list[str] = []

    def x(self, at: datetime) -> float:
        """Return where a time stands, pixels."""
        return self.left + (self.width - self.left) * self.axis.share(at)

    def svg(self, height: int, said: str) -> str:
        """Return the whole drawing in one line."""
        hatch = (
            f'<pattern id="mp-h-{self.name}" width="5" height="5" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5" '
            f'stroke="{self.ink.quiet}" stroke-width="1.1"/></pattern>'
        )
        seen = f"{-self.edge} 0 {self.width + 2 * self.edge} {height}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{seen}" '
            f'width="100%" role="img" aria-label="{escape(said)}" class="mp-axis" '
            f'style="display:block;font-family:inherit;font-variant-numeric:tabular-nums">'
            f"<title>{escape(said)}</title><defs>{hatch}</defs>{''.join(self._parts)}</svg>"
        )

    def text(
        self,
        x: float,
        y: float,
        said: str,
        *,
        size: int,
        quiet: bool = False,
        bold: bool = False,
        anchor: str = "start",
        colour: str = "",
        halo: bool = False,
    ) -> None:
        """Write letters."""
        hue = colour or (self.ink.quiet if quiet else self.ink.ink)
        back = (
            f' paint-order="stroke" stroke="{self.ink.page}" stroke-width="4" '
            'stroke-linejoin="round"'
            if halo
            else ""
        )
        weight = 650 if bold else 400
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" font-weight="{weight}" '
            f'text-anchor="{anchor}" fill="{hue}"{back}>{escape(said)}</text>'
        )

    def line(
        self, x1: float, y1: float, x2: float, y2: float, colour: str, width: float, more: str = ""
    ) -> None:
        """Draw a straight line."""
        self._parts.append(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
            f'stroke-width="{width:g}"{more}/>'
        )

    def box(
        self, x1: float, y: float, x2: float, height: float, fill: str, edge: str = "none",
        more: str = "",
    ) -> None:  # fmt: skip
        """Draw a bar."""
        self._parts.append(
            f'<rect x="{x1:.1f}" y="{y:.1f}" width="{max(x2 - x1, 0.5):.1f}" '
            f'height="{height:.1f}" fill="{fill}" stroke="{edge}"{more}/>'
        )

    def _hatch(self) -> str:
        return f"url(#mp-h-{self.name})"

    # a refuge --------------------------------------------------------------------------------

    def lasting(self, line: RefugeLine, y: float, height: float) -> None:
        """Draw how long they can last: whole to P10, fading to P90, open where not known."""
        hue, now, right = self.ink.sound, self.x(self.axis.now), float(self.width)
        start = self.x(self.axis.start)
        if line.lasts is None and (not line.beyond or line.at_most):
            self.box(start, y, right, height, self._hatch(), self.ink.quiet,
                     ' stroke-dasharray="3 3"')  # fmt: skip
            return
        middle = right if line.lasts is None else self.x(line.lasts)
        sure = middle if line.early is None else self.x(max(line.early, self.axis.now))
        self.box(start, y, min(sure, middle), height, hue, more=' opacity="0.75"')
        if sure < middle:
            self.box(sure, y, middle, height, hue, more=' opacity="0.5"')
        if line.at_least and middle < right:  # what nobody told of may put it off
            self.box(middle, y, right, height, self._hatch(), self.ink.quiet,
                     ' stroke-dasharray="3 3"')  # fmt: skip
        if line.late is not None and self.x(line.late) > middle:
            self.box(middle, y, self.x(line.late), height, hue, more=' opacity="0.18"')
        if line.lasts is None or line.lasts > self.axis.end:
            tip = y + height / 2
            self._parts.append(
                f'<path d="M{right - 11:.1f} {y - 2:.1f}L{right:.1f} {tip:.1f}L{right - 11:.1f} '
                f'{y + height + 2:.1f}Z" fill="{self.ink.ink}"/>'
            )
        self.line(now, y - 3, now, y + height + 3, self.ink.ink, 2)

    def level(self, line: RefugeLine, y: float, size: int) -> None:
        """Write the level that binds at the end of the bar."""
        hue = self.ink.late if line.short else self.ink.sound
        hue = self.ink.quiet if line.lasts is None and not line.beyond else hue
        at = float(self.width) if line.lasts is None else self.x(line.lasts)
        said = self._fitting(line.level, size)
        wide = len(said) * size * LETTER_W
        if line.lasts is None and not line.beyond:
            self.text(self.left, y, said, size=size, colour=hue, bold=True, halo=True)
        elif at + wide / 2 > self.width:
            self.text(self.width, y, said, size=size, colour=hue, bold=True, anchor="end")
        else:
            x = max(at - wide / 2, self.left)
            self.text(x, y, said, size=size, colour=hue, bold=True)

    def _fitting(self, said: str, size: int) -> str:
        return fitting(said, (self.width - self.left) / (size * BOLD_W))

    def lifts(self, line: RefugeLine, y: float, height: float, quiet: int, *, labels: bool) -> None:
        """Draw the lifts of a refuge, what is done filled, what is planned hollow."""
        for bar in line.bars:
            if bar.early is not None and bar.late is not None:
                self.box(self.x(bar.early), y, self.x(bar.late), height, self._hatch(), "none",
                         ' opacity="0.7"')  # fmt: skip
        for bar in line.bars:
            self._lift(bar, y, height, quiet if labels else round(height * 0.8))

    def _lift(self, bar: LiftBar, y: float, height: float, size: int) -> None:
        x1, x2, hatch = self.x(bar.dive), self.x(bar.deck), self.x(bar.hatch)
        fill = self.ink.ink if bar.done else self.ink.page
        self.box(x1, y, x2, height, fill, self.ink.ink, ' stroke-width="1.6"')
        self.line(hatch, y, hatch, y + height, self.ink.page if bar.done else self.ink.ink, 3)
        wide = len(bar.key) * size * 0.62
        hue = self.ink.page if bar.done else self.ink.ink
        if x2 - x1 > wide + 6:
            self.text((x1 + min(hatch, x2)) / 2, y + height * 0.76, bar.key, size=size, bold=True,
                      anchor="middle", colour=hue)  # fmt: skip
        else:
            fits = x1 - 4 - wide > self.left
            self.text(x1 - 4 if fits else x2 + 4, y + height * 0.76, bar.key, size=size,
                      bold=True, anchor="end" if fits else "start", halo=True)  # fmt: skip

    def dimension(self, line: RefugeLine, y: float, letter: int, beside: str, quiet: int) -> float:
        """Draw the line between hatch shut and level, the hours on it; return its foot."""
        hue = self.ink.late if line.short else self.ink.ink
        said = f"LATE: {line.margin}" if line.short else line.margin
        said = self._fitting(said, letter)
        middle = y + letter * 0.75
        foot = y + letter * 1.5
        wide = len(said) * letter * LETTER_W
        ends = line.lasts is not None or line.beyond
        if line.last is None or not (line.known and ends):
            self.text(self.left, middle + letter * 0.35, said, size=letter, bold=True, colour=hue,
                      halo=True)  # fmt: skip
            return foot
        a = self.x(line.last)
        b = float(self.width) if line.lasts is None else self.x(line.lasts)
        low, high = min(a, b), max(a, b)
        for x in (a, b):
            self.line(x, y - letter * 1.2, x, foot, hue, 1.4)
        if high - low > wide + 40:
            gap = (low + high) / 2
            self.line(low, middle, gap - wide / 2 - 6, middle, hue, 1.6)
            self.line(gap + wide / 2 + 6, middle, high, middle, hue, 1.6)
            self.text(gap, middle + letter * 0.35, said, size=letter, bold=True, anchor="middle",
                      colour=hue)  # fmt: skip
            if beside and high + len(beside) * quiet * LETTER_W + 8 < self.width:
                self.text(high + 8, middle + quiet * 0.35, beside, size=quiet, quiet=True)
                return foot
        else:
            self.line(low, middle, high, middle, hue, 1.6)
            foot = self._beside_line(said, (low, high), middle, foot, letter, hue)
        if beside:
            self.text(self.width, foot + quiet * 0.9, beside, size=quiet, quiet=True, anchor="end")
            return foot + quiet * 1.1
        return foot

    def _beside_line(
        self, said: str, ends: tuple[float, float], middle: float, foot: float, letter: int,
        hue: str,
    ) -> float:  # fmt: skip
        """Write the hours beside a line too short for them, else under it; return the foot."""
        wide = len(said) * letter * LETTER_W
        low, high = ends
        y = middle + letter * 0.35
        if high + wide + 8 < self.width:
            self.text(high + 8, y, said, size=letter, bold=True, colour=hue, halo=True)
        elif low - wide - 8 > self.left:
            self.text(low - 8, y, said, size=letter, bold=True, colour=hue, anchor="end",
                      halo=True)  # fmt: skip
        else:
            self.text(self.width, foot + letter, said, size=letter, bold=True, colour=hue,
                      anchor="end")  # fmt: skip
            return foot + letter * 1.3
        return foot

    # the rows of the page --------------------------------------------------------------------

    def sea(self, sea: SeaLine, top: float, letter: int, quiet: int) -> float:
        """Draw the height of the sea with its limits, and when a whole sortie may begin."""
        self.text(0, top + letter * 1.2, "Sea", size=letter, bold=True)
        peak = max((hs for _, hs in sea.heights), default=0.0)
        self.text(0, top + letter * 2.3, f"Hs, m; peak {peak:.1f}", size=quiet, quiet=True)
        height, top_m = 56.0, max(peak, sea.launch_m or 0.0, sea.recovery_m or 0.0, 1.0) * 1.15
        for name, limit in (("launch", sea.launch_m), ("recovery", sea.recovery_m)):
            if limit is not None:
                y = top + height * (1 - limit / top_m)
                self.line(
                    self.left, y, self.width, y, self.ink.quiet, 0.9, ' stroke-dasharray="2 3"'
                )
                shift = -3 if name == "launch" else quiet
                self.text(self.width - 2, y + shift, f"{name} {limit:.1f}", size=quiet, quiet=True,
                          anchor="end", halo=True)  # fmt: skip
        places = [
            f"{self.x(at):.1f},{top + height * (1 - hs / top_m):.1f}"
            for at, hs in sea.heights
            if self.axis.start <= at <= self.axis.end
        ]
        if places:
            self._parts.append(
                f'<polyline points="{" ".join(places)}" fill="none" stroke="{self.ink.ink}" '
                'stroke-width="1.8" stroke-dasharray="2 3"/>'
            )
        return self._sortie(sea, top + height + 12, letter, quiet)

    def _sortie(self, sea: SeaLine, top: float, letter: int, quiet: int) -> float:
        self.text(0, top + letter * 0.95, "Whole sortie", size=letter, bold=True)
        height = letter * 1.2
        for start, end, may in sea.starts:
            x1, x2 = self.x(start), self.x(end)
            if end <= self.axis.start or start >= self.axis.end:
                continue
            if may:
                self.box(x1, top, x2, height, self.ink.search, more=' opacity="0.85"')
            else:
                self.box(x1, top, x2, height, self._hatch(), self.ink.quiet)
        x = self.x(self.axis.now) + 8
        self.text(x, top + letter * 0.92, sea.said, size=quiet + 1, bold=True, halo=True)
        return top + height + 14

    def chamber(self, chamber: ChamberLine, top: float, letter: int, quiet: int) -> float:
        """Draw who is in a chamber until when."""
        self.text(0, top + letter, chamber.name.capitalize(), size=letter, bold=True)
        height = letter * 1.2
        for enters, leaves, said, _ in chamber.spans:
            x1, x2 = self.x(enters), self.x(leaves)
            if leaves <= self.axis.start or enters >= self.axis.end:
                continue
            self.box(x1, top, x2, height, "none", self.ink.ink, ' stroke-width="1.4"')
            words = f"{said}, to {clock_words(leaves, self.axis.now)}"
            words = words if len(words) * quiet * LETTER_W < x2 - x1 - 8 else said
            if len(words) * quiet * LETTER_W < x2 - x1 - 8:
                self.text(x1 + 7, top + letter * 0.9, words, size=quiet)
        if chamber.note:
            self.text(self.left + 7, top + letter * 0.9, chamber.note, size=quiet, quiet=True)
        return top + height + 8

    def legend(self, top: float, size: int) -> float:
        """Draw what the bars mean: only marks that are on it."""
        x, y = float(self.left) + 8, top + size * 1.5
        for word, fill, edge in (
            ("done", self.ink.ink, self.ink.ink),
            ("planned, dive to deck", "none", self.ink.ink),
            ("P10 to P90 of hatch shut", self._hatch(), "none"),
            ("they can last, if nobody leaves", self.ink.sound, "none"),
        ):
            self.box(x, y - size * 0.8, x + 26, size * 0.85, fill, edge)
            self.text(x + 33, y, word, size=size, quiet=True)
            x += 33 + len(word) * size * LETTER_W + 22
        return top + size * 2.2

    def grid(self, ticks: Iterable[datetime], foot: float, size: int) -> None:
        """Draw the hours behind everything, and now."""
        behind: list[str] = []
        drawn, self._parts = self._parts, behind
        now, right = self.x(self.axis.now), -1e9
        for at in ticks:
            x = self.x(at)
            self.line(x, 0, x, foot, self.ink.line, 1.0 if at.hour == 0 else 0.6)
            said = f"{dtg(at)[:7]}" if at.hour % 12 == 0 else f"{at.hour:02d}"
            wide = len(said) * size * LETTER_W
            clear = abs(x - now) > (wide + size * NOW_W) / 2 + 4  # of the box that says now
            if clear and x - wide / 2 > right + 8 and x + wide / 2 <= self.width:
                self.text(x, foot + size * 1.3, said, size=size, quiet=at.hour != 0,
                          anchor="middle")  # fmt: skip
                right = x + wide / 2
        self.line(self.left, foot, self.width, foot, self.ink.line, 1)
        self.line(now, 0, now, foot, self.ink.ink, 2)
        self._parts = behind + drawn
        wide = size * NOW_W
        self.box(now - wide / 2, foot + 2, now + wide / 2, size * 1.4, self.ink.ink)
        self.text(now, foot + size * 1.2, "now", size=size, bold=True, anchor="middle",
                  colour=self.ink.page)  # fmt: skip
