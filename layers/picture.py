"""The picture: what the journal adds up to, as it was known at a stated time.

A pure function of the records up to a place in the journal's order. A layer that fails is
`Unavailable` with its reason; the others stay.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, MutableMapping
from dataclasses import dataclass, replace
from datetime import timedelta
from graphlib import TopologicalSorter
from typing import Any

from layers.catalogue import BY_KEY, KINDS, LAYERS
from layers.contract import Layer, Moment, Shown, Unavailable, View
from layers.earth.clock import EPOCH
from layers.earth.errors import MusterplotError
from layers.earth.tells import Tells
from layers.earth.values import HandedOn
from layers.journal.known import Known, Shelf
from layers.journal.releases.rules import ReleaseReading

log = logging.getLogger(__name__)

ROUGH = " first look"  # behind a result's key: the rough one that stands until it is there
FIRST = " first"  # behind a layer's key: worked out without those that it uses afterwards


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Every layer's result at one moment, or why there is none."""

    moment: Moment
    upto_seq: int
    layers: Mapping[str, Shown | Unavailable]
    reading: ReleaseReading | None = None  # how a release reads; None for the watch

    def shown(self, key: str) -> Shown | None:
        """Return a layer's result, or None when it has none or may not be worked on."""
        found = self.layers.get(key)
        return found if isinstance(found, Shown) and not found.closed else None

    def owed(self, key: str, *, short: bool = False) -> str:
        """Return why a layer's result is not there though something may be known; else nothing."""
        found = self.layers.get(key)
        if not isinstance(found, Unavailable) or not found.owed:
            return ""
        return found.headline if short else found.reason

    def result(self, key: str) -> Any:
        """Return what a layer worked out, or None where `shown` has none."""
        found = self.shown(key)
        return None if found is None else found.result


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


def prompt_kinds(layer: Layer) -> tuple[str, ...]:
    """Return the names of the kinds whose records a layer takes in at once."""
    return tuple(dict.fromkeys(_prompt(layer.key)))


def _prompt(name: str) -> list[str]:
    layer = layer_of(name)
    found = list(relevant_kinds(layer))
    for need, made in given_to(name).items():
        if need not in layer.patient:
            found += _prompt(made)
    return found


@dataclass(frozen=True, slots=True)
class Stand:
    """What a layer is worked out from: what was known, and for which moment."""

    known: Known
    moment: Moment


def standing(layer: Layer, known: Known, moment: Moment) -> Stand:
    """Return what a layer is worked out from when a moment is asked for.

    Most layers: just that. A patient layer, asked for what was known at a time: the last whole
    step of its grain or its last prompt record, so that the result follows from the journal
    alone, whoever asks first.
    """
    if not layer.patient or moment.view is not View.KNOWN:
        return Stand(known, moment)
    last = known.last_seq(prompt_kinds(layer))
    recorded = known.recorded_at(last)
    step = timedelta(seconds=layer.grain_s)
    at = EPOCH + (moment.at - EPOCH) // step * step
    if recorded is not None:
        at = max(at, recorded)
    if at >= moment.at:
        return Stand(known, moment)
    return Stand(known.as_known_at(at, last), Moment(at, at))


class Keys:
    """The keys under which results hold: equal key, equal result."""

    def __init__(self) -> None:
        self._held: dict[tuple[str, int, Moment], tuple[str, Stand]] = {}

    def of(self, name: str, known: Known, moment: Moment) -> tuple[str, Stand]:
        """Return a layer's key at a moment, and what it is worked out from."""
        asked = (name, known.upto_seq, moment)
        if asked not in self._held:
            layer = layer_of(name)
            stand = standing(layer, known, moment)
            grain_us = int(layer.grain_s * 1e6)
            patient = layer.patient and moment.view is View.KNOWN
            at_us = int(stand.moment.at.timestamp() * 1e6)
            reading = how_read(layer, stand.known)
            parts = [
                name + (f" read as {reading}" if reading else ""),
                str(layer.version),
                str(stand.known.last_seq(relevant_kinds(layer))),
                str(at_us if patient else at_us // grain_us),
                # the same time is told differently as known and as expected
                stand.moment.view.name,
                *((f"apart {told}",) if (told := stand.known.apart.key) else ()),
                *(
                    self.of(made, stand.known, stand.moment)[0]
                    for made in (() if is_withheld(layer, known) else given_to(name).values())
                ),
            ]
            self._held[asked] = ("(" + " ".join(parts) + ")", stand)
        return self._held[asked]


def layer_of(name: str) -> Layer:
    """Return the layer of a name that may say that it is worked out first."""
    return BY_KEY[name.removesuffix(FIRST)]


def given_to(name: str) -> dict[str, str]:
    """Return what a layer is given, by key, and under which name that is worked out.

    What a layer uses afterwards, and what stands below that, gets it as worked out first.
    """
    layer = layer_of(name)
    wanted = layer.needs if name.endswith(FIRST) else (*layer.needs, *layer.afterwards)
    return {
        need: need + FIRST if layer.key in _below(BY_KEY[need].afterwards) else need
        for need in wanted if need in BY_KEY
    }  # fmt: skip


def _below(keys: Iterable[str]) -> set[str]:
    """Return some layers and all that they need."""
    found: set[str] = set()
    queue = [key for key in keys if key in BY_KEY]
    while queue:
        key = queue.pop()
        if key not in found:
            found.add(key)
            queue += [need for need in BY_KEY[key].needs if need in BY_KEY]
    return found


def result_keys(known: Known, moment: Moment) -> dict[str, str]:
    """Return, per layer, the key under which its result holds: equal key, equal result."""
    keys = Keys()
    return {name: keys.of(name, known, moment)[0] for name in compute_order()}


def how_read(layer: Layer, known: Known) -> str:
    """Return the key of how a release reads what a layer reads; empty as the watch does."""
    if known.reading is None:
        return ""
    if layer.blind_to >= {Tells.PERSON} and not known.reading.release.guarded:
        return ""
    return known.reading.digest(relevant_kinds(layer))


def is_withheld(layer: Layer, known: Known) -> bool:
    """Whether a release does not tell a layer, whatever there is of it.

    From the rules alone: a layer that a release cuts something from that it can not do without
    would say false things, for what is cut reads as what has not happened.
    """
    if known.reading is None:
        return False
    if any(known.reading.release.withholds(what) for what in layer.tells):
        return True
    vital = layer.without
    if vital:
        return any(known.reading.gone(kind) for kind in vital)
    return bool(layer.kinds) and all(known.reading.gone(kind.name) for kind in layer.kinds)


def withheld_words(layer: Layer) -> str:
    """Return why a layer is not shown where it is withheld."""
    return f"{layer.title}: withheld here"


def show_layer(
    layer: Layer, known: Known, others: Mapping[str, HandedOn | None], moment: Moment
) -> Shown | Unavailable:
    """Return one layer's result, or why there is none; never raises."""
    return _shown(layer, known, others, moment)


def _shown(
    layer: Layer, known: Known, others: Mapping[str, HandedOn | None], moment: Moment
) -> Shown | Unavailable:
    if is_withheld(layer, known):
        told = layer.told(known, moment) if layer.told is not None else None
        return told or Unavailable(reason=withheld_words(layer), withheld=True)
    shown = _compute(layer, known, others, moment)
    guarded = known.reading is not None and known.reading.release.guarded
    return _unsourced(shown) if guarded and isinstance(shown, Shown) else shown


def _unsourced(shown: Shown) -> Shown:
    """Return a layer without the ids of records: who may not see them could guess them through."""
    return replace(
        shown,
        marks=tuple(replace(mark, source="") for mark in shown.marks),
        table=replace(shown.table, sources=()),
        tables={name: replace(table, sources=()) for name, table in shown.tables.items()},
    )


def _compute(
    layer: Layer, known: Known, others: Mapping[str, HandedOn | None], moment: Moment
) -> Shown | Unavailable:
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
        return Unavailable(reason=reason.words, short=reason.short)
    except Exception as failure:  # a fault in one layer must not take the others down
        log.exception("layer %s failed", layer.key)
        return Unavailable(
            reason=f"{layer.title} could not be computed ({type(failure).__name__}: {failure}); "
            "the records are safe and the other layers stand",
            short=f"{layer.title} could not be computed",
            owed=True,
        )


def picture(
    shelf: Shelf,
    moment: Moment,
    upto_seq: int,
    keys: Iterable[str] | None = None,
    kept: MutableMapping[str, Shown | Unavailable] | None = None,
    first_looks: bool = False,
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
    first_looks : bool
        Put a slow layer's rough result there first, under its key and `ROUGH`.
    """
    making = _Making({} if kept is None else kept, first_looks)
    known = Known(shelf, KINDS, upto_seq, moment.as_of)
    layers = {key: making.result(key, known, moment) for key in compute_order(keys)}
    ordered = {layer.key: layers[layer.key] for layer in LAYERS if layer.key in layers}
    return Picture(moment=moment, upto_seq=upto_seq, layers=ordered, reading=known.reading)


class _Making:
    """One picture being made: every result found, or computed once and kept."""

    def __init__(self, kept: MutableMapping[str, Shown | Unavailable], first_looks: bool) -> None:
        self._kept, self._first_looks = kept, first_looks
        self._keys = Keys()
        self._made: dict[str, Shown | Unavailable] = {}

    def result(self, name: str, known: Known, moment: Moment) -> Shown | Unavailable:
        """Return a layer's result at a moment."""
        key, stand = self._keys.of(name, known, moment)
        if key not in self._made:
            found = self._kept.get(key)
            if found is None:
                layer = layer_of(name)
                others = (
                    {}
                    if is_withheld(layer, stand.known)
                    else dict.fromkeys(layer.needs)
                    | {need: self._handed(made, stand) for need, made in given_to(name).items()}
                )
                if self._first_looks and layer.first_look is not None:
                    quick = replace(layer, compute=layer.first_look)
                    rough = _shown(quick, stand.known, others, stand.moment)
                    if isinstance(rough, Shown):
                        self._kept[key + ROUGH] = rough
                found = self._as_first(name, others, known, moment)
                if found is None:
                    found = show_layer(layer, stand.known, others, stand.moment)
                self._kept[key] = found
            self._made[key] = found
        return self._made[key]

    def _as_first(
        self, name: str, others: Mapping[str, HandedOn | None], known: Known, moment: Moment
    ) -> Shown | Unavailable | None:
        """Return a layer as it was worked out first, where that holds with the others too."""
        layer = layer_of(name)
        if not layer.afterwards or name.endswith(FIRST):
            return None
        first = self.result(name + FIRST, known, moment)
        if isinstance(first, Unavailable):
            return first
        return first if layer.stands is not None and layer.stands(first.result, others) else None

    def _handed(self, name: str, stand: Stand) -> HandedOn | None:
        return hand_on(layer_of(name), self.result(name, stand.known, stand.moment))


def hand_on(layer: Layer, shown: Shown | Unavailable) -> HandedOn | None:
    """Return what other layers get of this one, None when it has nothing."""
    if isinstance(shown, Unavailable) or layer.hand is None:
        return None
    if shown.closed:
        return shown.handed
    return layer.hand(shown.result)
