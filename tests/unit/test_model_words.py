"""What a payload is refused for is said in words of a watch, never in a program's."""

from __future__ import annotations

from typing import Any

import pytest

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.known import check_payload

MOVE = {
    "from_place": "forward",
    "to_place": "vehicle",
    "groups": [{"persons": 2, "fitness": "walking"}],
    "reason": "first lift",
}


@pytest.mark.parametrize(
    ("kind", "payload", "sentence"),
    [
        ("survivors.move", {**MOVE, "reason": ""}, "voice, reason: nothing was given; accepted"),
        (
            "survivors.move",
            {**MOVE, "groups": [{"persons": 0, "fitness": "walking"}]},
            "voice, groups.0.persons: '0' is too small; accepted: 1 or more",
        ),
        (
            "survivors.move",
            {**MOVE, "groups": [{"persons": 2, "fitness": "tired"}]},
            "groups.0.fitness: 'tired' is not one of the words known here; accepted: 'walking'",
        ),
        ("survivors.move", {**MOVE, "odd": 1}, "odd: '1' is no field of this kind"),
        (
            "survivors.move",
            {k: v for k, v in MOVE.items() if k != "to_place"},
            "to_place: nothing was given",
        ),
        (
            "tracks.position",
            {"subject": "voice:a", "latitude_deg": 91.0, "longitude_deg": 0.0},
            "latitude_deg: '91.0' is too large; accepted: 90 or less",
        ),
        (
            "tracks.position",
            {"subject": "voice:a", "latitude_deg": "north", "longitude_deg": 0.0},
            "latitude_deg: 'north' is not a number; accepted: a number",
        ),
        (
            "watch.task",
            {"who": "SALTMARSH", "what": "look", "due": "2027-03-16T05:00"},
            "due: '2027-03-16T05:00' has no time zone; accepted: a time with its zone",
        ),
    ],
)
def test_a_refusal_is_a_sentence(kind: str, payload: dict[str, Any], sentence: str) -> None:
    with pytest.raises(InputError) as refused:
        check_payload(KINDS[kind], payload, "voice")
    assert sentence in str(refused.value)
    for programs in ("Input should", "String should", "Field required", "Extra inputs"):
        assert programs not in str(refused.value)
