"""What is shown to those who see the same: its parts as JSON texts, and what each of them lacks."""

from __future__ import annotations

import gzip
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from dashboard.chart.chart_view import ChartView, drawn_marks
from dashboard.live.place import digest
from dashboard.view import Seen
from layers.scene.land_metres import json_text

CHART, LAYER = "chart", "chart/"
Have = Mapping[str, str]


def shape(seen: Seen) -> str:
    """Return what a page is built by; when it changes the page is run anew."""
    return digest(json.dumps([seen.about is None, seen.exercise, seen.release.cuts]))


@dataclass(frozen=True, slots=True)
class State:
    """What is shown to those who see the same.

    Parameters
    ----------
    version : tuple of int
        Of what moment, and when it was asked for (`Seen.version`).
    parts : mapping
        JSON text and digest of each part by name.
    shape : str
        As `shape` gives it.
    refused : bool
        They may no longer see it: the page has to be run again.
    steps : mapping
        Of a chart's layer that has changed, by name and what it was known by before: the marks
        that are new, and where among the former ones the others stand.
    """

    version: tuple[int, int]
    parts: Mapping[str, tuple[str, str]]
    shape: str
    refused: bool = False
    steps: Mapping[tuple[str, str], str] = field(default_factory=dict)
    _made: dict[frozenset[tuple[str, str]], bytes] = field(default_factory=dict)

    def has(self, names: Have) -> bool:
        """Whether everything asked for is in it, layers apart, which come and go."""
        return all(name in self.parts for name in names if not name.startswith(LAYER))

    def wanted(self, have: Have) -> list[str]:
        """Return the parts that are other than what somebody has."""
        asked = [name for name in have if not name.startswith(LAYER)]
        if CHART in have:
            asked += [name for name in self.parts if name.startswith(LAYER)]
        return [name for name in asked if have.get(name) != self.parts[name][1]]

    def message(self, have: Have) -> bytes:
        """Return what somebody lacks, packed; made once for all who have the same."""
        key = frozenset(have.items())
        if key not in self._made:
            new = {name: self.parts[name] for name in self.wanted(have)}
            parts = ",".join(
                f"{json.dumps(name)}:{self.steps.get((name, have.get(name, '')), text)}"
                for name, (text, _) in new.items()
            )
            made = json.dumps({name: known for name, (_, known) in new.items()})
            head = f'"v":{json.dumps(self.version)},"shape":{json.dumps(self.shape)}'
            whole = f'{{{head},"made":{made},"parts":{{{parts}}}}}'
            self._made[key] = gzip.compress(whole.encode(), 6, mtime=0)
        return self._made[key]


def made_parts(seen: Seen, names: set[str], chart: str) -> dict[str, tuple[str, str]]:
    """Return the parts of these names as JSON texts, each with its digest."""
    from dashboard.live.parts import PARTS  # which imports the panels, which place parts

    found = {}
    for name in names & PARTS.keys():
        inner = PARTS[name](seen)
        found[name] = (json_text(inner), digest(inner))
    if CHART in names and chart:
        drawn = drawn_marks(seen, ChartView.read(chart))
        layers = drawn.names()
        told = {**drawn.told, "layers": layers, "view": digest(chart)}
        found[CHART] = (json_text(told), digest(json.dumps([drawn.told, layers])))
        for name, known in layers:
            found[LAYER + name] = (gzip.decompress(drawn.layers[name]).decode(), known)
    return found


def steps_from(before: State | None, parts: Mapping[str, tuple[str, str]]) -> dict[Any, str]:
    """Return what leads from each layer's former marks to these, where that is less."""
    found: dict[Any, str] = {}
    if before is None:
        return found
    for name, (text, known) in parts.items():
        held = before.parts.get(name)
        if not name.startswith(LAYER) or held is None:
            continue
        if held[1] == known:
            found |= {k: step for k, step in before.steps.items() if k[0] == name}
            continue
        old, new = json.loads(held[0]), json.loads(text)
        places = {json_text(one): number for number, one in enumerate(old["features"])}
        rows = [places.get(json_text(one), one) for one in new["features"]]
        step = json_text({**new, "features": rows, "from": held[1]})
        if len(step) < len(text) / 2:
            found[name, held[1]] = step
    return found
