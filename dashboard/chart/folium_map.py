"""From a scene to the folium plot: one base that never changes, one live group that does.

The base holds the frame and the furniture; it is remounted only when the frame or the ink
changes. The live group says where the land and each layer's marks are; the browser fetches those
that changed and then draws all in one step, with no blank between; pan and zoom are kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import folium
from branca.element import Element, Figure, MacroElement
from jinja2 import Template
from streamlit_folium import st_folium

from dashboard.chart.addresses import CHART_JS, LEAFLET_CSS, LEAFLET_JS, PROJECTIONS_JS
from layers.scene.browser import ChartBase

ZOOM_OUT, ZOOM_IN = -15, 4  # pixels a metre as powers of two: 32 km to 6 cm a pixel

# compiled once: compiling takes as long as filling in
_START = Template(
    "{% macro script(this, kwargs) %}"
    "musterplot.start({{ this._parent.get_name() }}, {{ this.spec | tojson }});"
    "{% endmacro %}"
)
_CALL = Template(
    "{% macro script(this, kwargs) %}"
    "musterplot.{{ this._name }}({{ this.told | tojson }});"
    "{% endmacro %}"
)


class _Start(MacroElement):
    """Calls the browser's chart with the base's spec."""

    def __init__(self, spec: Mapping[str, Any]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]  # folium has no types
        self._name = "start"
        self.spec = spec
        self._template = _START


class _Call(MacroElement):
    """Calls one function of the browser's chart."""

    def __init__(self, name: str, told: Mapping[str, Any] | None = None) -> None:
        super().__init__()  # type: ignore[no-untyped-call]  # folium has no types
        self._name = name
        self.told = told
        self._template = _CALL


class _Style(Element):
    """Lets the plot fill its frame, in the letters of the page."""

    _template = Template(
        "<style>#map_div { position: relative; width: 100%; height: 100%; }"
        "html, body { width: 100%; height: 100%; margin: 0; padding: 0; }"
        ".leaflet-container { font-size: 1rem; }</style>"
    )


class _Scripted(Element):
    """Is never rendered as a page: `st_folium` takes the script from the templates themselves.

    A page would compile a dozen templates anew for every viewer and every record, and be thrown
    away.
    """

    def render(self, **_kwargs: Any) -> str:
        """Leave out the page."""
        return ""


class _Marks(_Scripted, folium.FeatureGroup):
    """The group that holds where all marks are."""


class _Chart(_Scripted, folium.Map):
    """A folium map in metres with no tiles, whose script and style come from this server."""

    default_js = [  # noqa: RUF012  folium's own attribute, replaced whole
        ("leaflet", LEAFLET_JS),
        ("projections", PROJECTIONS_JS),
        ("chart", CHART_JS),
    ]
    default_css = [("leaflet_css", LEAFLET_CSS)]  # noqa: RUF012  the same


def chart(base: ChartBase) -> folium.Map:
    """Return a new folium map of the base; one object must not be rendered twice."""
    plot = _Chart(location=(0, 0), zoom_start=-7, tiles=None, crs="Simple", prefer_canvas=False)
    plot.options.update(
        min_zoom=ZOOM_OUT,
        max_zoom=ZOOM_IN,
        zoom_snap=0.25,
        zoom_delta=0.5,
        wheel_px_per_zoom_level=90,
    )
    figure = plot.get_root()
    assert isinstance(figure, Figure)  # folium puts every map in one
    figure.header.add_child(_Style())
    plot.add_child(_Start(base.spec()))
    return plot


def live_group(told: Mapping[str, Any]) -> folium.FeatureGroup:
    """Return where all marks are, as one feature group.

    Parameters
    ----------
    told : mapping
        ``parts``, the addresses of the layers' marks; ``land``, that of the coastline, empty
        until it is cut; ``follows``, the minute shown by a viewer who follows now: the group then
        changes at least once a minute, and the browser can tell when no update comes any more;
        ``lat``, ``lon``, ``name`` of the place that the cursor's range and bearing are told from.
        Where newer marks may take their place without a run: ``view``, ``layers`` and ``v``.
    """
    group = _Marks(name="marks")
    group.add_child(_Call("show", told))
    return group


def show(
    base: ChartBase, told: Mapping[str, Any], *, key: str, height_px: int
) -> tuple[float, float] | None:
    """Draw the plot; return the last clicked place in metres of the frame, x then y."""
    answer = st_folium(
        chart(base),
        key=key,
        height=height_px,
        width=None,
        returned_objects=["last_clicked"],
        feature_group_to_add=live_group(told),
    )
    clicked = (answer or {}).get("last_clicked")
    return (clicked["lng"], clicked["lat"]) if clicked else None
