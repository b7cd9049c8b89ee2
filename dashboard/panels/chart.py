"""The chart: all layers' marks in the frame this viewer chose, and where it was clicked."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard import cache, state
from dashboard.chart.folium_map import Reference
from dashboard.chart.folium_map import show as show_map
from dashboard.chart.land_address import land_address
from dashboard.state import Key
from dashboard.view import Seen, chart_frame, reference
from layers.contract import Shown
from layers.earth.land import ATTRIBUTION
from layers.earth.marks import AnyMark, GridMark, Style
from layers.earth.position import Position
from layers.scene.browser import Base
from layers.scene.scene import scene

HEIGHT_PX = 600  # the style sheet stretches it to what the screen has
CAUTION = "Not for navigation. A datum is not a fix."


def show(seen: Seen, extra: Iterable[AnyMark] = (), *, key: str = "chart") -> Position | None:
    """Draw the chart; return a place that was newly clicked."""
    frame = chart_frame(seen)
    hidden = set(state.get(Key.HIDDEN))
    marks = [
        (name, mark)
        for name, shown in seen.picture.layers.items()
        if isinstance(shown, Shown) and name not in hidden
        for mark in shown.marks
        if _wanted(mark)
    ]
    marks += [("measure", mark) for mark in extra]
    base = Base(
        frame=frame,
        ink=seen.ink,
        land_address=land_address(cache.land(), frame),
        attribution=f"{CAUTION} {ATTRIBUTION}",
        served=True,
        view_key=f"{key} {frame.centre} {frame.half_width_m:.0f}",
    )
    found = reference(seen.picture)
    clicked = show_map(
        base,
        scene(marks, frame),
        key=key,
        height_px=HEIGHT_PX,
        reference=Reference(*found) if found else None,
        follows=f"{seen.moment.at:%H%M}" if seen.follows_now else "",
    )
    if clicked is None or clicked == state.get(Key.LAST_CLICK):
        return None
    state.put(Key.LAST_CLICK, clicked)
    latitude, longitude = frame.unproject([clicked[0]], [clicked[1]])
    if latitude[0] != latitude[0]:  # NaN: a click outside the earth
        return None
    return Position(float(latitude[0]), float(longitude[0]))


def _wanted(mark: AnyMark) -> bool:
    """Whether a mark is drawn: fields of weather and sound shade the sea only when asked for."""
    field = isinstance(mark, GridMark) and mark.style is not Style.PROBABILITY
    return bool(state.get(Key.SHADED)) or not field
