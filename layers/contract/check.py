"""Whether layers can stand beside each other; what clashes is said in a sentence naming both."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from graphlib import CycleError, TopologicalSorter

from layers.contract.layer import Layer
from layers.earth.chart.marks import Style
from layers.earth.errors import InputError
from layers.earth.tells import checked
from layers.journal.kinds import Kind

REPORT = "ABCDEFGHJKLMN"  # the lettered paragraphs of a situation report
_COLOUR = re.compile(r"#[0-9a-f]{6}")
_WORD = re.compile(r"[a-z][a-z0-9_]*")


def check_layers(
    layers: Collection[Layer], others_kinds: Iterable[Kind] = (), taken: Iterable[str] = ()
) -> None:
    """Refuse layers that clash.

    Parameters
    ----------
    layers : collection of Layer
        The catalogue's.
    others_kinds : iterable of Kind
        Kinds of records that no layer owns.
    taken : iterable of str
        Addresses of pages that no layer may own.

    Raises
    ------
    InputError
        The first clash, as one sentence that names both sides.
    """
    _once("the key", ((layer.key, f"layer {layer.title!r}") for layer in layers))
    _once("the page", _pages(layers, taken))
    _once("the style", _styles(layers))
    _once("the kind", _kinds(layers, others_kinds))
    _once(
        "the feed", ((feed.key, f"layer {layer.key!r}") for layer in layers for feed in layer.feeds)
    )
    for layer in layers:
        _check_words(layer, {other.key for other in layers}, set(dict(_pages(layers, taken))))
    _check_circle(layers)


def _once(what: str, named: Iterable[tuple[str, str]]) -> None:
    owners: dict[str, str] = {}
    for name, owner in named:
        if name in owners:
            raise InputError(f"{what} {name!r} is named by {owners[name]} and by {owner}")
        owners[name] = owner


def _pages(layers: Iterable[Layer], taken: Iterable[str]) -> Iterator[tuple[str, str]]:
    for address in taken:
        yield address, "the program itself"
    for layer in layers:
        if (page := layer.own_page) is not None:
            yield page.address, f"layer {layer.key!r}"


def _styles(layers: Iterable[Layer]) -> Iterator[tuple[str, str]]:
    for style in Style:
        yield style.value, "the styles that all layers have"
    for layer in layers:
        for own in layer.styles:
            yield own.name, f"layer {layer.key!r}"


def _kinds(layers: Iterable[Layer], others: Iterable[Kind]) -> Iterator[tuple[str, str]]:
    for kind in others:
        yield kind.name, "the program itself"
    for layer in layers:
        for kind in layer.kinds:
            yield kind.name, f"layer {layer.key!r}"


def _check_words(layer: Layer, keys: Collection[str], pages: Collection[str]) -> None:
    who = f"layer {layer.key!r}"
    if not _WORD.fullmatch(layer.key):
        raise InputError(f"{layer.key!r} is not a key", where=who, accepted="a-z, 0-9 and _")
    checked(layer.tells, who)
    for kind in layer.kinds:
        if kind.release is not None:
            checked(kind.release.tells, f"{who}, kind {kind.name!r}")
    for need in layer.needs:
        if need not in keys:
            raise InputError(f"it needs {need!r}, which is no layer", where=who)
    if layer.address not in pages:
        raise InputError(f"it is shown on the page {layer.address!r}, which nobody owns", where=who)
    if layer.report not in REPORT:
        raise InputError(
            f"{layer.report!r} is no paragraph of a report", where=who, accepted=", ".join(REPORT)
        )
    for own in layer.styles:
        for colour in (own.night, own.day):
            if not _COLOUR.fullmatch(colour):
                raise InputError(f"{colour!r} is not an ink", where=who, accepted="#rrggbb")


def _check_circle(layers: Iterable[Layer]) -> None:
    try:
        TopologicalSorter({layer.key: layer.needs for layer in layers}).prepare()
    except CycleError as circle:
        names = " needs ".join(repr(key) for key in reversed(circle.args[1]))
        raise InputError(f"the needs of layers go in a circle: {names}") from None
