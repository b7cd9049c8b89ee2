"""Where the browser finds Leaflet and the chart's own script: on this server, nowhere else.

Streamlit serves the folders of declared components. The addresses are relative to the map's
own frame, which is a component too, so they hold at the root, under a base path and behind a
proxy. Nothing operational is served this way: the files answer to any origin.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import streamlit
import streamlit.components.v1 as components
from xstatic.pkg import leaflet

from layers.scene.browser import SCRIPTS


def _address(name: str, folder: Path, file: str) -> str:
    # the digest makes a browser fetch a changed file and keep an unchanged one
    digest = hashlib.sha256((folder / file).read_bytes()).hexdigest()[:12]
    return f"../{__name__}.{name}/{file}?{digest}"


_leaflet_folder = Path(leaflet.BASE_DIR)
components.declare_component("leaflet", path=str(_leaflet_folder))
components.declare_component("own", path=str(SCRIPTS))

LEAFLET_JS = _address("leaflet", _leaflet_folder, "leaflet.js")
LEAFLET_CSS = _address("leaflet", _leaflet_folder, "leaflet.css")
PROJECTIONS_JS = _address("own", SCRIPTS, "projections.js")
CHART_JS = _address("own", SCRIPTS, "chart.js")


def _font() -> str:
    """Return the address of the letter family that the page framework brings, empty without it."""
    media = Path(streamlit.__file__).parent / "static" / "static" / "media"
    found = sorted(media.glob("SourceSansVF-Upright*.woff2"))
    return f"../../static/media/{found[0].name}" if found else ""


FONT = _font()
