"""The layers, in drawing order from below to above, and every kind of record there is."""

from __future__ import annotations

from importlib import import_module

from layers.contract import Feed, Layer
from layers.journal.kinds import OPINIONS, Kind


def _built() -> tuple[Layer, ...]:
    names = ("weather", "datum", "transponders", "forward_port", "tracks", "survivors")
    found = []
    for name in names:
        module = import_module(f"layers.{name}")
        if hasattr(module, "LAYER"):
            found.append(module.LAYER)
    return tuple(found)


LAYERS: tuple[Layer, ...] = _built()
BY_KEY: dict[str, Layer] = {layer.key: layer for layer in LAYERS}

_watch = import_module("layers.watch")
WATCH_KINDS: tuple[Kind, ...] = getattr(_watch, "KINDS", ())

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        *OPINIONS,
        *WATCH_KINDS,
        *(kind for layer in LAYERS for kind in layer.kinds),
    )
}
FEEDS: tuple[Feed, ...] = tuple(feed for layer in LAYERS for feed in layer.feeds)
