"""The seabed about her in three dimensions, to be turned and looked at from any side.

Drawn by pydeck in an orbit view: metres, no map, nothing fetched. Never the only place for a
fact: what it shows stands in the chart and in the tables of this page.
"""

from __future__ import annotations

import math

import pydeck as pdk
import streamlit as st

from dashboard.panels.text import panel, words
from dashboard.panels.transponders.labels import apart
from dashboard.panels.transponders.solid import Solid, solid
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words
from layers.transponders.result import Result

HEIGHT_PX = 362  # with what stands over and under it less than a screen of 768, in both inks
LOW_PX = 190  # while something folded is open: it begins in the first screen
HALF_PX = 0.52 * HEIGHT_PX
VIEWS = ("from above", "along her", "from the south", "from the side")
HEIGHTS = {"heights 1:1": 1.0, "heights 3:1": 3.0}


@st.fragment
def show(seen: Seen) -> None:
    """Show the scene, with the buttons that turn it; a fragment, the page stays as it is."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    left, right = st.columns((3, 1), gap="small")
    side = left.segmented_control(
        "Look", VIEWS, default="from the side", key="seabed.view", label_visibility="collapsed"
    )
    tall = right.segmented_control(
        "Heights", tuple(HEIGHTS), default="heights 1:1", key="seabed.heights",
        label_visibility="collapsed",
    )  # fmt: skip
    tracks, weather = seen.picture.shown("tracks"), seen.picture.shown("weather")
    made = solid(
        result,
        () if tracks is None else tracks.result.ships,
        None if weather is None else weather.result.ahead,
        seen.ink,
        HEIGHTS[tall or "heights 1:1"],
    )
    if made is None:
        need.said(seen, "Nothing lies down there yet: a fix of the DISSUB or a transponder dropped "
                  "would be shown here.", "solid", "transponders.drop")  # fmt: skip
        return
    st.pydeck_chart(deck(made, side or "from the side", HEIGHTS[tall or "heights 1:1"]),
                    height=LOW_PX if st.session_state.get("seabed.more") else HEIGHT_PX,
                    key=f"seabed.deck.{side}.{tall}")  # fmt: skip
    said = "; ".join(("Drag to turn, wheel to come nearer", tall or "heights 1:1", *made.said))
    panel(words(f"{said}. As of {clock_words(result.at, seen.moment.at)}.", "mp-quiet"))


def deck(made: Solid, side: str, heights: float) -> pdk.Deck:
    """Return the drawing of a scene from one side."""
    layers = [
        pdk.Layer(
            "PolygonLayer",
            list(made.quads),
            id="ground",
            get_polygon="corners",
            get_fill_color="fill",
            get_line_color="edge",
            line_width_min_pixels=1,
            stroked=True,
            filled=True,
            _full3d=True,
            pickable=False,
        ),
        pdk.Layer(
            "LineLayer",
            list(made.lines),
            id="lines",
            get_source_position="start",
            get_target_position="end",
            get_color="colour",
            get_width="width",
        ),
        pdk.Layer(
            "PointCloudLayer",
            list(made.points),
            id="points",
            get_position="at",
            get_color="colour",
            point_size=6,
            size_units="'pixels'",
        ),
        pdk.Layer(
            "TextLayer",
            apart(made.texts, *_from(made, side), HALF_PX / made.reach_m),
            id="names",
            get_position="at",
            get_text="text",
            get_color="colour",
            get_size="size",
            get_text_anchor="anchor",
            get_pixel_offset="offset",
            font_family="'Source Sans, sans-serif'",
            character_set="'auto'",
            billboard=True,
        ),
    ]
    return pdk.Deck(
        layers,
        views=[pdk.View(type="OrbitView", controller=True, orbit_axis="Z")],
        initial_view_state=_view(made, side, heights),
        map_provider=None,
        map_style=None,
        tooltip=False,
    )


def _from(made: Solid, side: str) -> tuple[float, float]:
    """Return how a view is tilted from the level and turned about the up, degrees."""
    return {
        "from above": (89.0, 0.0),
        "along her": (18.0, made.heading_true_deg or 0.0),
        "from the south": (25.0, 0.0),
        "from the side": (35.0, 30.0),
    }[side]


def _view(made: Solid, side: str, heights: float) -> pdk.ViewState:
    """Return where one looks from; the deck turns the scene by ``rotation_orbit`` about the up."""
    tilt, turn = _from(made, side)
    return pdk.ViewState(
        target=[0.0, 0.0, -0.6 * made.depth_m * heights],
        rotation_x=tilt,
        rotation_orbit=turn,
        zoom=math.log2(HALF_PX / made.reach_m),
    )
