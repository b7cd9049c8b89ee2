"""The log says which layers' numbers rest on a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dashboard.page_table import TABLE
from dashboard.panels.journal.entries import bears_on, place_of
from layers.catalogue import BY_KEY
from layers.contract import Shown, Unavailable
from layers.earth.table import Table


@dataclass(frozen=True)
class Result:
    rests_on: tuple[str, ...]


def shown(*ids: str, sentence: str) -> Shown:
    empty: Any = Table(heads=(), rows=())
    return Shown(result=Result(ids), sentence=sentence, marks=(), table=empty, tables={})


def test_only_what_rests_on_it_is_named() -> None:
    layers = {
        "weather": shown("a", "b", sentence="Hs 2.2 m."),
        "datum": shown("c", sentence="Position by fix."),
        "tracks": Unavailable(reason="nothing yet"),
    }
    assert bears_on(layers, "b") == [("weather", "Weather and sea state", "Hs 2.2 m.")]
    assert bears_on(layers, "x") == []


def test_every_layer_has_the_page_on_which_its_number_stands() -> None:
    assert {layer.address for layer in BY_KEY.values()} <= {entry.address for entry in TABLE}


def test_the_place_of_a_record_is_found_wherever_it_stands() -> None:
    place = {"latitude_deg": 49.8, "longitude_deg": -8}
    assert place_of(place) == (49.8, -8.0)
    assert place_of({"what": "x", "points": [{"at": place}, {"latitude_deg": 1.0}]}) == (49.8, -8.0)
    assert place_of({"latitude_deg": None, "longitude_deg": -8.0}) is None
    assert place_of({"latitude_deg": True, "longitude_deg": False}) is None
    assert place_of("49.8,-8") is None
