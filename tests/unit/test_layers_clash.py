"""Layers that cannot stand beside each other are refused in a sentence that names both."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from layers.catalogue import BY_KEY, LAYERS
from layers.contract import Layer, OwnStyle, Page
from layers.contract.check import check_layers
from layers.earth.chart.marks import Symbol
from layers.earth.errors import InputError

STYLE = OwnStyle(name="ice", word="ice", symbol=Symbol.TRIANGLE, night="#a8d8e8", day="#2d5f73")


def layer(key: str = "ice", **more: Any) -> Layer:
    plain: dict[str, Any] = {"key": key, "title": key.title(), "kinds": (), "feeds": (),
                             "needs": (), "page": None, "answers": {}, "told": None}  # fmt: skip
    return replace(BY_KEY["tracks"], **(plain | more))


def refused(*layers: Layer) -> str:
    with pytest.raises(InputError) as caught:
        check_layers([*LAYERS, *layers])
    return str(caught.value)


def test_the_layers_there_are_and_one_more_can_stand() -> None:
    check_layers([*LAYERS, layer(styles=(STYLE,))])


def test_a_page_that_is_owned_twice() -> None:
    said = refused(layer(page=Page(address="weather", title="Ice")))
    assert said == "the page 'weather' is named by layer 'weather' and by layer 'ice'"


def test_a_page_of_the_programs_own() -> None:
    with pytest.raises(InputError, match="'log' is named by the program itself and by layer 'ice'"):
        check_layers([layer(page=Page(address="log", title="Ice"))], taken=["log"])


def test_a_style_that_exists() -> None:
    said = refused(layer(styles=(replace(STYLE, name="ship"),)))
    assert "'ship'" in said
    assert "layer 'ice'" in said
    twice = refused(layer(styles=(STYLE,)), layer("snow", styles=(STYLE,)))
    assert "layer 'ice'" in twice
    assert "layer 'snow'" in twice


def test_an_ink_that_is_none() -> None:
    assert "'blue' is not an ink" in refused(layer(styles=(replace(STYLE, night="blue"),)))


def test_a_privacy_word_that_nobody_knows() -> None:
    said = refused(layer(tells=frozenset({"secret"})))
    assert said.startswith("layer 'ice': 'secret' is not a privacy word")
    assert "position, medical, person" in said


def test_needs_that_go_in_a_circle() -> None:
    said = refused(layer("ice", needs=("snow",)), layer("snow", needs=("ice",)))
    assert "go in a circle" in said
    assert "'ice'" in said
    assert "'snow'" in said


def test_a_need_that_is_no_layer_and_a_page_that_nobody_owns() -> None:
    assert "needs 'fog', which is no layer" in refused(layer(needs=("fog",)))
    assert "'nowhere', which nobody owns" in refused(layer(page="nowhere"))


def test_a_key_a_kind_and_a_feed_named_twice() -> None:
    tracks = BY_KEY["tracks"]
    assert "the key 'tracks'" in refused(layer("tracks"))
    assert f"the kind {tracks.kinds[0].name!r}" in refused(layer(kinds=tracks.kinds))
    assert f"the feed {tracks.feeds[0].key!r}" in refused(layer(feeds=tracks.feeds))
