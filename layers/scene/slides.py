"""A slide deck being made: slides with head and foot, and native shapes that can be edited."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from pptx import Presentation
from pptx.chart.data import CategoryChartData
from pptx.dml.color import RGBColor
from pptx.enum.chart import XL_CHART_TYPE
from pptx.enum.shapes import MSO_SHAPE
from pptx.util import Emu, Inches, Pt

from layers.earth.clock import day_hhmm, dtg
from layers.earth.said.alike import visible
from layers.earth.table import Table
from layers.scene.ink import DAY
from layers.scene.release import Stamp, one_line

WIDTH, HEIGHT = Inches(13.333), Inches(7.5)
LEFT, ACROSS = 0.5, 12.3  # inches
FOOT, ANSWERS = 6.95, 5.98
PARTS = (4.7, 2.6, 2.6, 2.4)  # inches that each answer has at the foot
MOST_ROWS, MOST_IN_CELL = 14, 170
LETTERS = "Source Sans 3"
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)  # a fixed date in the file: the slides carry the real one
UNSEEN = ("printerSettings", "thumbnail", "extended-properties")  # parts that no slide shows


class Slides:
    """Slides of one deck: the title is the message; the answers and the stamp stand at the foot.

    Parameters
    ----------
    stamp : Stamp
        The words on every slide.
    answers : sequence of (str, str)
        Figure and words of people, margin, dive and oldest reading, at the foot of every slide.
    """

    def __init__(self, stamp: Stamp, answers: Sequence[tuple[str, str]]) -> None:
        self.show: Any = Presentation()
        self.show.slide_width, self.show.slide_height = WIDTH, HEIGHT
        _bare(self.show)
        self.stamp, self.answers = stamp, answers

    def new(self, message: str) -> Any:
        """Return a new slide whose title is one sentence."""
        slide = self.show.slides.add_slide(self.show.slide_layouts[5])
        top = "  ·  ".join(part for part in (self.stamp.banner, self.stamp.time_words) if part)
        self.text(slide, [top], LEFT, 0.2, ACROSS, 0.35, size=13, bold=bool(self.stamp.banner))
        head = slide.shapes.title
        head.left, head.top = Inches(LEFT), Inches(0.55)
        head.width, head.height = Inches(ACROSS), Inches(0.85)
        size = size_that_fits([message], ACROSS, 0.8, most=28)
        write(head.text_frame, [message], size, bold=True)
        if self.answers:
            at = LEFT
            for (figure, words), wide in zip(self.answers, PARTS, strict=True):
                self.text(slide, [figure], at, ANSWERS, wide, 0.38, size=18, bold=True)
                size = size_that_fits([words], wide - 0.2, 0.45, most=11)
                self.text(slide, [words], at, ANSWERS + 0.37, wide, 0.5, size=size)
                at += wide
        lines = [self.stamp.banner, self.stamp.marking, f"For: {self.stamp.releasable_to}",
                 self.stamp.origin_words,
                 "Not for navigation. Supports, does not replace, licensed practice."]  # fmt: skip
        told = "  ·  ".join(part for part in lines if part)
        self.text(slide, [told], LEFT, FOOT, ACROSS, 0.4, size=10)
        return slide

    def text(
        self,
        slide: Any,
        lines: Sequence[str],
        left: float,
        top: float,
        across: float,
        down: float,
        *,
        size: int | None = None,
        bold: bool = False,
    ) -> None:
        """Put lines into a box, in inches; in the largest letters that fit where none is said."""
        box = slide.shapes.add_textbox(Inches(left), Inches(top), Inches(across), Inches(down))
        write(box.text_frame, lines, size or size_that_fits(lines, across, down), bold=bold)

    def picture(self, slide: Any, png: bytes) -> None:
        """Put a picture on a slide, as large as it fits."""
        shape = slide.shapes.add_picture(io.BytesIO(png), Inches(LEFT), Inches(1.45))
        scale = min(Inches(ACROSS) / shape.width, Inches(4.45) / shape.height)
        shape.width, shape.height = Emu(int(shape.width * scale)), Emu(int(shape.height * scale))

    def table(
        self,
        slide: Any,
        table: Table,
        top: float,
        columns: Mapping[str, tuple[str, float]],
        *,
        size: int = 13,
    ) -> None:
        """Add a real table; what does not fit is said.

        Parameters
        ----------
        table : Table
            Of a layer; not all of its columns fit a slide.
        top : float
            Its upper edge in inches.
        columns : mapping of str to (str, float)
            By the table's head: the head as the slide says it, and its width in inches.
        size : int
            Of the letters, in points.
        """
        rows = table.rows[:MOST_ROWS]
        taken = [(table.heads.index(head), *told) for head, told in columns.items()
                 if head in table.heads]  # fmt: skip
        width = sum(inches for _, _, inches in taken)
        height = Pt(size * 1.9)
        shape = slide.shapes.add_table(
            len(rows) + 1, len(taken), Inches(LEFT), Inches(top), Inches(width), height
        )
        for column, (place, head, inches) in enumerate(taken):
            shape.table.columns[column].width = Inches(inches)
            _cell(shape.table.cell(0, column), head, size, bold=True)
            for number, row in enumerate(rows, 1):
                _cell(shape.table.cell(number, column), _cut(cell_words(row[place])), size)
        for row in shape.table.rows:
            row.height = height
        if len(table.rows) > MOST_ROWS:
            left = len(table.rows) - MOST_ROWS
            self.text(slide, [f"and {left} more rows in the program"], LEFT, 5.68, 12, 0.3, size=10)

    def line_chart(
        self, slide: Any, across: Sequence[str], lines: Mapping[str, Sequence[float]], unit: str
    ) -> None:
        """Add a native line chart: lines by name over one axis of words."""
        data = CategoryChartData()
        data.categories = across
        for name, values in lines.items():
            data.add_series(name, values)
        frame = slide.shapes.add_chart(
            XL_CHART_TYPE.LINE, Inches(LEFT), Inches(1.5), Inches(ACROSS), Inches(4.4), data
        )
        chart = frame.chart
        chart.has_title, chart.has_legend = False, len(lines) > 1
        _axis_words(chart.value_axis, unit)
        _axis_words(chart.category_axis, "day and hour, UTC")
        for number, series in enumerate(chart.plots[0].series):
            series.smooth = False
            series.format.line.color.rgb = colour(DAY.sound if number == 0 else DAY.ink)

    def bar(
        self, slide: Any, left: float, top: float, across: float, down: float, fill: str
    ) -> Any:
        """Add a filled rectangle, in inches."""
        shape = slide.shapes.add_shape(
            MSO_SHAPE.RECTANGLE, Inches(left), Inches(top), Inches(max(across, 0.02)), Inches(down)
        )
        shape.fill.solid()
        shape.fill.fore_color.rgb = colour(fill)
        shape.line.fill.background()
        return shape

    def done(self, title: str) -> bytes:
        """Return the deck as the bytes of a .pptx file."""
        core = self.show.core_properties
        core.title = one_line(title)[:255]  # as long as the format lets it be
        core.author = core.last_modified_by = "Musterplot"
        core.comments = core.keywords = core.category = ""
        core.created = core.modified = EPOCH
        out = io.BytesIO()
        self.show.save(out)
        return out.getvalue()


def _bare(show: Any) -> None:
    """Take out what the empty deck brings along unseen: somebody's printer, picture, program."""
    for related in (show.part.rels, show.part.package._rels):
        for name, one in list(related.items()):
            if one.reltype.rpartition("/")[2] in UNSEEN:
                related.pop(name)


class TimeAxis:
    """Hours laid out across a slide, from now to the last thing that is drawn."""

    def __init__(self, begins: datetime, ends: datetime, left: float, across: float) -> None:
        self.begins, self.left, self.across = begins, left, across
        self.span = max(ends - begins, timedelta(hours=1))

    def x(self, at: datetime) -> float:
        """Return where a time lies, in inches; the axis holds no earlier and no later one."""
        share = (at - self.begins) / self.span
        return self.left + self.across * min(max(share, 0.0), 1.0)

    def ticks(self) -> list[tuple[float, str]]:
        """Return places and words of round hours, at most eight."""
        hours = self.span.total_seconds() / 3600.0
        step = next((s for s in (1, 3, 6, 12, 24, 48, 120) if hours / s <= 8), 240)
        midnight = self.begins.replace(hour=0, minute=0, second=0, microsecond=0)
        times = (midnight + timedelta(hours=step * n) for n in range(400))
        last = self.begins + self.span
        return [(self.x(t), day_hhmm(t)) for t in times if self.begins < t < last][:8]


def colour(code: str) -> RGBColor:
    """Return a colour of the inks as the deck wants it."""
    made: RGBColor = RGBColor.from_string(code.lstrip("#").upper())
    return made


def size_that_fits(lines: Sequence[str], across: float, down: float, most: int = 20) -> int:
    """Return the largest letters, in points, in which the lines fit a box in inches.

    A letter is taken as 0.6 of its size wide: the widest of the families that stand in for the
    deck's own where that is not installed.
    """
    for size in range(most, 10, -1):
        letters = max(int(across * 72.0 / (0.6 * size)), 1)
        height = sum(1.2 * math.ceil(max(len(line), 1) / letters) + 0.5 for line in lines)
        if height * size <= down * 72.0:
            return size
    return 10


def cell_words(value: object) -> str:
    """Return a cell as it is read: a time as a date-time group, what is missing as not known."""
    if value is None:
        return "not known"
    if isinstance(value, datetime):
        return dtg(value)
    if isinstance(value, float):
        return f"{value:.4g}"
    return str(value)


def write(frame: Any, lines: Sequence[str], size: int, *, bold: bool = False) -> None:
    """Write lines into a frame, each a paragraph of its own."""
    frame.word_wrap = True
    for number, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if number == 0 else frame.add_paragraph()
        run = paragraph.add_run()
        run.text = visible(line)  # XML 1.0 can not carry every character
        run.font.size, run.font.bold, run.font.name = Pt(size), bold, LETTERS
        run.font.color.rgb = colour(DAY.ink)
        paragraph.space_after = Pt(size * 0.5)


def _cell(cell: Any, text: str, size: int, *, bold: bool = False) -> None:
    cell.margin_left = cell.margin_right = Inches(0.05)
    cell.margin_top = cell.margin_bottom = Inches(0.02)
    cell.fill.background()
    write(cell.text_frame, [text], size, bold=bold)


def _cut(text: str) -> str:
    return text if len(text) <= MOST_IN_CELL else f"{text[: MOST_IN_CELL - 1]}…"


def _axis_words(axis: Any, text: str) -> None:
    axis.has_title = True
    axis.axis_title.text_frame.text = text
    axis.axis_title.text_frame.paragraphs[0].runs[0].font.size = Pt(12)
    axis.tick_labels.font.size = Pt(12)
