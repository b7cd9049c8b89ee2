"""How long a way by sea round land takes to find, in seconds of the processor: told, no bound."""

from __future__ import annotations

import math
import time
from pathlib import Path
from typing import Any

from layers.earth.position import Position
from layers.earth.shore.land import Land
from layers.forward_port.legs import coast
from layers.forward_port.legs.sea_route import clear, length_nmi, round_land
from tests.benchmarks.figure import Figure

PASSAGES = {
    "Saldanha to Mossel Bay": (Position(-33.05, 17.8), Position(-34.3, 22.4)),
    "Falmouth to Bergen": (Position(50.14, -5.03), Position(60.4, 5.2)),
    "Lisbon to Valletta": (Position(38.6, -9.4), Position(35.9, 14.55)),
}


class Unkept:
    """The coastline without a folder: no square and no way is there from an earlier run."""

    folder: Path | None = None

    def __init__(self, land: Land) -> None:
        self.land = land

    def __getattr__(self, name: str) -> Any:
        return getattr(self.land, name)


def figures() -> list[Figure]:
    """Return one figure a passage."""
    land = coast.land()
    if land is None:
        raise RuntimeError("the coastline is not cut in this data folder")
    found = []
    for name, ends in PASSAGES.items():
        bare: Any = Unkept(land)
        begun = time.process_time()
        way = round_land(bare, *ends)
        took = time.process_time() - begun
        assert way is not None
        begun = time.process_time()
        clear(land, way, ends)
        tested = time.process_time() - begun
        found.append(
            Figure(
                issue=20, name=f"a way round land, first asked: {name}", ratio=took / tested,
                target=math.inf, direction="at most",
                reference="testing the way that was found against the coastline",
                note=f"{took:.1f} s for {length_nmi(way):.0f} nmi in {len(way) - 1} legs",
            )
        )  # fmt: skip
    return found
