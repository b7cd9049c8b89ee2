"""A stand-alone HTML map: the scene in metres with Leaflet inside, no request made."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import Any

from xstatic.pkg import leaflet

from layers.scene.release import Stamp

LEAFLET = Path(leaflet.BASE_DIR)


def page(
    spec: Mapping[str, Any], features: Mapping[str, Any], scripts: tuple[str, ...], stamp: Stamp
) -> str:
    """Return one HTML file that opens with no network.

    Parameters
    ----------
    spec : mapping
        The base: frame, colours, glyphs, attribution; the land inside as ``land_url`` of data.
    features : mapping
        The marks as GeoJSON in metres of the frame.
    scripts : tuple of str
        The chart's own scripts, in order.
    stamp : Stamp
        The words on top.

    Notes
    -----
    Everything that comes from a record is JSON inside a script, with ``<`` written as an escape,
    so that no label can end the script; the chart's script sets it as text.
    """
    css = (LEAFLET / "leaflet.css").read_text()
    code = [(LEAFLET / "leaflet.js").read_text(), *scripts]
    head = "  ·  ".join(stamp.lines())
    policy = (
        "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; "
        "img-src data:; connect-src data:"
    )
    return "\n".join(
        [
            "<!DOCTYPE html>",
            f'<html lang="en"><head><meta charset="utf-8"><title>{escape(stamp.title)}</title>',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            f"<style>{css}</style>",
            "<style>body{margin:0}#head{position:absolute;z-index:1200;left:0;right:0;top:0;"
            "font:15px system-ui,sans-serif;padding:3px 8px;pointer-events:none}"
            ".leaflet-top{margin-top:var(--head,0)}</style>",  # north and width stand under it
            "</head><body>",
            f'<div id="head">{escape(head)}</div><div id="root"><div id="parent">'
            '<div class="float-child"><div id="map_div"></div></div></div></div>',
            *(f"<script>{_safe_code(part)}</script>" for part in code),
            "<script>",
            f"const spec = {_json(spec)};",
            f"const data = {_json(features)};",
            'const map = L.map("map_div", {crs: L.CRS.Simple, minZoom: -15, maxZoom: 4,'
            " zoomSnap: 0.25, zoomDelta: 0.5});",
            "map.setView([0, 0], -7);",
            "musterplot.start(map, spec);",
            "musterplot.begin(null);",
            "musterplot.features = data.features;",  # the small chart of the seabed draws them too
            "L.geoJSON(data, {onEachFeature: musterplot.each, pointToLayer: musterplot.point,"
            " style: musterplot.style}).addTo(map);",
            "musterplot.end();",
            "const head = document.getElementById('head');",
            "Object.assign(head.style, {color: spec.ink.ink, background: spec.ink.panel});",
            "const under = () =>"
            " document.body.style.setProperty('--head', head.offsetHeight + 'px');",
            "addEventListener('resize', under); under();",
            "</script></body></html>",
        ]
    )


def land_data(text: str) -> str:
    """Return the land's JSON as a data address."""
    return "data:application/json;base64," + b64encode(text.encode()).decode()


def _json(value: object) -> str:
    text = json.dumps(value, separators=(",", ":"), ensure_ascii=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _safe_code(text: str) -> str:
    """Return a script that cannot end its own element."""
    return text.replace("</script", "<\\/script")
