"""One answer, made once: what every page, the wall, paper, slides, report and command show."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from demo_data.scenario import DEMO_NOW
from layers.answers import Answers
from layers.earth.told import PersonsNow
from layers.earth.uncertain import Number
from layers.journal.store import Journal
from tests.every_place import papers, read_at, screens
from tests.one_answer import contradictions, unlike

HOURS = (0.0, 2.6, 30.0)  # before the opening: now, a vehicle down, the search
EXERCISE = "Exercise SABLE TIDE"
MINUTES = 5  # that the exercise's clock may go on while the pages of now are opened
MANY = tuple(0.5 + 3.1 * n for n in range(20))


def everywhere(app: AppTest, journal: Journal, hours: float) -> tuple[dict[str, str], Answers]:
    """Return what every place shows, hours before the opening, and the answers of that time."""
    at = DEMO_NOW - timedelta(hours=hours)
    read = read_at(journal, at)
    return dict(screens(app, at if hours else None)) | papers(read, EXERCISE), read[3]


def said_otherwise(journal: Journal, shown: dict[str, str], found: Answers, hours: float) -> str:
    """Return what contradicts the answers; a page of now may show the next minutes' answers."""
    left = dict(shown)
    for minute in range(MINUTES if not hours else 1):
        answered = read_at(journal, DEMO_NOW + timedelta(minutes=minute))[3] if minute else found
        left = {name: said for name, said in left.items() if contradictions({name: said}, answered)}
        if not left:
            return ""
    return "\n".join(contradictions(left, found))


@pytest.mark.parametrize("hours", HOURS)
def test_every_place_says_the_same(app: AppTest, journal: Journal, hours: float) -> None:
    shown, found = everywhere(app, journal, hours)
    assert said_otherwise(journal, shown, found, hours) == ""
    if hours:  # pages of now are opened minutes apart
        assert unlike(shown) == []


@pytest.mark.long
@pytest.mark.parametrize("hours", MANY)
def test_every_place_says_the_same_at_twenty_times(
    app: AppTest, journal: Journal, hours: float
) -> None:
    shown, found = everywhere(app, journal, hours)
    assert "\n".join((*contradictions(shown, found), *unlike(shown))) == ""


def test_a_panel_that_computes_its_own_is_found(journal: Journal) -> None:
    """The check must be able to fail: another count, another margin, certainty by rounding."""
    found = read_at(journal, DEMO_NOW)[3]
    assert isinstance(found.persons, PersonsNow)
    other = replace(found.persons, in_hull=found.persons.in_hull - 1)
    wrong = {
        "a box": f"<div>{other.in_hull} in the hull</div>",
        "a line": f'<div data-answer="margin"><b>+{999}</b></div>',
        "a sentence": "after refuge: 998 h to spare (cold binds)",
        "a chance": "all out in time in 100 of 100",
    }
    said = contradictions(wrong, found)
    assert len(said) == len(wrong), said
    least, _ = found.least_margin
    assert isinstance(least, Number)
