"""What is said of the chambers: places free through time, and oxygen for lungs and nerves."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from layers.survivors.chambers.chamber import occupancy
from layers.survivors.chambers.oxygen_dose import cns_of_band
from layers.survivors.chambers.schedule import Step
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.report import chamber_table, dose_sentences, nerves_words
from layers.survivors.lifts.run.outcome import evaluate
from tests.unit.lift_cases import NOW_US, chamber, eight_lifts, lift, schedule
from tests.unit.lift_ground import ground


def outlook(**changes: object) -> Outlook:
    lifts = (lift("A", 0, "V1", "after", 14, 0),)
    plan = eight_lifts(lifts=lifts, chambers=(chamber("C1"),), **changes)
    outcome = evaluate(plan, ground(300))
    return Outlook(at_us=NOW_US, chambers=occupancy(outcome), setting=plan)


def test_places_of_an_occupied_chamber_are_told_through_time() -> None:
    (row,) = chamber_table(outlook()).rows
    free = str(row[-1])
    # 18 places, two for its own attendants; 14 go in and two of the vehicle's take those
    assert re.fullmatch(r"16, 2 from \d{4,6}Z, 16 from \d{4,6}Z", free), free


def test_the_nerves_share_stands_beside_the_units() -> None:
    said = " ".join(dose_sentences(outlook()))
    assert "units of oxygen dose" in said
    assert "for the nerves 0% of the limit (NOAA" in said  # air from 2 bar: 0.42 bar of oxygen
    rich = Step(from_bar_abs=1.9, to_bar_abs=1.0, minutes=60.0, breathing="oxygen",
                oxygen_fraction=1.0)  # fmt: skip
    band = schedule().bands[1]
    # NOAA: the table of single exposures ends at 1.6 ata; 1.9 bar of oxygen is beyond it
    assert cns_of_band(replace_steps(band, rich)) is None
    assert nerves_words(None) == "beyond the table of limits"
    half = rich.model_copy(update={"from_bar_abs": 1.01325 * 1.5, "minutes": 60.0})
    # 120 min at 1.5 ata, NOAA: an hour is half of it
    assert cns_of_band(replace_steps(band, half)) == pytest.approx(0.5)
    assert nerves_words(0.5) == "50% of the limit"


def replace_steps(band, *steps: Step):
    return band.model_copy(update={"steps": steps})


def test_the_words_stand_on_a_plan_that_has_them() -> None:
    assert replace(outlook(), chambers=None).chambers is None
    assert dose_sentences(replace(outlook(), chambers=None)) == ()
