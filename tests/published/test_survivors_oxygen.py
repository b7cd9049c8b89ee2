"""Oxygen doses of days in a refuge against published tables and closed forms."""

import json

import numpy as np
import pytest

from layers.earth.errors import RecordRefused
from layers.survivors.chambers.oxygen_dose import cns_share_a_min, refuge_dose
from layers.survivors.chambers.schedule import Schedule
from tests.survivors_journal import Told

ATM_KPA = 101.325


@pytest.mark.parametrize(("ata", "single", "day"), [
    (0.6, 720, 720), (0.8, 450, 450), (1.0, 300, 300), (1.2, 210, 240), (1.4, 150, 180),
    (1.6, 45, 150),
])  # fmt: skip
def test_limits_of_the_nerves_are_those_of_the_table(ata: float, single: int, day: int) -> None:
    # NOAA Diving Manual, single exposure and 24 h: VERIFIED, table seen in an instrument manual.
    assert cns_share_a_min(ata) == pytest.approx(1.0 / single)
    assert cns_share_a_min(ata, day=True) == pytest.approx(1.0 / day)


def test_a_two_part_exposure_adds_up() -> None:
    # 60 min at 1.3 and 20 min at 1.4 ata: 46.667 %. COMPUTED: sum of t over limit.
    share = 60 * (cns_share_a_min(1.3) or 0.0) + 20 * (cns_share_a_min(1.4) or 0.0)
    assert 100 * share == pytest.approx(46.667, abs=1e-3)
    # 30 min at 1.35 ata, limit 165 min between two rows: 18.182 %. COMPUTED.
    assert 3000 * (cns_share_a_min(1.35) or 0.0) == pytest.approx(18.182, abs=1e-3)


def test_beyond_the_table_nothing_is_said() -> None:
    assert cns_share_a_min(1.7) is None


@pytest.mark.parametrize(("bar", "units"), [(1.05, 1526.5), (0.6, 352.0)])
def test_units_of_a_day_in_rich_air(bar: float, units: float) -> None:
    # 1.05 bar of oxygen a day is 1526.5 units, 0.6 bar 352.0; TRAP: bar taken for atmospheres
    # gives 1559.0 and 376.8. COMPUTED from ((p - 0.5) / 0.5) ** 0.833.
    found, _ = refuge_dose(np.array([0.0, 24.0]), np.array([bar * 100.0, bar * 100.0]))
    assert found == pytest.approx(units, abs=0.1)


def schedule(**step: object) -> dict[str, object]:
    steps = [{
        "from_bar_abs": 3.0, "to_bar_abs": 1.0, "minutes": 600.0, "breathing": "air",
        "oxygen_fraction": 0.21, **step,
    }]  # fmt: skip
    bands = [{"saturated_from_bar_abs": 1.4, "saturated_to_bar_abs": 3.0, "steps": steps}]
    return {
        "name": "table of the test", "source": "invented", "approved_by": "nobody",
        "invented": True, "bands": bands,
    }  # fmt: skip


@pytest.mark.parametrize(("step", "said"), [
    ({"oxygen_fraction": 1.0}, "air with an oxygen fraction of 1"),
    ({"breathing": "oxygen"}, r"oxygen with an oxygen fraction of 0\.21"),
    ({"breathing": "oxygen", "oxygen_fraction": 1.0, "from_bar_abs": 6.0}, "bar of oxygen at 6"),
])  # fmt: skip
def test_a_gas_that_is_not_what_it_is_called_is_refused(step: dict[str, object], said: str) -> None:
    with pytest.raises(RecordRefused, match=said):
        Told().add("survivors.schedule", schedule(**step))


class Small:
    name = "chamber 1"
    working_pressure_bar_abs = 2.5


def test_a_table_says_which_people_it_leaves() -> None:
    told = Schedule.model_validate_json(json.dumps(schedule(from_bar_abs=1.2)))
    assert "drops to it in no time" in told.said()[0]
    whole = Schedule.model_validate_json(json.dumps(schedule()))
    assert whole.said() == ()
    assert "chamber 1 is built for 2.5: it leaves these people out" in whole.said((Small(),))[0]
