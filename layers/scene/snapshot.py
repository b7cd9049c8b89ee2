"""A snapshot: one picture, one frame, one release, in any format that goes out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from layers.answer_words import four
from layers.answers import Answers, inputs
from layers.catalogue import BY_KEY, IN_WORDS
from layers.contract import Shown
from layers.earth.block import middle_of
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.clock import clock_words, duration_words
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.shore.land import ATTRIBUTION, Land
from layers.earth.values import DatumValue
from layers.picture import Picture, hand_on
from layers.scene.browser import SCRIPTS, ChartBase, feature_collection
from layers.scene.drawn import is_drawn, is_quiet
from layers.scene.geojson import geojson
from layers.scene.ink import Ink
from layers.scene.kml import gpx, kml
from layers.scene.land_metres import land_text
from layers.scene.page import land_data, page
from layers.scene.release import CAUTION, Release, Stamp, checked, marks_for
from layers.scene.scene import Scene, ids_in, scene
from layers.scene.spread import rows_csv

FORMATS = ("png", "pdf", "svg", "html", "geojson", "kml", "gpx", "csv")
DATA = ("geojson", "kml", "gpx", "csv")
# two thirds of a slide's room, 12.3 by 4.45 inches: letters stand there half as large again
SLIDE_IN, SLIDE_DPI = (8.2, 2.97), 220
WITHHELD = "The exact position of the DISSUB is withheld from this sheet."


@dataclass(frozen=True, slots=True)
class About:
    """The journal behind a snapshot: the exercise's name or "", its last record, its head.

    ``number`` counts the exports of a release that withholds, by themselves.
    """

    exercise: str
    head_seq: int
    head_hash: str
    number: int | None = None


@dataclass(frozen=True, slots=True)
class MadeFile:
    """What was made, and in which frame."""

    content: bytes
    frame: ChartFrame


def snapshot(
    made: Picture,
    form: str,
    *,
    answers: Answers,
    about: About,
    ink: Ink,
    land: Land | None,
    release: Release,
    frame: ChartFrame | None = None,
    frame_name: FrameName | None = None,
    half_width_m: float = 25_000.0,
    marking: str = "",
    hidden: tuple[str, ...] = (),
    shaded: bool = False,
    every_mark: bool = False,
    numbers: Callable[[set[str]], Mapping[str, int]] | None = None,
    for_slide: bool = False,
) -> MadeFile:
    """Return the picture in one format.

    Parameters
    ----------
    made : Picture
        What is known.
    form : str
        One of `FORMATS`.
    answers : Answers
        Of that picture: four of them stand on a sheet with their ages.
    frame : ChartFrame, optional
        Else a frame about the datum.
    shaded : bool
        Draw the fields of weather and sound too, on sheets and on the map.
    every_mark : bool
        Draw also the old evidence that gives way while a fix holds.
    numbers : callable, optional
        Gives the numbers that the log has for records, by their ids, to be cited; asked for only
        where the release withholds nothing.
    for_slide : bool
        A picture as wide as a slide, its letters large: the chart and its legend alone, for the
        slide has the words itself.

    Raises
    ------
    InputError
        There is no datum to centre on and no frame was given.
    """
    checked(made, release)
    if frame is None:
        frame = frame_for(datum_of(made), frame_name, half_width_m)
    stamp = Stamp(
        title="Plot",
        exercise=about.exercise,
        moment=made.moment,
        head_seq=about.head_seq,
        head_hash=about.head_hash,
        marking=marking,
        releasable_to=release.to,
        attribution=ATTRIBUTION,
        release=release,
        number=about.number,
    )
    marks = tuple(marks_for(made, release, hidden))
    if form in DATA:  # the sea's tints are ground, thousands of cells of it
        marks = tuple((key, mark) for key, mark in marks if not getattr(mark, "edges", ()))
    cited: Mapping[str, int] = {}
    if numbers is not None and not release.guarded and form in ("kml", "html"):
        cited = numbers(ids_in(mark for _, mark in marks))
    if form == "geojson":
        return MadeFile(geojson(marks, stamp).encode(), frame)
    if form == "kml":
        return MadeFile(kml(marks, stamp, ink, cited).encode(), frame)
    if form == "gpx":
        return MadeFile(gpx(marks, stamp).encode(), frame)
    if form == "csv":
        return MadeFile(rows_csv(marks, stamp).encode("utf-8-sig"), frame)
    seen = [
        (layer, mark)
        for layer, mark in marks
        if is_drawn(mark, shaded=shaded) and (every_mark or not is_quiet(made, layer, mark))
    ]
    if form == "html":
        return MadeFile(_map(scene(seen, frame, cited), ink, land, stamp).encode(), frame)
    if form not in ("png", "pdf", "svg"):
        raise InputError(f"{form!r} is not a format", accepted=", ".join(FORMATS))
    from layers.scene.paper.sheet import A4_DPI, A4_LANDSCAPE_IN, PaperFormat, draw
    from layers.scene.paper.words import Sheet

    sheet = Sheet(stamp=stamp, notes=_notes(made, release), ages=_ages(made), answers=four(answers))
    paper: PaperFormat = "png" if form == "png" else "pdf" if form == "pdf" else "svg"
    size, dpi = (SLIDE_IN, SLIDE_DPI) if for_slide else (A4_LANDSCAPE_IN, A4_DPI)
    drawn = draw(
        scene(seen, frame), sheet, ink, land, paper, size_in=size, dpi=dpi, alone=for_slide
    )
    return MadeFile(drawn, frame)


def _map(drawn: Scene, ink: Ink, land: Land | None, stamp: Stamp) -> str:
    ready = land is not None and land.ready()
    address = land_data(land_text(land, drawn.frame)) if land is not None and ready else ""
    words = f"{stamp.banner} {CAUTION} {ATTRIBUTION}".strip()
    base = ChartBase(frame=drawn.frame, ink=ink, land_address=address, attribution=words)
    scripts = tuple((SCRIPTS / name).read_text() for name in ("projections.js", "chart.js"))
    return page(base.spec(), feature_collection(drawn, ink), scripts, stamp)


def datum_of(made: Picture) -> Position:
    """Return where the DISSUB most probably is; the middle of the block that is told of her.

    Raises
    ------
    InputError
        Neither is known to who reads here.
    """
    shown = made.layers.get("datum")
    value = None if shown is None else hand_on(BY_KEY["datum"], shown)
    if not isinstance(value, DatumValue):
        raise InputError(
            "there is no datum to centre the chart on", accepted="a centre: --centre POSITION"
        )
    return middle_of(value.where)


def _notes(made: Picture, release: Release) -> tuple[str, ...]:
    notes = [WITHHELD] if not release.exact_position else []
    for layer in IN_WORDS:
        shown = made.layers.get(layer.key)
        if isinstance(shown, Shown):
            notes.append(shown.sentence)
    return tuple(notes)


def _ages(made: Picture) -> tuple[str, ...]:
    """Return when each reading was true that the sheet rests on, and its age, oldest first."""
    at = made.moment.at
    return tuple(
        f"{one.what}: {clock_words(one.at, at)}, {duration_words(one.age(at))} old"
        for one in inputs(made)
        if one.at <= at
    )
