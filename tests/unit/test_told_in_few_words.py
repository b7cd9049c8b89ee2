"""What a watch has in the first hour, told by voice alone, is enough for an answer.

Each number is checked by the hand figures that stand beside it.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from layers.catalogue import KINDS
from layers.contract import Moment, Unavailable
from layers.heard import Grammar, hear
from layers.heard.record import around_journal, drafts_of
from layers.journal.actor import Actor, Role
from layers.journal.store import Journal, open_journal
from layers.picture import picture

NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
WATCH = Actor(name="watch officer 1", role=Role.WATCH, via="test")
GRAMMAR = Grammar(KINDS)
Tell = Callable[..., Journal]


@pytest.fixture
def tell(tmp_path: Path) -> Iterator[Tell]:
    """Return what records lines in a journal of its own, each of which must be understood."""
    journal = open_journal(tmp_path / "own.sqlite", KINDS, exercise=True, clock=lambda: NOW)

    def told(*lines: str) -> Journal:
        for line in lines:
            heard = hear(line, GRAMMAR, around_journal(GRAMMAR, journal, NOW))
            assert not heard.asks, (line, [ask.about for ask in heard.asks])
            for draft in drafts_of(heard, now=NOW, source="telephone", form_id=uuid.uuid4().hex):
                journal.append(WATCH, [draft])
        return journal

    yield told
    journal.close()


def result(journal: Journal, key: str) -> Any:
    """Return a layer's result, now."""
    found = picture(journal, Moment(NOW, NOW), journal.revision(), [key])
    layer = found.layers[key]
    assert not isinstance(layer, Unavailable), layer.reason
    return layer.result


PEOPLE = ("52 on board", "forward 20 people, aft 26", "she lies depth 142 m",
          "forward o2 19.2 percent co2 1.0 percent at 1.05 bar abs",
          "aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs",
          "forward volume 420 m3", "aft volume 560 m3", "level co2 6 % sev")  # fmt: skip
VEHICLE = ("vehicle 14 seats, 5.5 h cycle, ready 290305Z", "limit launch 2.5 m", "aft first")


def test_seats_a_cycle_and_who_goes_first_give_two_margins(tell: Tell) -> None:
    """26 and 20 people in lifts of 14 are two and two; the vehicle dives first at 290305Z."""
    ahead = result(tell(*PEOPLE, *VEHICLE), "margin").outlook
    assert not ahead.unavailable
    assert [(one.refuge, one.walking) for one in ahead.setting.lifts] == [
        ("after", 14), ("after", 12), ("forward", 14), ("forward", 6)
    ]  # fmt: skip
    assert any("filled from the muster" in said for said in ahead.remarks)
    # the second hatch shuts in the second dive: 14 h 13 min to the first dive, one cycle of 5.5 h
    # more, and the part of it down to the shut hatch, between nought and the cycle itself
    wait = (datetime(2026, 11, 29, 3, 5, tzinfo=UTC) - NOW) / timedelta(hours=1)
    after = next(one for one in ahead.refuges if one.refuge == "after")
    forward = next(one for one in ahead.refuges if one.refuge == "forward")
    assert wait + 5.5 < after.last_left_h.p50 < wait + 11.0
    assert wait + 16.5 < forward.last_left_h.p50 < wait + 22.0
    # a cycle of two lifts more lies between the two
    assert forward.last_left_h.p50 - after.last_left_h.p50 == pytest.approx(11.0, abs=0.8)


def test_the_limits_of_the_sea_are_those_of_the_lifts_until_they_have_their_own(tell: Tell) -> None:
    journal = tell(*PEOPLE, *VEHICLE, "limit recovery 2 m")
    assert result(journal, "margin").outlook.setting.limits.launch_hs_m == 2.5
    assert result(journal, "margin").outlook.setting.limits.recovery_hs_m == 2.0
    tell("lift limits launch 1.5 m recovery 1.2 m")
    assert result(journal, "margin").outlook.setting.limits.launch_hs_m == 1.5


def test_without_a_limit_it_is_asked_for(tell: Tell) -> None:
    ahead = result(tell(*PEOPLE, VEHICLE[0], VEHICLE[2]), "margin").outlook
    assert "the highest sea for launch or for recovery" in ahead.unavailable
    tell("limit launch 2.5 m")


def test_a_vehicle_told_anew_keeps_what_was_told_before(tell: Tell) -> None:
    journal = tell("vehicle REMORA 14 seats, 5.5 h cycle", "REMORA ready 290305Z",
                   "REMORA cycle 6 h")  # fmt: skip
    told = [r for r in journal.log(upto_seq=999) if r.kind == "survivors.vehicle"]
    last = max(told, key=lambda record: record.seq).payload
    assert (last["seats"], last["cycle_h"]) == (14, 6.0)
    assert last["ready_at"].startswith("2026-11-29T03:05")


def test_a_port_and_a_speed_make_the_way_to_the_datum_wherever_it_moves(tell: Tell) -> None:
    """58' of latitude and 11' × cos 43° 49' = 7.9 nmi of departure: 58.5 nmi, 4.18 h at 14 kn."""
    journal = tell("lkp 4320N 00840E 1244Z within 1 nmi", "port SAVONA 4418N 00829E",
                   "SAVONA to the datum at 14 kn")  # fmt: skip
    (way,) = result(journal, "forward_port").options
    assert way.option.title == "SAVONA to the datum"
    (leg,) = (one.leg for one in way.activities)
    assert leg.distance_nmi == pytest.approx(58.5, abs=0.8)
    assert (way.last.p50 - NOW) / timedelta(hours=1) == pytest.approx(4.18, abs=0.9)
    # a report 30' further south: 30 nmi and 2.14 h more
    tell("lkp 4250N 00840E 1250Z within 1 nmi")
    (moved,) = result(journal, "forward_port").options
    assert moved.activities[0].leg.distance_nmi == pytest.approx(88.3, abs=2.0)


def test_a_canister_of_which_no_more_is_told_counts_little_and_wide(tell: Tell) -> None:
    journal = tell("52 on board", "forward 30 canisters")
    stock = next(r for r in journal.log(upto_seq=999) if r.kind == "survivors.stores").payload[
        "stock"
    ]
    assert stock["count"] * stock["mass_kg_each"] == 90.0
    assert stock["spread_percent"] >= 50.0


def test_a_compartment_that_nobody_named_yet_is_offered_as_a_new_one(tell: Tell) -> None:
    journal = tell("52 on board", "new compartment motor-room")
    heard = hear("engine-room 20 people", GRAMMAR, around_journal(GRAMMAR, journal, NOW))
    assert heard.asks[0].lines == ("new compartment engine-room 20 people",)
    tell(*heard.asks[0].lines)
    assert result(journal, "survivors").by_place["engine-room"] == 20


def test_an_answer_to_help_finds_what_was_asked_of_them(tell: Tell) -> None:
    journal = tell("help asked of Naval Staff: two chambers helps until 1800",
                   "help asked of Port Office: a crane by 1700",
                   "help answered by Naval Staff: yes, one chamber there 1600")  # fmt: skip
    asked = {
        r.payload["asked_of"]: r.id
        for r in journal.log(upto_seq=999)
        if r.kind == "watch.help_asked"
    }
    answer = next(r for r in journal.log(upto_seq=999) if r.kind == "watch.help_answered")
    assert answer.payload["target"] == asked["Naval Staff"]
    assert answer.payload["answer"] == "yes"
