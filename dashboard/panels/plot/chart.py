"""The chart: all layers' marks in the frame this viewer chose, and where it was clicked."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from dashboard import state
from dashboard.cache import opened
from dashboard.chart.addresses import FONT
from dashboard.chart.chart_view import ChartView, drawn_marks
from dashboard.chart.folium_map import show as show_map
from dashboard.chart.held_frame import held_frame
from dashboard.chart.land_address import land_address
from dashboard.chart.marks_address import marks_address
from dashboard.chart.shared import packed_glyphs, shared
from dashboard.door.letters import other_ranges
from dashboard.live import changes
from dashboard.live.place import place
from dashboard.panels.plot import nowhere
from dashboard.state import DEFAULTS, Key
from dashboard.tools import heard
from dashboard.view import Seen, chart_frame
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.chart.marks import AnyMark, PointMark
from layers.earth.position import Position
from layers.earth.shore.land import ATTRIBUTION
from layers.scene.browser import ChartBase
from layers.scene.release import CAUTION

HEIGHT_PX = 600  # the style sheet stretches it to what the screen has


def show(
    seen: Seen,
    extra: Iterable[AnyMark] = (),
    *,
    key: str = "chart",
    wall: bool = False,
    every_mark: bool = False,
    only: Collection[str] = (),
    about: Position | None = None,
    reach_m: float = 0.0,
    half_m: float = 0.0,
) -> Position | None:
    """Draw the chart, for the wall with large letters; return a place that was newly clicked.

    With ``every_mark`` the evidence that led to a fix is drawn beside it, however old; with
    ``only`` the marks of these layers and no others. ``about`` is what the page is about: the
    chart lies round it, ``reach_m`` each way at least, until the viewer chooses a centre.
    ``half_m`` is the reach of a page that shows the work, until the viewer chooses one.
    """
    read_back = () if wall else heard.marks(seen.picture.upto_seq)
    frame = _frame(seen, read_back)
    if about is not None and not state.get(Key.CENTRE):
        wide_m = max(float(state.get(Key.HALF_WIDTH)), reach_m)
        wanted = frame_for(about, FrameName(state.get(Key.FRAME)), wide_m)
        frame = held_frame(seen, key, wanted)
    unchosen = state.get(Key.HALF_WIDTH) == DEFAULTS[Key.HALF_WIDTH] and not state.get(Key.CENTRE)
    if half_m and seen.about is not None and unchosen:
        wanted = frame_for(seen.about, FrameName(state.get(Key.FRAME)), half_m)
        frame = held_frame(seen, key, wanted)
    view = ChartView(
        frame=frame,
        hidden=tuple(state.get(Key.HIDDEN)),
        only=tuple(only),
        shaded=bool(state.get(Key.SHADED)),
        every_mark=every_mark or bool(state.get(Key.EVERY_MARK)),
    )
    drawn = drawn_marks(seen, view)
    layers, own = drawn.names(), [*extra, *read_back]
    packed = list(drawn.layers.values())
    if own:  # of this viewer alone
        layers.append(("measure", "own"))
        packed.append(shared().part("measure", own, frame, seen.ink))
    told = {
        **drawn.told,
        "parts": [
            marks_address(name, held) for (name, _), held in zip(layers, packed, strict=True)
        ],
        "land": land_address(opened.land(), frame),
        **changes.chart(seen, view, drawn, layers),
    }
    base = ChartBase(
        frame=frame,
        ink=seen.ink,
        attribution=f"{CAUTION} {ATTRIBUTION}",
        served=True,
        wall=wall,
        widens=not wall and state.get(Key.HALF_WIDTH) == DEFAULTS[Key.HALF_WIDTH],
        font_address=FONT,
        whole_font=(f"{FONT}?whole", other_ranges()) if FONT else ("", ""),
        glyphs_address=marks_address("glyphs", packed_glyphs()),
        view_key=f"{key} {frame.centre} {frame.half_width_m:.0f}",
    )
    clicked = show_map(base, told, key=key, height_px=HEIGHT_PX)
    if seen.about is None and not own and not state.get(Key.CENTRE):
        # the chart is there and loaded, so that the first place shows at once
        place(nowhere.PART, seen, nowhere.html(seen))
    if clicked is None or clicked == state.get(Key.LAST_CLICK):
        return None
    state.put(Key.LAST_CLICK, clicked)
    latitude, longitude = frame.unproject([clicked[0]], [clicked[1]])
    if latitude[0] != latitude[0]:  # NaN: a click outside the earth
        return None
    return Position(float(latitude[0]), float(longitude[0]))


def _frame(seen: Seen, read_back: Iterable[AnyMark]) -> ChartFrame:
    """Return the frame asked for; on an empty plot, that of the first place that is read back."""
    places = [mark.position for mark in read_back if isinstance(mark, PointMark)]
    if seen.about is None and places and not state.get(Key.CENTRE):
        name = FrameName(state.get(Key.FRAME))
        return frame_for(places[0], name, state.get(Key.HALF_WIDTH))
    return chart_frame(seen)
