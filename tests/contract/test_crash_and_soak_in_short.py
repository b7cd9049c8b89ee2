"""The first rounds of ``python -m tests.crash`` and ``python -m tests.soak``, on every run."""

from __future__ import annotations

import pytest

from tests import crash, crash_programs, soak


@pytest.mark.parametrize(
    "database", ["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)]
)
def test_killed_at_random_nothing_acknowledged_is_lost(database: str) -> None:
    assert "nothing acknowledged lost" in crash.run(database, kills=4, seed=2)


@pytest.mark.long
@pytest.mark.parametrize(
    "database", ["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)]
)
def test_the_programs_own_processes_killed_at_random_lose_nothing(database: str) -> None:
    assert "each one record" in crash_programs.run(database, kills=4, seed=3)


@pytest.mark.long
def test_an_hour_of_operation_at_240_times_speed_holds() -> None:
    said = soak.run(days=1 / 24, speed=240.0)
    assert any("chain intact" in line for line in said)
    assert any(line.startswith("viewer waited") for line in said)
