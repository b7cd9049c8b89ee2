"""What matters now, as sentences that could be read out; what is due and what is amiss first."""

from __future__ import annotations

from dashboard.panels import events, health
from dashboard.panels.text import line, panel, words
from dashboard.panels.weather import windows as weather_windows
from dashboard.view import Seen
from layers.catalogue import LAYERS
from layers.contract import Shown

ORDER = ("datum", "survivors", "weather", "tracks", "transponders", "forward_port")


def show(seen: Seen) -> None:
    """Show alarms, what is due, each layer's sentence, and how old it all is."""
    weather_windows.bar(seen)
    watch = events.show(seen)
    events.alarms(seen, watch)
    titles = {layer.key: layer.title for layer in LAYERS}
    parts = []
    for key in ORDER:
        found = seen.picture.layers.get(key)
        if isinstance(found, Shown):
            parts.append(line(words(found.sentence)))
        elif found is not None:
            parts.append(line(words(f"{titles[key]}: {found.reason}", "mp-quiet")))
    panel("".join(f'<div style="margin-bottom:6px">{part}</div>' for part in parts))
    panel(health.lines(seen))
