"""The brief: an editable slide deck with real text, real tables and native shapes.

Each slide has one message, which is its title; a slide that would have no number is left out.
Headlines are the watch's answers, the same as on every screen. Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from layers import answer_words
from layers.answers import Answers
from layers.catalogue import BY_KEY, IN_WORDS
from layers.contract import Shown
from layers.earth.clock import clock_words, day_hhmm, from_us
from layers.earth.said.written import distance_words, dm_text
from layers.earth.table import Table
from layers.earth.told import HerPlace, PersonsNow, RefugeMargin
from layers.earth.uncertain import Stated
from layers.earth.units import M_PER_NMI
from layers.earth.values import WeatherValue
from layers.picture import Picture, hand_on
from layers.scene.ink import DAY
from layers.scene.release import Stamp
from layers.scene.slides import ACROSS, LEFT, Slides, TimeAxis
from layers.watch.result import WatchState

# what of the response's table stands on a slide: its head there, and its width in inches
OPTIONS: Mapping[str, tuple[str, float]] = {
    "Option": ("Way", 3.6),
    "Chosen": ("Chosen", 0.9),
    "End of chain P10 (Z)": ("End of chain P10", 1.6),
    "End of chain P50 (Z)": ("P50", 1.6),
    "End of chain P90 (Z)": ("P90", 1.6),
    "Ready to sail P10 (Z)": ("Ready to sail P10", 1.6),
    "Ready to sail P50 (Z)": ("P50", 1.6),
    "Ready to sail P90 (Z)": ("P90", 1.6),
    "Ruled out by": ("Ruled out by", 3.0),
}
# the counts that add up to all on board, in the order they are read
COUNTS = (
    ("in_hull", "In hull"), ("in_vehicle", "In vehicle"), ("adrift", "Adrift"),
    ("not_heard_of", "Not heard of"), ("out", "Out, alive"), ("dead", "Dead"),
    ("missing", "Named as missing"),
)  # fmt: skip
WIDE, MOST_COLUMNS = 12.0, 6  # inches and columns of a layer's table on a slide of its own
NOW_WIDE = 1.9  # inches at the axis' left end that its own hour has
LANE = 1.35  # inches that a refuge's lane is high
CAUTION = "As computed from reports and entered levels; well-mixed air assumed; not medical advice."


def deck(
    made: Picture, answers: Answers, watch: WatchState, stamp: Stamp, plot_png: bytes
) -> bytes:
    """Return the deck as the bytes of a .pptx file.

    Parameters
    ----------
    made : Picture
        What is known, as the release may see it.
    answers : Answers
        Of that picture.
    watch : WatchState
        Stage, tasks, decisions.
    stamp : Stamp
        The words on every slide.
    plot_png : bytes
        The plot as drawn for a slide.
    """
    slides = Slides(stamp, _foot(answers))
    plot = slides.new(_where(answers, watch))
    slides.picture(plot, plot_png)
    _people(slides, answers)
    _margin(slides, answers)
    _dive(slides, made, answers)
    _response(slides, made, answers)
    _layers(slides, made)
    _next(slides, answers, watch)
    return slides.done(" ".join(part for part in (stamp.banner, stamp.title) if part))


def _layers(slides: Slides, made: Picture) -> None:
    """Add a slide for each layer that has none of those above: its sentence over its table."""
    for layer in IN_WORDS:
        shown = made.layers.get(layer.key) if layer.brief_slide else None
        if isinstance(shown, Shown) and shown.table.rows:
            slide = slides.new(shown.sentence)
            heads = shown.table.heads[:MOST_COLUMNS]
            columns = {head: (head, WIDE / len(heads)) for head in heads}
            slides.table(slide, shown.table, 1.6, columns)


def _foot(answers: Answers) -> list[tuple[str, str]]:
    four = answer_words.four(answers)
    return [(one.figure, ", ".join(filter(None, (one.words, one.age)))) for one in four]


def _where(answers: Answers, watch: WatchState) -> str:
    found = answers.position
    if not isinstance(found, Stated):
        return f"{watch.stage_words()}: where she is, is {answer_words.unsaid_words(found)}"
    place: HerPlace = found.value
    near = distance_words(place.radius_95_m)
    where = dm_text(place.position, 3 if place.radius_95_m < M_PER_NMI / 10.0 else 1)
    return f"{watch.stage_words()}: {where}, 95 % within {near}, {place.said_by}"


def _people(slides: Slides, answers: Answers) -> None:
    found = answers.persons
    if not isinstance(found, PersonsNow):
        return
    board = "nobody has said how many are on board"
    if found.on_board is not None:
        board = f"{found.figure('on_board')} on board"
    counted = [(key, word) for key, word in COUNTS if getattr(found, key) or key in found.between]
    rows = [(word, found.figure(key), _of_them(found, key)) for key, word in counted]
    said = [f"{found.figure(key)} {key.replace('_', ' ')}" for key, _ in counted]
    slide = slides.new(f"{', '.join(said)}: {board}")
    rows.append(("All", str(found.counted), ""))
    table = Table(heads=("Where", "Persons", "Of them"), rows=tuple(rows))
    columns = {"Where": ("Where", 3.0), "Persons": ("Persons", 1.4), "Of them": ("Of them", 7.0)}
    slides.table(slide, table, 1.6, columns, size=16)


def _of_them(found: PersonsNow, key: str) -> str:
    """Return how a count is parted by place; empty where that tells no more, or does not add up."""
    told = {at: n for at, n in found.by_place.items() if found.count_of.get(at) == key}
    tells = key in ("in_hull", "out") and sum(told.values()) == getattr(found, key)
    return ", ".join(f"{n} {place}" for place, n in told.items()) if tells else ""


def _margin(slides: Slides, answers: Answers) -> None:
    """Draw the two clocks: how long each refuge lasts, and when the last is out of it."""
    refuges = [m for m in answers.margin.values() if m.lasts_until is not None or m.last_out]
    if not refuges:
        return
    said = answer_words.margin(answers)
    figure = f"{said.figure} {said.unit}".strip()
    slide = slides.new(f"{figure} to spare if nobody leaves: {said.word}")
    begins = answers.moment.at
    ends = max(t for m in refuges for t in (m.lasts_until, m.last_out) if t is not None)
    axis = TimeAxis(begins, begins + (ends - begins) * 1.08, LEFT + 0.2, 11.6)
    for number, one in enumerate(refuges[:3]):
        _lane(slides, slide, one, axis, 1.6 + LANE * number, begins)
    foot = 1.6 + LANE * min(len(refuges), 3)
    slides.bar(slide, axis.left, foot, 0.02, 0.1, DAY.quiet)
    slides.text(
        slide, [f"now, {day_hhmm(begins)}"], axis.left - 0.1, foot + 0.08, 1.5, 0.3, size=11
    )
    for x, words in axis.ticks():
        slides.bar(slide, x, foot, 0.02, 0.1, DAY.quiet)
        if x > axis.left + NOW_WIDE:
            slides.text(slide, [words], x - 0.5, foot + 0.08, 1.2, 0.3, size=11)
    slides.text(slide, [CAUTION], LEFT, 5.68, 12.3, 0.3, size=10)


def _lane(
    slides: Slides, slide: object, one: RefugeMargin, axis: TimeAxis, top: float, now: datetime
) -> None:
    head = f"{answer_words.refuge_words(one)}, {one.persons} persons"
    lasts = answer_words.lasts_words(one, now)
    until = f"lasts to {lasts}" if lasts else "how long they last is not known"
    slides.text(slide, [f"{head}: {until}"], axis.left - 0.1, top, 11.6, 0.35, size=14, bold=True)
    if one.lasts_until is not None:
        across = axis.x(one.lasts_until) - axis.left
        slides.bar(slide, axis.left, top + 0.4, across, 0.24, DAY.sound)
    if one.last_out is None:
        return
    x = axis.x(one.last_out)
    slides.bar(slide, x, top + 0.4, 0.04, 0.5, DAY.ink)
    spare = answer_words.quantity_figure(one.if_nobody_leaves_h)
    if one.lasts_until is not None:  # the hours between the two, as a line with its ends
        left, right = sorted((x, axis.x(one.lasts_until)))
        late = one.lasts_until < one.last_out
        slides.bar(slide, left, top + 0.77, right - left, 0.03, DAY.late if late else DAY.ink)
        slides.bar(slide, right, top + 0.4, 0.03, 0.5, DAY.ink)
    words = f"hatch shut behind the last {clock_words(one.last_out, now)}: {spare} h"
    at = min(x + 0.05, LEFT + ACROSS - 6.0)
    slides.text(slide, [words], at, top + 0.82, 6.0, 0.35, size=13)


def _dive(slides: Slides, made: Picture, answers: Answers) -> None:
    said = answer_words.dive(answers)
    because = f": {said.more}" if said.more else ""
    message = f"{'Dive ' if said.figure == 'YES' else 'No dive ' if said.figure == 'NO' else ''}"
    if not message:
        message = "Whether a dive may begin is not known: "
    series = _waves(made)
    if series is None and not said.known:
        return
    slide = slides.new(f"{message}{said.word}{because}")
    if series is not None:
        hours, lines = series
        slides.line_chart(slide, hours, lines, "significant wave height, m")


def _waves(made: Picture) -> tuple[list[str], dict[str, list[float]]] | None:
    """Return hours, and wave heights at the place of work with the limits that are entered."""
    shown = made.shown("weather")
    value = None if shown is None else hand_on(BY_KEY["weather"], shown)
    if not isinstance(value, WeatherValue) or value.series_at_datum is None:
        return None
    series = value.series_at_datum
    known = [i for i, hs in enumerate(series.hs_m.tolist()) if hs == hs][:96]
    if not known:
        return None
    hours = [f"{from_us(int(series.at_us[i])):%d %H}Z" for i in known]
    lines = {"Hs expected": [round(float(series.hs_m[i]), 2) for i in known]}
    for operation, limit in value.hs_limits_m.items():
        lines[f"limit, {operation}"] = [limit] * len(known)
    return hours, lines


def _response(slides: Slides, made: Picture, answers: Answers) -> None:
    said = answer_words.first_out(answers)
    shown = made.shown("forward_port")
    if not said.known and shown is None:
        return
    slide = slides.new(f"First out {said.figure} {said.word}")
    if shown is not None:
        slides.table(slide, shown.table, 1.45, OPTIONS, size=10)


def _next(slides: Slides, answers: Answers, watch: WatchState) -> None:
    at = answers.moment.at
    said = answer_words.next_decision(answers)
    lines = [event.words(at) for event in (*watch.overdue[:3], *watch.ahead[:4])]
    standing = [each for each in watch.decisions if each.replaced_by is None]
    lines += [f"Decided: {each.entry.value.what}" for each in standing[-3:]]
    lines += [f"Open: {point.entry.value.what}" for point in watch.questions[:3]]
    if not (said.known or lines):
        return
    message = f"Next decision {said.figure}, {said.word}" if said.known else lines[0]
    slide = slides.new(message)
    slides.text(slide, lines or ["Nothing else is due."], LEFT, 1.6, 12.3, 4.2)
