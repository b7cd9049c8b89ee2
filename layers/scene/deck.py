"""The brief: an editable slide deck with real text, real tables and native charts.

Six slides: situation, map, survivors and margin, weather window, response chain, next decisions.
Each carries the exercise's banner, the marking, the time it is true for and the head of the
journal. Nothing is computed here.
"""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from pptx import Presentation
from pptx.chart.data import CategoryChartData
from pptx.dml.color import RGBColor
from pptx.enum.chart import XL_CHART_TYPE
from pptx.util import Emu, Inches, Pt

from layers.catalogue import BY_KEY, IN_WORDS
from layers.contract import Shown, Unavailable
from layers.earth.chart.marks import Style
from layers.earth.clock import dtg, from_us
from layers.earth.table import Table
from layers.earth.values import WeatherValue
from layers.picture import Picture, hand_on
from layers.scene.ink import DAY
from layers.scene.release import Release, Stamp
from layers.watch.state import WatchState

WIDTH, HEIGHT = Inches(13.333), Inches(7.5)
FOOT = Inches(6.9)
MOST_ROWS, MOST_IN_CELL = 14, 170
# what of a layer's table stands on a slide: its head there, and its width in inches
MUSTER: Mapping[str, tuple[str, float]] = {
    "Place": ("Place", 1.9),
    "Persons": ("Persons", 0.95),
    "Walking (persons)": ("Walking", 0.95),
    "Injured (persons)": ("Injured", 0.9),
    "Stretcher (persons)": ("Stretcher", 1.05),
    "Unknown (persons)": ("Unknown", 1.05),
}
OPTIONS: Mapping[str, tuple[str, float]] = {
    "Option": ("Option", 2.5),
    "Chosen": ("Chosen", 0.9),
    "First rescue P10 (Z)": ("First rescue P10", 1.35),
    "First rescue P50 (Z)": ("P50", 1.35),
    "First rescue P90 (Z)": ("P90", 1.35),
    "P50 after its zero (h)": ("P50, h after zero", 0.95),
    "What kills it": ("What kills it", 3.9),
}
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)  # a fixed date in the file: the slides carry the real one


def deck(
    made: Picture, watch: WatchState, stamp: Stamp, release: Release, plot_png: bytes
) -> bytes:
    """Return the deck as the bytes of a .pptx file.

    Parameters
    ----------
    made : Picture
        What is known, already cut to the release.
    watch : WatchState
        Stage, tasks, decisions.
    stamp : Stamp
        The words on every slide.
    release : Release
        What may be shown.
    plot_png : bytes
        The plot as drawn for paper.
    """
    show = Presentation()
    show.slide_width, show.slide_height = WIDTH, HEIGHT
    slides = _Slides(show, stamp)
    slides.text("Situation", _situation(made, watch))
    slides.picture("Plot", plot_png)
    _survivors(slides, made, release)
    _weather(slides, made)
    _response(slides, made)
    slides.text("Next decisions", _next(made, watch))
    core = show.core_properties
    core.title = " ".join(part for part in (stamp.banner, stamp.title) if part)
    core.author = "Musterplot"
    core.created = core.modified = EPOCH
    core.last_modified_by = "Musterplot"
    out = io.BytesIO()
    show.save(out)
    return out.getvalue()


class _Slides:
    """Slides of one deck, each with its head and foot."""

    def __init__(self, show: Any, stamp: Stamp) -> None:
        self.show = show
        self.stamp = stamp

    def new(self, title: str) -> Any:
        """Return a new slide with banner, title, time and foot."""
        slide = self.show.slides.add_slide(self.show.slide_layouts[5])
        head = slide.shapes.title
        head.left, head.top, head.width, head.height = (
            Inches(0.5),
            Inches(0.25),
            Inches(12.3),
            Inches(0.7),
        )
        banner = f"{self.stamp.banner}: " if self.stamp.banner else ""
        _write(head.text_frame, [f"{banner}{title}, {self.stamp.time_words}"], 18, bold=True)
        foot = slide.shapes.add_textbox(Inches(0.5), FOOT, Inches(12.3), Inches(0.5))
        lines = [part for part in (self.stamp.banner, self.stamp.marking) if part]
        lines.append(f"For: {self.stamp.releasable_to}")
        lines.append(self.stamp.origin_words)
        lines.append("Not for navigation. Supports, does not replace, licensed practice.")
        _write(foot.text_frame, ["  ·  ".join(lines)], 10)
        return slide

    def text(self, title: str, lines: Sequence[str]) -> None:
        """Add a slide of sentences."""
        slide = self.new(title)
        box = slide.shapes.add_textbox(Inches(0.5), Inches(1.05), Inches(12.3), Inches(5.7))
        _write(box.text_frame, lines, _size_that_fits(lines, 12.3, 5.7))

    def picture(self, title: str, png: bytes) -> None:
        """Add a slide with a picture, as large as it fits."""
        slide = self.new(title)
        shape = slide.shapes.add_picture(io.BytesIO(png), Inches(0.5), Inches(1.05))
        scale = min(Inches(12.3) / shape.width, Inches(5.85) / shape.height)
        shape.width, shape.height = Emu(int(shape.width * scale)), Emu(int(shape.height * scale))

    def table(
        self,
        slide: Any,
        table: Table,
        top: float,
        *,
        columns: Mapping[str, tuple[str, float]],
        size: int = 12,
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
            len(rows) + 1, len(taken), Inches(0.5), Inches(top), Inches(width), height
        )
        for column, (place, head, inches) in enumerate(taken):
            shape.table.columns[column].width = Inches(inches)
            _cell(shape.table.cell(0, column), head, size, bold=True)
            for number, row in enumerate(rows, 1):
                _cell(shape.table.cell(number, column), _cut(cell_words(row[place])), size)
        for row in shape.table.rows:
            row.height = height
        if len(table.rows) > MOST_ROWS:
            note = slide.shapes.add_textbox(Inches(0.5), Inches(6.55), Inches(12), Inches(0.3))
            left = len(table.rows) - MOST_ROWS
            _write(note.text_frame, [f"and {left} more rows in the program"], 11)


def _size_that_fits(lines: Sequence[str], width_in: float, height_in: float) -> int:
    """Return the largest letters, in points, in which the lines fit a box.

    A letter is taken as 0.6 of its size wide: the widest of the families that stand in for the
    deck's own where that is not installed.
    """
    for size in range(20, 10, -1):
        across = max(int(width_in * 72.0 / (0.6 * size)), 1)
        height = sum(1.2 * math.ceil(max(len(line), 1) / across) + 0.5 for line in lines)
        if height * size <= height_in * 72.0:
            return size
    return 10


def _cell(cell: Any, text: str, size: int, *, bold: bool = False) -> None:
    cell.margin_left = cell.margin_right = Inches(0.05)
    cell.margin_top = cell.margin_bottom = Inches(0.02)
    _write(cell.text_frame, [text], size, bold=bold)


def _cut(text: str) -> str:
    return text if len(text) <= MOST_IN_CELL else f"{text[: MOST_IN_CELL - 1]}…"


def cell_words(value: object) -> str:
    """Return a cell as it is read: a time as a date-time group, what is missing as not known."""
    if value is None:
        return "not known"
    if isinstance(value, datetime):
        return dtg(value)
    if isinstance(value, float):
        return f"{value:.4g}"
    return str(value)


def _write(frame: Any, lines: Sequence[str], size: int, *, bold: bool = False) -> None:
    frame.word_wrap = True
    for number, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if number == 0 else frame.add_paragraph()
        run = paragraph.add_run()
        # characters that XML 1.0 cannot carry would make the file unreadable
        run.text = "".join(c for c in line if c in "\t\n" or ord(c) >= 32)
        run.font.size = Pt(size)
        run.font.bold = bold
        paragraph.space_after = Pt(size * 0.5)


def _sentence(made: Picture, key: str) -> str:
    shown = made.layers.get(key)
    if isinstance(shown, Shown):
        return shown.sentence
    return shown.reason if isinstance(shown, Unavailable) else "not known"


def _situation(made: Picture, watch: WatchState) -> list[str]:
    keys = [layer.key for layer in IN_WORDS if layer.key in made.layers]
    return [watch.stage_words(), *(_sentence(made, key) for key in keys)]


def _survivors(slides: _Slides, made: Picture, release: Release) -> None:
    slide = slides.new("Survivors and margin")
    shown = made.shown("survivors")
    if shown is not None:
        slides.table(slide, shown.table, 1.05, columns=MUSTER)
    margin = made.shown("margin")
    if margin is None or not release.medical:
        return
    refuges = margin.result.outlook.refuges
    if not refuges:
        return
    bands = [
        (f"{refuge.refuge}: {what}", spread)
        for refuge in refuges
        for what, spread in (("can last", refuge.alone_h), ("last out", refuge.last_left_h))
        if spread is not None and math.isfinite(spread.p10)
    ]
    if not bands:
        return
    # a level not reached within the horizon has no end: the band then runs to the chart's edge
    ends = [s.p90 for _, s in bands if math.isfinite(s.p90)]
    edge = 1.25 * max([*ends, *(s.p10 for _, s in bands)])
    data = CategoryChartData()
    data.categories = [
        name if math.isfinite(s.p90) else f"{name} (P90 beyond the horizon)" for name, s in bands
    ]
    data.add_series("before", [round(s.p10, 2) for _, s in bands])
    widths = [(s.p90 if math.isfinite(s.p90) else edge) - s.p10 for _, s in bands]
    data.add_series("P10 to P90, hours from now", [round(max(w, 0.05), 2) for w in widths])
    frame = slide.shapes.add_chart(
        XL_CHART_TYPE.BAR_STACKED, Inches(7.5), Inches(1.0), Inches(5.3), Inches(4.2), data
    )
    chart = frame.chart
    chart.has_legend = False  # one band is seen, and the axis says what it is
    _axis_words(chart.value_axis, "hours from now, P10 to P90")
    chart.category_axis.tick_labels.font.size = Pt(12)
    chart.plots[0].series[0].format.fill.background()  # only the band is seen
    band = chart.plots[0].series[1].format.fill
    band.solid()
    band.fore_color.rgb = RGBColor.from_string(DAY.of(Style.PEOPLE).lstrip("#").upper())
    box = slide.shapes.add_textbox(Inches(7.5), Inches(5.3), Inches(5.3), Inches(1.5))
    words = [r.words for r in refuges]
    words.append("As computed from reports and entered levels; not medical advice.")
    _write(box.text_frame, words, _size_that_fits(words, 5.3, 1.4))


def _axis_words(axis: Any, text: str) -> None:
    axis.has_title = True
    axis.axis_title.text_frame.text = text
    axis.axis_title.text_frame.paragraphs[0].runs[0].font.size = Pt(12)
    axis.tick_labels.font.size = Pt(12)


def _weather(slides: _Slides, made: Picture) -> None:
    slide = slides.new("Weather window")
    shown = made.shown("weather")
    box = slide.shapes.add_textbox(Inches(0.5), Inches(1.0), Inches(12.3), Inches(1.2))
    said = [_sentence(made, "weather")]
    _write(box.text_frame, said, min(16, _size_that_fits(said, 12.3, 1.2)))
    if shown is None:
        return
    series = _hs_series(shown)
    if series is not None:
        hours, hs = series
        data = CategoryChartData()
        data.categories = hours
        data.add_series("Significant wave height, m", hs)
        frame = slide.shapes.add_chart(
            XL_CHART_TYPE.LINE, Inches(0.5), Inches(2.2), Inches(12.3), Inches(4.6), data
        )
        frame.chart.has_title = False
        frame.chart.has_legend = False
        _axis_words(frame.chart.value_axis, "significant wave height, m")
        _axis_words(frame.chart.category_axis, "day and hour, UTC")
        frame.chart.plots[0].series[0].smooth = False


def _hs_series(shown: Shown) -> tuple[list[str], list[float]] | None:
    """Return hours and wave heights at the datum, as the weather layer hands them on."""
    value = hand_on(BY_KEY["weather"], shown)
    if not isinstance(value, WeatherValue) or value.series_at_datum is None:
        return None
    series = value.series_at_datum
    known = [i for i, hs in enumerate(series.hs_m.tolist()) if hs == hs][:96]
    if not known:
        return None
    labels = [f"{from_us(int(series.at_us[i])):%d %H}Z" for i in known]
    return labels, [round(float(series.hs_m[i]), 2) for i in known]


def _response(slides: _Slides, made: Picture) -> None:
    slide = slides.new("Response chain")
    box = slide.shapes.add_textbox(Inches(0.5), Inches(1.05), Inches(12.3), Inches(0.9))
    _write(box.text_frame, [_sentence(made, "forward_port")], 16)
    shown = made.shown("forward_port")
    if shown is not None:
        slides.table(slide, shown.table, 1.75, columns=OPTIONS)


def _next(made: Picture, watch: WatchState) -> list[str]:
    lines = [event.words(made.moment.at) for event in (*watch.overdue[:3], *watch.ahead[:4])]
    standing = [each for each in watch.decisions if each.replaced_by is None]
    lines += [f"Decided: {each.entry.value.what}" for each in standing[-4:]]
    lines += [f"Open: {point.entry.value.what}" for point in watch.questions[:4]]
    lines += [f"Assumed: {point.entry.value.what}" for point in watch.assumptions[:4]]
    return lines or ["Nothing is due and nothing is open."]
