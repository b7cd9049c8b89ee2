"""The log says which layers' numbers rest on a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dashboard.panels.log_entries import bears_on
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
    assert bears_on(layers, "b") == [("Weather and sea state", "Hs 2.2 m.")]
    assert bears_on(layers, "x") == []
