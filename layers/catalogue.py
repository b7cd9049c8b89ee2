"""The layers, in drawing order from below to above, and every kind of record there is."""

from __future__ import annotations

from collections.abc import Iterable

from layers import datum, forward_port, kept_clear, survivors, tracks, transponders, watch, weather
from layers.contract import Feed, Layer, OwnStyle, Page
from layers.contract.check import check_layers
from layers.journal.kinds import OPINIONS, Kind
from layers.journal.known import Known
from layers.watch.closing import asking_first

LAYERS: tuple[Layer, ...] = (
    weather.LAYER,
    datum.LAYER,
    transponders.LAYER,
    forward_port.LAYER,
    tracks.LAYER,
    kept_clear.LAYER,
    survivors.LAYER,
    survivors.MARGIN,
)
BY_KEY: dict[str, Layer] = {layer.key: layer for layer in LAYERS}

UNFINISHED = tuple(  # people first
    layer.unfinished for layer in reversed(LAYERS) if layer.unfinished is not None
)
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        *OPINIONS,
        *asking_first(watch.KINDS, UNFINISHED),
        *(kind for layer in LAYERS for kind in layer.kinds),
    )
}
FEEDS: tuple[Feed, ...] = tuple(feed for layer in LAYERS for feed in layer.feeds)
OWN_STYLES: tuple[OwnStyle, ...] = tuple(style for layer in LAYERS for style in layer.styles)
IN_WORDS: tuple[Layer, ...] = tuple(sorted(LAYERS, key=lambda layer: layer.rank))
PAGES: tuple[Page, ...] = tuple(
    sorted(
        (page for layer in LAYERS if (page := layer.own_page) is not None),
        key=lambda page: page.rank,
    )
)


def unfinished(known: Known) -> tuple[str, ...]:
    """Return what of any layer speaks against calling the operation over, in words."""
    return tuple(words for one in UNFINISHED for words in one(known))


def check(taken: Iterable[str] = ()) -> None:
    """Refuse a catalogue in which two layers clash, or one clashes with the pages ``taken``."""
    check_layers(LAYERS, (*OPINIONS, *watch.KINDS), taken)


def table_of_layers() -> str:
    """Return the layers as a table: key, title, page, and what each needs of others."""
    rows = [("key", "title", "page", "needs", "feeds", "kinds")]
    rows += [
        (layer.key, layer.title, f"/{layer.address}", " ".join(layer.needs),
         str(len(layer.feeds)), str(len(layer.kinds)))
        for layer in LAYERS
    ]  # fmt: skip
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join(
        f"| {' | '.join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))} |"
        for row in rows
    )
