"""Lines as an officer speaks them in the first hour: each is taken, or asked with answers to press.

Written from the trade's ways of saying before they were run. What a line must come to stands
beside it: the kinds of its records, or a part of one of the answers.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from layers.heard import hear
from layers.journal.words.heard import Name
from tests.heard_world import grammar, heard, verdict, world


@pytest.mark.parametrize(
    ("line", "answer", "kinds"),
    [
        ("support ship FULMAR at 4310N 00820E", "new support ship FULMAR",
         ["tracks.vessel", "tracks.position"]),
        ("rescue ship FULMAR on scene 4310N 00820E", "new rescue ship FULMAR",
         ["tracks.vessel", "tracks.position"]),
        ("helicopter KITTIWAKE 2 at 4310N 00820E", "new helicopter KITTIWAKE 2",
         ["tracks.vessel", "tracks.position"]),
        ("support ship TENACE at 4312N 00822E", "support ship from now on",
         ["tracks.vessel", "tracks.position"]),
        ("FULMAR will be on scene at 1500", "new ship FULMAR", ["tracks.vessel", "watch.task"]),
        ("launch limit 2.5 m recovery limit 2.0 m", "launch limit 2.5 m; recovery limit 2.0 m",
         ["weather.limit", "weather.limit"]),
        ("on the bottom at 4315N 00830E by TENACE", "the boat herself", ["datum.contact"]),
        ("boat on the bottom at 4315N 00830E", "by TENACE", ["datum.contact"]),
        ("depth at the seat 180 m", "she lies", ["survivors.lies"]),
        ("she was due to report at 1214 and nothing heard", "she was due to report",
         ["datum.intended_movement", "watch.note"]),
        ("TENACE reports oil and debris in 4315N 00830E at 1231",
         "TENACE debris in 4315N 00830E at 1231 (the rest", ["datum.sighting", "watch.note"]),
        ("we have 52 on board, 30 forward and 22 aft", "headcount 30 forward; headcount 22 aft",
         ["survivors.complement", "survivors.report", "survivors.report"]),
        ("lost contact at 1044 in position 4320N 00840E within 2 nmi", "last known position",
         ["datum.lkp"]),
        ("wind south west 25 knots at TENACE", "225", ["weather.observation"]),
    ],
)  # fmt: skip
def test_what_is_not_whole_is_asked_with_an_answer_that_makes_it_whole(
    line: str, answer: str, kinds: list[str]
) -> None:
    hearing = heard(line)
    assert not hearing.understood
    offered = {said: way for ask in hearing.asks
               for said, way in zip(ask.readings, ask.lines, strict=True)}  # fmt: skip
    way = next((way for said, way in offered.items() if answer in said), None)
    assert way is not None, (line, [ask.about for ask in hearing.asks], list(offered))
    again = heard(way)
    assert not again.asks, (way, [ask.about for ask in again.asks])
    assert [one.kind for one in again.understood] == kinds


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("launch limit 2.5 m, recovery limit 2.0 m",
         [("weather.limit", {"operation": "launch", "hs_max_m": 2.5}),
          ("weather.limit", {"operation": "recovery", "hs_max_m": 2.0})]),
        ("LIMPET aboard CAPE ARDIS", []),
        ("6 moved from fwd to aft",
         [("survivors.move", {"from_place": "forward", "to_place": "after"})]),
        ("boat reports 2 dead forward", [("survivors.move", {"to_place": "forward"})]),
        ("pressure in the aft compartment 1.3 bar absolute", [("survivors.air", {})]),
        ("TENACE has tapping on 055 true", [("datum.bearing", {"bearing_deg": 55.0})]),
        ("CAPE ARDIS ETA 1600", [("watch.task", {"who": "CAPE ARDIS"})]),
        ("bow up 10 degrees, list 5 to port",
         [("survivors.lies", {"bow_down_deg": -10.0, "list_deg": -5.0})]),
        ("boat's name is GREYWETHER", [("survivors.boat", {"name": "GREYWETHER"})]),
        ("boat on the bottom at 4315N 00830E by TENACE",
         [("datum.contact", {"identified": "DISSUB", "observer": "TENACE"})]),
        ("sonar contact on the bottom 4315N 00830E by TENACE not identified",
         [("datum.contact", {"identified": "not identified"})]),
    ],
)  # fmt: skip
def test_what_is_whole_is_taken(line: str, told: list[tuple[str, dict[str, object]]]) -> None:
    hearing = heard(line)
    if not told:  # a vehicle of which no seats are known is kept until they are
        assert verdict(hearing) == "asked"
        assert "places for people" in hearing.lacks
        return
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    assert [one.kind for one in hearing.understood] == [kind for kind, _ in told]
    for one, (_, fields) in zip(hearing.understood, told, strict=True):
        for name, value in fields.items():
            assert one.payload[name] == pytest.approx(value) if isinstance(value, float) else (
                one.payload[name] == value
            )  # fmt: skip


def test_a_vehicle_and_her_ship_that_nobody_knows_are_asked_one_after_the_other() -> None:
    hearing = heard("REMORA aboard HOKULANI")
    (line,) = (way for ask in hearing.asks for way in ask.lines if "vehicle" in way)
    asked = heard(f"{line} 14 seats, 5.5 h cycle")
    (line,) = (way for ask in asked.asks for way in ask.lines if "new ship HOKULANI" in way)
    made = heard(line)
    assert [one.kind for one in made.understood] == ["tracks.vessel", "survivors.vehicle"]
    assert made.understood[1].payload["carried_by"] == "HOKULANI"
    assert made.understood[1].payload["name"] == "REMORA"


@pytest.mark.parametrize(
    "line",
    [
        "boat sinking", "sub surfacing", "boat on fire", "boat adrift", "submarine flooded",
        "midway between Tern and the marker buoy", "captain has been told, coffee at the wardroom",
    ],
)  # fmt: skip
def test_what_a_boat_does_is_not_her_name(line: str) -> None:
    assert not heard(line).understood


@pytest.mark.parametrize(
    "line",
    [
        "TENACE 4310N 00820E, or was it CAPE ARDIS", "oil 4315N 00830E by TENACE, not confirmed",
        "if nothing is heard by 1400, submiss at 1230", "submiss at 1230, cancelled by Fleet",
        "52 on board, unless two stayed ashore", "drill, tapping heard by TENACE 1210",
    ],
)  # fmt: skip
def test_no_part_is_offered_beside_words_that_could_turn_it_round(line: str) -> None:
    hearing = heard(line)
    assert not hearing.understood
    assert not any(ask.about.startswith("several facts") for ask in hearing.asks)


def test_what_is_left_out_of_a_line_is_kept_as_a_note() -> None:
    (ask,) = (a for a in heard("TENACE at 4310N 00820E, sends best wishes").asks
              if a.about.startswith("several"))  # fmt: skip
    assert "sends best wishes" in ask.readings[0]
    told = heard(ask.lines[0]).understood
    assert [one.kind for one in told] == ["tracks.position", "watch.note"]
    assert told[1].payload["text"] == "TENACE at 4310N 00820E, sends best wishes"


def test_a_known_vehicle_keeps_what_was_told_and_gets_her_ship() -> None:
    here = world()
    ships = Name(text="HOKULANI", sort="ship", key="HOKULANI")
    hearing = hear("vehicle 14 seats, 5.5 h cycle; LIMPET aboard HOKULANI", grammar(),
                   replace(here, names=(*here.names, ships)))  # fmt: skip
    assert hearing.understood[0].payload["seats"] == 14
    assert "aboard which ship" not in hearing.lacks
