"""An operation says on every page which it is, as an exercise does; never to who may not know."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from dashboard.panels import strip
from layers.journal.releases.rules import OUTSIDE, WATCH, Release


def seen(name: str, release: Release, exercise: str = "") -> Any:
    return SimpleNamespace(exercise=exercise, journal=SimpleNamespace(name=name), release=release)


def test_the_operations_name_stands_on_the_strip_for_the_watch_alone() -> None:
    assert "Steadfast &lt;7&gt;" in strip._exercise(seen("Steadfast <7>", WATCH))
    assert strip._exercise(seen("Steadfast", OUTSIDE)) == ""


@pytest.mark.parametrize("unnamed", ["Operation", "Musterplot"])
def test_what_nobody_named_says_nothing(unnamed: str) -> None:
    assert strip._exercise(seen(unnamed, WATCH)) == ""


def test_an_exercise_says_so_to_everybody() -> None:
    for release in (WATCH, OUTSIDE):
        assert "EXERCISE" in strip._exercise(seen("Exercise Heath", release, "Exercise Heath"))
