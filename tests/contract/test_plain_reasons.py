"""Why an answer is not known is told in plain words, short enough for the strip.

The watch's first records come one by one; whatever is still lacking then, no headline is an
error's own text, and the panel behind it names what to ask for.
"""

from __future__ import annotations

import re

import pytest

from layers.answer_keys import told_as
from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment, Unavailable
from layers.journal.known import Known, ListShelf
from layers.picture import Picture, picture
from layers.watch.state import state
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber, lift, limits, vehicle

LONGEST = 80  # letters: what the strip shows on one line beside its four answers


def first_records() -> Told:
    told = Told()
    told.complement("sailing list", 20)
    told.move("not accounted for", "after", [(20, "walking")])
    told.add("survivors.vehicle", vehicle("V1").model_dump(mode="json"))
    told.add("survivors.lift", lift("A1", 0, "V1", "after", 16, 0).model_dump(mode="json"))
    told.add("survivors.chamber", chamber("C1").model_dump(mode="json"))
    told.add("survivors.lift_limits", limits().model_dump(mode="json"))
    return told


def seen(count: int) -> tuple[Picture, Known]:
    shelf = ListShelf(first_records().records[:count])
    return picture(shelf, Moment(AT, AT), count), Known(shelf, KINDS, count, AT)


def headlines(found: object) -> list[str]:
    """Return every reason in the answers, wherever it stands."""
    if isinstance(found, dict):
        own = [said for said in (found.get("missing"), found.get("because")) if said]
        own = [said for one in own for said in (one if isinstance(one, list) else [one])]
        own = [said for said in own if isinstance(said, str)]  # missing persons are a count
        return own + [said for value in found.values() for said in headlines(value)]
    if isinstance(found, list | tuple):
        return [said for value in found for said in headlines(value)]
    return []


@pytest.mark.parametrize("count", range(7))
def test_no_answer_gives_an_errors_text_as_its_reason(count: int) -> None:
    made, known = seen(count)
    told = told_as(answers(made, state(known, made.moment)))
    said = headlines(told)
    assert said
    lacking = [one for one in made.layers.values() if isinstance(one, Unavailable)]
    said += [one.headline for one in lacking]
    for one in said:
        assert "accepted" not in one, one
        assert not re.match(r"(lift plan|decision \S+): ", one), one
        assert len(one) <= LONGEST, one
    for one in lacking:
        assert "accepted:" not in one.reason
        assert one.headline in one.reason
        assert "to ask for: " in one.reason, one.reason


def test_a_plan_that_cannot_run_says_in_its_panel_what_to_ask_for() -> None:
    made, _ = seen(5)
    shown = made.shown("margin")
    assert shown is not None
    outlook = shown.result.outlook
    assert outlook.lacks == "no limits of the lifts are recorded"
    assert outlook.lacks in outlook.unavailable
    assert "the highest sea for launch or for recovery" in outlook.unavailable
    assert "accepted" not in shown.sentence
