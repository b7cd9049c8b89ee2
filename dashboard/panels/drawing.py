"""What Vega-Lite drawings share: the ink of the page, letters that can be read, time in UTC."""

from __future__ import annotations

from typing import Any

from layers.scene.ink import Ink

Spec = dict[str, Any]
FONT = 14
UTC_TIME = {"type": "temporal", "scale": {"type": "utc"}}
CLOCK = "%d%H%MZ"  # a time on an axis, spelt as everywhere: 160600Z


def dressed(spec: Spec, ink: Ink) -> Spec:
    """Return a drawing in the ink of the page, no letter under 13 px."""
    words = {"labelColor": ink.ink, "titleColor": ink.ink, "labelFontSize": FONT}
    return {
        **spec,
        "background": ink.panel,
        "padding": {"left": 6, "right": 10, "top": 6, "bottom": 6},
        "config": {
            "font": "Source Sans",  # the page's own letters
            "view": {"stroke": ink.line},
            "axis": {
                **words,
                "titleFontSize": FONT,
                "gridColor": ink.line,
                "domainColor": ink.quiet,
                "tickColor": ink.quiet,
            },
            "title": {"color": ink.ink, "fontSize": FONT + 1, "anchor": "start"},
            "text": {"color": ink.ink, "fontSize": FONT},
            "legend": {**words, "titleFontSize": FONT},
        },
    }
