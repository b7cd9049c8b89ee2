"""What matters now, as sentences that could be read out; what is due and what is amiss first."""

from __future__ import annotations

from dashboard.panels import events, health
from dashboard.panels.text import line, panel, words
from dashboard.panels.weather import windows as weather_windows
from dashboard.tools import need
from dashboard.view import Seen
from layers.catalogue import IN_WORDS
from layers.contract import Shown, Unavailable


def show(seen: Seen) -> None:
    """Show alarms, what is due, each layer's sentence, and how old it all is."""
    weather_windows.bar(seen)
    watch = events.show(seen)
    events.alarms(seen, watch)
    parts = []
    for layer in IN_WORDS:
        found = seen.picture.layers.get(layer.key) if layer.beside_chart else None
        if isinstance(found, Shown):
            parts.append(line(words(found.sentence)))
        elif found is not None:
            parts.append(line(words(f"{layer.title}: {found.reason}", "mp-quiet")))
    lacking = [
        found.reason
        for layer in IN_WORDS
        if layer.beside_chart
        and isinstance(found := seen.picture.layers.get(layer.key), Unavailable)
    ]
    panel("".join(f'<div style="margin-bottom:6px">{part}</div>' for part in parts))
    if lacking:
        need.show(seen, " ".join(lacking), "state")
    panel(health.lines(seen))
