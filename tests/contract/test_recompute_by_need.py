"""One new record recomputes only the layers that rest on its kind; the others are found kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

import layers.picture as making
from layers.catalogue import KINDS, LAYERS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.results import Results
from layers.worker import Worker
from tests.journals import Clock

# in the middle of a step of every layer's grain, so that no step begins during the test
START = datetime(2027, 3, 15, 23, 42, 5, tzinfo=UTC)
SECOND = timedelta(seconds=1)
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
# Written by hand from what each layer says of itself in DEVELOPERS.md: the datum moves all that
# is measured to it; weather and ships reach the slower plans at their next step only.
BY_HAND = {"weather", "datum", "transponders", "forward_port", "tracks", "survivors", "margin"}
RESTS_ON_THE_DATUM = {"datum", "tracks", "survivors", "forward_port", "margin"}
CASES: dict[str, tuple[str, dict[str, Any], set[str]]] = {
    "a muster move": (
        "survivors.move",
        {
            "from_place": "not accounted for", "to_place": "forward", "reason": "counted",
            "groups": [{"persons": 2, "fitness": "walking", "was": "unknown"}],
        },
        {"survivors", "margin"},
    ),
    "a ship's position": (
        "tracks.position",
        {"subject": "mmsi:299000101", "latitude_deg": 49.8, "longitude_deg": -8.5},
        {"tracks"},
    ),
    "a weather observation": (
        "weather.observation",
        {"station": "62X07", "sort": "buoy", "latitude_deg": 49.9, "longitude_deg": -8.6,
         "hs_m": 2.1},
        {"weather"},
    ),
    "a route": (
        "tracks.route",
        {"name": "home", "waypoints": [
            {"latitude_deg": 49.8, "longitude_deg": -8.5},
            {"latitude_deg": 50.1, "longitude_deg": -8.5}]},
        {"tracks", "forward_port", "margin"},
    ),
    "a bearing": (
        "datum.bearing",
        {"observer": "GREY HERON", "latitude_deg": 49.5, "longitude_deg": -9.0,
         "bearing_deg": 43.0, "sense": "true", "sigma_deg": 3.0},
        RESTS_ON_THE_DATUM,
    ),
    "a transponder dropped": (
        "transponders.drop",
        {"transponder": "TP9", "latitude_deg": 49.83, "longitude_deg": -8.5,
         "water_depth_m": 142.0, "turn_round_s": 0.02},
        RESTS_ON_THE_DATUM | {"transponders"},
    ),
    "a task of the watch": ("watch.task", {"who": "SALTMARSH", "what": "look again"}, set()),
}  # fmt: skip


@pytest.fixture
def clock() -> Clock:
    return Clock(START)


@pytest.fixture
def journal(tmp_path: Path, clock: Clock) -> Iterator[Journal]:
    opened = open_journal(tmp_path / "j.sqlite", KINDS, clock=clock)
    yield opened
    opened.close()


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Count the calls of each layer's own compute."""
    counts: Counter[str] = Counter()
    real = making.show_layer

    def counting(layer: Any, *rest: Any) -> Any:
        counts[layer.key] += 1
        return real(layer, *rest)

    monkeypatch.setattr(making, "show_layer", counting)
    return counts


def add(journal: Journal, kind: str, payload: dict[str, Any]) -> None:
    at = journal.now()
    draft = Draft(
        kind=kind, payload=payload, valid_at=at, heard_at=at, source="voice",
        identity=form_identity(f"{kind} {at.isoformat()}"),
    )  # fmt: skip
    journal.append(WATCH, [draft])


@pytest.mark.parametrize("case", CASES)
def test_one_record_is_computed_once_by_the_layers_that_rest_on_it(
    journal: Journal, clock: Clock, computed: Counter[str], tmp_path: Path, case: str
) -> None:
    add(journal, "survivors.complement", {"part": "sailing list", "persons": 10})
    worker = Worker(journal, Results(tmp_path, journal.key))
    clock.at += SECOND
    worker.step()
    assert set(computed) == {layer.key for layer in LAYERS}  # nothing was kept yet
    computed.clear()
    clock.at += SECOND
    worker.step()
    assert computed == {}  # nothing new, nothing computed
    kind, payload, touched = CASES[case]
    add(journal, kind, payload)
    clock.at += SECOND
    worker.step()
    assert {key: n for key, n in computed.items() if key in BY_HAND} == dict.fromkeys(touched, 1)
