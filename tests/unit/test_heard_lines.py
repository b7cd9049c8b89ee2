"""Some four hundred lines as they are heard, each with what it must come to.

Written from rules of voice procedure (IMO resolution A.918(22), Standard Marine Communication
Phrases, General; ITU Radio Regulations, Appendix 14; ACP 125) and from the trade's ways of
saying, each fact in five orders, before they were run. ``fields`` are what the record must hold;
figures were converted by hand (1 nmi = 1852 m, 1 yd = 0.9144 m; 95 % of a round normal error lie
within 2.4477 sigma).
"""

from __future__ import annotations

import csv
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from layers.heard.result import HeardLine, Understood
from tests.heard_world import heard, verdict

TEXT = (Path(__file__).parents[1] / "data/heard.csv").read_text()
LINES = list(csv.DictReader(TEXT.splitlines(), delimiter=";"))
GASES = {"o2": "oxygen", "co2": "carbon_dioxide"}


def told(one: Understood, name: str) -> Any:
    """Return what a record holds under the name of a field of the list."""
    payload = one.payload
    if name == "at":
        return f"{one.valid_at:%H%M}"
    if name in GASES:
        return f"{payload[GASES[name]]['value']}/{payload[GASES[name]]['unit']}"
    if name == "pressure":
        held = payload[name]
        return f"{held['value']:g}/{held['unit']}/{held['reference']}"
    if name == "legs":
        return len(payload["waypoints"]) // 2
    if name == "persons" and "groups" in payload:
        return sum(group["persons"] for group in payload["groups"])
    value = payload[name]
    if isinstance(value, str) and value[4:5] == "-" and "T" in value:
        return f"{datetime.fromisoformat(value):%H%M}"
    return value


def comes_to(hearing: HeardLine, row: dict[str, str]) -> None:
    """Hold a line against its row: what it must be understood as, or be asked or kept."""
    if row["verdict"] != "understood":
        assert verdict(hearing) == row["verdict"]
        assert not hearing.understood
        return
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert one.kind == row["kind"]
    for pair in row["fields"].split():
        name, expected = pair.split("=")
        value = told(one, name)
        if isinstance(value, str):
            assert value == expected.replace("_", " ") or value == expected, (name, value)
        else:
            assert value == pytest.approx(float(expected), rel=1e-4, abs=1e-4), (name, value)


@pytest.mark.parametrize("row", LINES, ids=[row["line"][:60] for row in LINES])
def test_a_line_comes_to_what_was_meant(row: dict[str, str]) -> None:
    comes_to(heard(row["line"]), row)


def test_the_list_is_long_and_wide_enough() -> None:
    counted = Counter(row["verdict"] for row in LINES)
    assert len(LINES) >= 300
    assert counted["understood"] >= 200
    assert min(counted["asked"], counted["refused"], counted["note"]) >= 15
    assert len({row["kind"] for row in LINES if row["kind"]}) >= 20
