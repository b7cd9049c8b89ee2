"""The picture: what the journal adds up to, as it was known at a stated time.

A pure function of the records up to a place in the journal's order. A layer that fails is
`Unavailable` with its reason; the others stay.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, MutableMapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

from layers.catalogue import BY_KEY, KINDS, LAYERS
from layers.contract import Layer, Moment, Shown, Unavailable
from layers.earth.errors import MusterplotError
from layers.earth.values import HandedOn
from layers.journal.known import Known, Shelf

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Every layer's result at one moment, or why there is none."""

    moment: Moment
    upto_seq: int
    layers: Mapping[str, Shown | Unavailable]

    def shown(self, key: str) -> Shown | None:
        """Return a layer's result, or None when it has none or may not be worked on."""
        found = self.layers.get(key)
        return found if isinstance(found, Shown) and not found.closed else None


def compute_order(keys: Iterable[str] | None = None) -> tuple[str, ...]:
    """Return the layers to compute, each after what it needs; for some keys, only theirs."""
    wanted = set(BY_KEY if keys is None else keys)
    queue = list(wanted)
    while queue:
        for need in BY_KEY[queue.pop()].needs:
            if need in BY_KEY and need not in wanted:
                wanted.add(need)
                queue.append(need)
    graph = {key: {n for n in BY_KEY[key].needs if n in BY_KEY} for key in wanted}
    order = TopologicalSorter(graph).static_order()
    # nothing needs a slow layer, so it can always come last and hold up none
    return tuple(sorted(order, key=lambda key: BY_KEY[key].slow))


def relevant_kinds(layer: Layer) -> tuple[str, ...]:
    """Return the names of the kinds whose records can change a layer's own reading."""
    return (*(kind.name for kind in layer.kinds), *layer.also_reads)


def result_keys(known: Known, moment: Moment) -> dict[str, str]:
    """Return, per layer, the key under which its result holds: equal key, equal result."""
    keys: dict[str, str] = {}
    for name in compute_order():
        layer = BY_KEY[name]
        grain_us = int(layer.grain_s * 1e6)
        parts = [
            name,
            str(layer.version),
            str(known.last_seq(relevant_kinds(layer))),
            str(int(moment.at.timestamp() * 1e6) // grain_us),
            # the same time is told differently as known and as expected
            moment.view.name,
            *(keys[need] for need in layer.needs if need in keys),
        ]
        keys[name] = "(" + " ".join(parts) + ")"
    return keys


def show_layer(
    layer: Layer, known: Known, others: Mapping[str, HandedOn | None], moment: Moment
) -> Shown | Unavailable:
    """Return one layer's result, or why there is none; never raises."""
    try:
        result = layer.compute(known, others, moment)
        return Shown(
            result=result,
            marks=layer.marks(result),
            table=layer.table(result),
            sentence=layer.sentence(result),
            tables=layer.tables(result) if layer.tables else {},
        )
    except MusterplotError as reason:
        return Unavailable(reason=str(reason))
    except Exception as failure:  # a fault in one layer must not take the others down
        log.exception("layer %s failed", layer.key)
        return Unavailable(
            reason=f"{layer.title} could not be computed ({type(failure).__name__}: {failure}); "
            "the records are safe and the other layers stand"
        )


def picture(
    shelf: Shelf,
    moment: Moment,
    upto_seq: int,
    keys: Iterable[str] | None = None,
    kept: MutableMapping[str, Shown | Unavailable] | None = None,
) -> Picture:
    """Return the picture of the records up to ``upto_seq``, shown for ``moment``.

    Parameters
    ----------
    shelf : Shelf
        Where the records are.
    moment : Moment
        The two times.
    upto_seq : int
        The last record recorded by ``moment.as_of``.
    keys : iterable of str, optional
        Only these layers, and what they need.
    kept : mutable mapping, optional
        Results kept under `result_keys`; what is found there is not computed again, what is
        computed is put there.
    """
    known = Known(shelf, KINDS, upto_seq, moment.as_of)
    names = result_keys(known, moment) if kept is not None else {}
    layers: dict[str, Shown | Unavailable] = {}
    handed: dict[str, HandedOn | None] = {}
    for key in compute_order(keys):
        layer = BY_KEY[key]
        found = kept.get(names[key]) if kept is not None else None
        if found is None:
            others = {need: handed.get(need) for need in layer.needs}
            found = show_layer(layer, known, others, moment)
            if kept is not None:
                kept[names[key]] = found
        layers[key] = found
        handed[key] = hand_on(layer, layers[key])
    ordered = {layer.key: layers[layer.key] for layer in LAYERS if layer.key in layers}
    return Picture(moment=moment, upto_seq=upto_seq, layers=ordered)


def hand_on(layer: Layer, shown: Shown | Unavailable) -> HandedOn | None:
    """Return what other layers get of this one, None when it has nothing."""
    if layer.hand is None or isinstance(shown, Unavailable) or shown.closed:
        return None
    return layer.hand(shown.result)
