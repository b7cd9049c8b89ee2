"""The exercise's people, hour by hour, as worked out by hand from the scenario."""

from functools import lru_cache

import pytest

from demo_data import scenario as s
from demo_data.load import demo_journal, load
from demo_data.scenario import z
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.known import Known, ListShelf
from layers.survivors.air.formulas import air_outlook
from layers.survivors.muster.muster import muster


@lru_cache(maxsize=1)
def exercise() -> ListShelf:
    return demo_journal(s.DEMO_END)[0]


def seen(day: int, hhmm: str) -> tuple[Known, Moment]:
    at = z(day, hhmm)
    shelf = exercise()
    seq = max((r.seq for r in shelf.records if r.recorded_at <= at), default=0)
    return Known(shelf, KINDS, seq, at), Moment(at, at)


# Worked by hand from the scenario: (out, to go, dead, not accounted for).
HOURS = {
    (13, "0730"): (0, 0, 0, 70),  # the list and the first rider
    (13, "1130"): (0, 0, 0, 71),  # the second rider, disputed
    (13, "1545"): (0, 5, 0, 66),
    (13, "1700"): (2, 2, 1, 66),
    (13, "2200"): (2, 56, 1, 12),
    (16, "0635"): (18, 40, 1, 12),
    (17, "0900"): (32, 26, 1, 12),
    (17, "2100"): (56, 2, 1, 12),
    (20, "1159"): (56, 0, 1, 0),
}


@pytest.mark.parametrize("hour", HOURS)
def test_muster_reads_as_worked_by_hand(hour):
    who = muster(*seen(*hour))
    assert (who.out, who.to_go, who.dead, who.not_accounted) == HOURS[hour]
    assert sum(who.by_place.values()) == who.pob


def test_second_rider_is_disputed_for_an_hour():
    assert muster(*seen(13, "1130")).pob_disputed == 1
    assert muster(*seen(13, "1300")).pob_disputed == 0


def test_muster_closes_with_everybody_named_or_accounted_for():
    who = muster(*seen(20, "1159"))
    assert who.by_place["not accounted for"] == 0
    assert who.by_place["named as missing"] == 14
    assert who.by_place["hospital"] == 6
    missing = who.place("named as missing")
    assert missing is not None
    assert sum(len(lot.names) for lot in missing.lots) == 14
    assert who.conflicts == ()


def test_exercise_records_are_all_taken():
    assert [r for r in load().rejects if "survivors" in r.source] == []


def p50(day: int, hhmm: str, refuge: str, level: str) -> float:
    found = air_outlook(*seen(day, hhmm), n_draws=2_000).of(refuge)
    assert found is not None
    return next(one.hours.p50 for one in found.levels if one.name == level)


def test_corrected_store_an_hour_later_takes_about_thirty_hours_off_the_after_refuge():
    lost = p50(13, "2230", "after", "CO2 action level") - p50(
        13, "2250", "after", "CO2 action level"
    )
    # 63 kg less, 0.643 kg CO2 each, 30 persons at 1.00 kg a day: 32 h by hand.
    assert lost == pytest.approx(32.0, abs=4.0)


def test_after_refuge_lasts_to_the_evening_of_the_16th_without_pods_and_two_days_with():
    found = air_outlook(*seen(14, "0600"), n_draws=2_000).of("after")
    assert found is not None
    co2 = found.levels[0]
    assert 48.0 < co2.hours.p50 < 62.0
    assert found.pod_gains[0].gain_h.p50 == pytest.approx(41.0, abs=5.0)  # 80 kg by hand
    assert "water" in found.cause


def test_at_the_opening_the_rest_of_the_after_refuge_last_into_the_19th():
    found = air_outlook(*seen(16, "0635"), n_draws=2_000).of("after")
    assert found is not None
    assert found.persons == 14
    co2 = next(one for one in found.levels if one.name == "CO2 action level")
    assert co2.hours.p10 > 40.0
    # What ends life first binds, whatever its kind: the cold comes sooner.
    assert found.levels[0].name == "cold"
    assert 60.0 < found.levels[0].hours.p50 < 84.0
    assert not any(one.began_again for one in found.corrections)
