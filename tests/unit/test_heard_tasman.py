"""Lines of an invented incident in the Tasman Sea, written before they were tried.

Shortened, late and out of order, as a hand in a hurry writes them down; what stood on the plot by
then is told in ``BEFORE``. Each comes to what was meant or is asked, and none to another fact.
"""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from layers.commands import hear as command
from layers.heard import HeardLine, hear
from layers.heard.record import around_journal
from layers.journal.naming import address
from layers.journal.store import Journal, open_journal
from tests.heard_world import grammar, verdict

NOW = datetime(2026, 11, 30, 4, 30, tzinfo=UTC)
BEFORE = (
    "boat DUNLIN", "compartments: fwd, aft",
    "last known 3812S 15540E at 1840 yesterday within 3 miles",
    "new ship BRUNY", "BRUNY 3805S 15551E 0330", "new ship KOWHAI", "KOWHAI 3820S 15520E 0300",
    "new ship TUATARA", "TUATARA 4000S 16500E 0300 260/13", "new aircraft SNAPPER 2",
    "new rescue vehicle WEKA", "tapping heard by BRUNY at 0015 bearing 212T", "58 on board",
    "rescue vehicle MANTIS 14 seats 5.5 h cycle",
)  # fmt: skip


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    into = address(str(tmp_path_factory.mktemp("heard") / "plot.sqlite"))
    command.run(Namespace(text=list(BEFORE), at="2026-11-30T03:40Z", journal=None, into=into,
                          exercise="SLOW LANTERN", json=False, all_the_same=False))  # fmt: skip
    opened = open_journal(into, grammar().kinds, create=False, readonly=True)
    yield opened
    opened.close()


def heard(line: str, journal: Journal) -> HeardLine:
    return hear(line, grammar(), around_journal(grammar(), journal, NOW))


@pytest.mark.parametrize(
    ("line", "kind", "fields"),
    [
        ("last hrd 1840 yesterday 3812s 15540e give or take 3 mile", "datum.lkp",
         {"latitude_deg": -38.2}),
        ("sublook 2340", "watch.stage", {"stage": "SUBLOOK"}),
        ("submiss from 0040", "watch.stage", {"stage": "SUBMISS"}),
        ("subsunk declared", "watch.stage", {"stage": "SUBSUNK"}),
        ("cse 145 8 kts", "datum.intended_movement",
         {"course_true_deg": 145.0, "speed_max_kn": 8.0}),
        ("kowhai eta datum 0430", "watch.task", {"who": "KOWHAI", "what": "be on scene"}),
        ("bruny hears hammering brg 212 true abt 0015", "datum.bearing",
         {"observer": "BRUNY", "bearing_deg": 212.0}),
        ("sub ind buoy 3817.4s 15544.2e snapper 2", "datum.sighting",
         {"what": "indicator buoy", "observer": "SNAPPER 2"}),
        ("one dead fwd", "survivors.move", {"to_place": "fwd"}),
        ("fwd co2 2.2 pct 1.3 bar a", "survivors.air", {"refuge": "fwd"}),
        ("24 canisters aft", "survivors.stores", {"refuge": "aft"}),
        ("14 o2 candles fwd", "survivors.stores", {"refuge": "fwd"}),
        ("heading 230 list 12 stbd bow up 5", "survivors.lies", {"list_deg": 12.0}),
        ("aft hatch fouled", "survivors.seat", {"state": "fouled"}),
        ("dunlin on uwt: 58 on board", "survivors.complement", {"persons": 58}),
        ("tapped out: 31 alive fwd", "survivors.report", {"place": "fwd", "persons": 31}),
        ("baro 984 hpa falling fast bruny 0400", "weather.observation",
         {"pressure_hpa": 984.0, "note": "barometer falling fast"}),
        ("weka 16 seats, cycle 6 h", "survivors.vehicle",
         {"name": "WEKA", "seats": 16, "cycle_h": 6.0}),
        ("nil heard kowhai 0400 to 0430", "datum.not_heard", {"observer": "KOWHAI"}),
        ("bruny no joy on uwt 0300 to 0400", "datum.not_heard",
         {"observer": "BRUNY", "by": "underwater telephone"}),
        ("range from kowhai 4200 yds", "datum.range", {"observer": "KOWHAI"}),
        ("next uwt sked 0500", "watch.listening", {"with_whom": "DISSUB"}),
        ("mantis lost", "survivors.vehicle", {"name": "MANTIS", "state": "lost"}),
        # broken at 0430 for 24 h, until 1800, or until somebody says when
        ("mantis broken, 24 hrs", "survivors.vehicle",
         {"state": "broken", "ready_at": "2026-12-01T04:30:00+00:00", "seats": 14}),
        ("mantis out of order until 0900", "survivors.vehicle",
         {"state": "broken", "ready_at": "2026-11-30T09:00:00+00:00"}),
        ("mantis broken", "survivors.vehicle", {"state": "broken", "cycle_h": 5.5}),
    ],
)  # fmt: skip
def test_a_tired_line_comes_to_what_was_meant(
    line: str, kind: str, fields: dict[str, object], journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert one.kind == kind
    assert {name: one.payload[name] for name in fields} == fields


@pytest.mark.parametrize(
    ("line", "answer"),  # one of those to press says what was meant
    [
        ("boat is dunlin, 68 metres, 58 souls", "58 souls"),
        ("cse 145 8 kts going deep to 90m", "course 145 8 kts"),
        ("sked 2240 missed", "2240 missed"),
        ("tuatara slipped westport 2355 making 13 kts", "tuatara 2355 making 13 kts"),
        ("dunlin on uwt: fwd 33 aft 25", "headcount fwd 33, aft 25"),
        ("tapped out: 31 alive", "headcount 31 alive"),
        ("baro 984 falling bruny", "baro 984 hPa falling bruny"),
        ("swell 3 m 11 secs", "swell 3 m 11 secs at BRUNY"),
        ("wind sw 30 gusting 40 at bruny", "wind 225 30 gusting 40 at bruny"),
        ("stream setting ne 1.2 kn at bruny", "stream setting 045 1.2 kn at bruny"),
        ("no joy on uwt", "no joy on uwt by BRUNY"),
        ("1 Dec 0200", "report due 1 Dec 0200"),
        ("depth of boat 138 m", "she lies 138 m"),
        ("aft 1.1 bar g", "air read aft 1.1 bar g"),
        ("picked up 2 bruny 0240", "picked up 2 bruny 0240 from the water"),
        ("told her rv 1800", "told her now: rv 1800"),
        ("weka broken, 24 hrs", ""),  # her places and cycle, which nobody told, are asked by name
    ],
)
def test_a_line_that_leaves_something_open_is_asked_with_what_was_meant_to_press(
    line: str, answer: str, journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert hearing.asks
    assert not hearing.understood
    lines = [one for ask in hearing.asks for one in ask.lines]
    if not answer:
        assert hearing.lacks == ("places for people", "hours from dive to dive")
        return
    assert any(one == answer or one.startswith(f"{answer};") for one in lines), lines
    pressed = heard(next(one for one in lines if one.split(";")[0] == answer), journal)
    assert pressed.understood or (pressed.asks and pressed.asks != hearing.asks)


@pytest.mark.parametrize(
    "line",
    [
        "bruny tapping stopped 0040", "red flare brg 195T from bruny 5 mls", "2 hurt bad aft",
        "smoke float sighted 0112 bruny green 20 2 miles", "o2 fwd 18.1 pct",
        "oil slick 3818s 15545e 200 m wide smells of diesel snapper 2 0105",
        "uwt contact 0130 says 58 on board all alive", "water coming in aft abt 2 cm an hr",
        "vis 2 miles rain", "tuatara lost 4 hrs to weather", "weka 16 seats 6 hr turnround",
        "weka cant dive over 2 m", "weka hyd leak down 12 hours", "first dive not before 1800",
        "chamber takes 12", "escapers in the water 3 3816.9s 15544s 0215", "third man not found",
        "1 doa", "hospital hobart 6 beds burns", "hospital of San Marco", "stbd",
        "lkp time was 0745 local", "rpt 212 not 221", "scrub last", "make that 0040",
        "searched 3800s 15530e to 3820s 15550e bruny radar nothing", "mag var 14 east",
        "ping on kowhai 37.5 khz bearing 095M", "mv pacific lark diverting eta 6 hrs",
        "comms 5 by 5", "air good for 4 days they say", "escape if co2 hits 4 pct",
        "handing over to lt price", "bruny 3805s 15551e stg 200 at 18", "mantis not broken",
        "mantis until 1800", "wind 220/30 falling bruny", "o2 candles 14 left fwd",
        "mantis broken 4 h ready 0600", "mantis mended 4 h", "bruny range 4 nmi falling",
    ],
)  # fmt: skip
def test_what_is_not_plain_is_asked_or_kept_as_a_note_and_never_taken(
    line: str, journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert verdict(hearing) in ("asked", "refused", "note")
    assert not hearing.understood


def test_a_vehicle_broken_with_no_hour_keeps_none_of_before_and_mended_dives_from_now(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    into = address(str(tmp_path_factory.mktemp("vehicle") / "plot.sqlite"))

    def told(line: str, at: str) -> dict[str, object]:
        answer = command.run(Namespace(text=[line], at=f"2026-11-30T{at}Z", journal=None,
                                       into=into, exercise="SLOW LANTERN", json=False,
                                       all_the_same=True))  # fmt: skip
        (one,) = answer["understood"]
        payload: dict[str, object] = one["payload"]
        return payload

    told("rescue vehicle MANTIS 14 seats 5.5 h cycle", "03:40")
    assert told("mantis ready 0600", "03:50")["ready_at"] == "2026-11-30T06:00:00+00:00"
    assert "ready_at" not in told("mantis broken", "04:00")
    mended = told("mantis mended", "04:20")
    assert (mended["state"], mended["ready_at"]) == ("working", "2026-11-30T04:20:00+00:00")


@pytest.mark.parametrize("line", ["mantis lost with 9 aboard", "mantis broken, 9 on board"])
def test_who_is_in_a_vehicle_is_not_taken_for_all_who_were_on_board(
    line: str, journal: Journal
) -> None:
    hearing = heard(line, journal)  # 58 were told of the boat
    assert [ask.about for ask in hearing.asks if "9 aboard are not booked there" in ask.about]
    assert not [one for one in hearing.understood if one.kind == "survivors.complement"]


@pytest.mark.parametrize(
    ("line", "state", "hhmm"),
    [
        ("mantis lost 0420Z", "lost", "0420"), ("MANTIS lost at 0420", "lost", "0420"),
        ("MANTIS is lost 0415Z", "lost", "0415"), ("mantis sunk 0420", "lost", "0420"),
        ("mantis broken 0410Z", "broken", "0410"), ("mantis mended 0425", "working", "0425"),
        ("MANTIS lost", "lost", "0430"),
    ],
)  # fmt: skip
def test_a_vehicle_is_lost_broken_or_mended_at_the_hour_that_was_told(
    line: str, state: str, hhmm: str, journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert (one.kind, one.payload["name"], one.payload["state"]) == (
        "survivors.vehicle", "MANTIS", state
    )  # fmt: skip
    assert f"{one.valid_at:%H%M}" == hhmm


@pytest.mark.parametrize(
    "line",
    ["mantis lost with 14 aboard", "MANTIS lost 0420Z with 14 aboard",
     "mantis lost, 14 people aboard, 0420", "MANTIS sunk at 0420Z with 14 on board"],
)  # fmt: skip
def test_those_lost_with_a_vehicle_are_asked_from_where_and_each_answer_holds_both(
    line: str, journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert not hearing.understood
    (ask,) = hearing.asks
    hhmm = "0420" if "0420" in line else "0430"
    places = set()
    for way in ask.lines[:-1]:
        answer = heard(way, journal)
        assert not answer.asks, [one.about for one in answer.asks]
        move, vehicle = answer.understood
        assert (move.payload["to_place"], vehicle.payload["state"]) == ("MANTIS", "lost")
        assert sum(group["persons"] for group in move.payload["groups"]) == 14
        assert {f"{one.valid_at:%H%M}" for one in answer.understood} == {hhmm}
        places.add(move.payload["from_place"])
    assert places == {"fwd", "aft"}
    vehicle, note = heard(ask.lines[-1], journal).understood
    assert vehicle.payload["state"] == "lost"
    assert "14 aboard MANTIS" in note.payload["text"]


@pytest.mark.parametrize("line", ["fwd 20 people, 20 walking", "20 people fwd, 20 able to walk"])
def test_how_many_of_a_headcount_walk_is_heard(line: str, journal: Journal) -> None:
    (one,) = heard(line, journal).understood
    assert (one.kind, one.payload["persons"], one.payload["walking"]) == (
        "survivors.report",
        20,
        20,
    )
    assert not heard("fwd 20 people, 25 walking", journal).understood


def test_a_raft_is_read_back_once(journal: Journal) -> None:
    (one,) = heard("5 people in raft 1", journal).understood
    assert (one.payload["group"], one.payload["clothing"]) == ("raft 1", "in a raft")
    assert "in raft 1" in one.words
    assert "in a raft" not in one.words
    again = heard(one.plain, journal).understood[0].payload
    assert {k: v for k, v in again.items() if k != "since"} == {
        k: v for k, v in one.payload.items() if k != "since"
    }


def test_a_move_asked_back_is_said_again_by_voice_with_the_word_that_the_refusal_names(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    into = address(str(tmp_path_factory.mktemp("twin") / "plot.sqlite"))

    def told(*lines: str) -> dict[str, Any]:
        return command.run(Namespace(text=list(lines), at="2026-11-30T04:00Z", journal=None,
                                     into=into, exercise="SLOW LANTERN", json=False,
                                     all_the_same=True))  # fmt: skip

    told(*BEFORE, "aft 29 people 0350Z")
    line = "5 out from aft in the water 0355Z"
    assert told(line)["understood"]
    (ask,) = told(line)["asks"]
    assert "booked already" in ask["about"]
    word = re.search(r"by voice: the same line with '(\w+)'", ask["about"])
    assert word is not None
    (one,) = told(f"{line} {word[1]}")["understood"]
    assert one["payload"]["read_back"]
    assert one["seq"]
