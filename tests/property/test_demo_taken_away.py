"""From the exercise's journal everything is taken away, kind by kind, and the answers compared.

Where an answer was a number it is then bounds that hold it, or not known with what to ask for;
never another number, never a surer one.
"""

from __future__ import annotations

import pytest

from tests.demo_taken_away import faults, without


@pytest.mark.parametrize("kind", ["weather.forecast"])
def test_a_kind_taken_away_leaves_no_better_or_surer_answer(kind: str) -> None:
    assert faults(without(lambda record: record.kind == kind)) == []
