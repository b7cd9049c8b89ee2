"""What only asks, takes back or was heard in vain is never told as a fact, by itself or by a press.

Written from two invented incidents worked by voice (a boat off Chile, one south of Ceylon) before
they were run: each line was taken for another fact there, or an answer to press told what nobody
had said.
"""

from __future__ import annotations

import pytest

from tests.heard_world import heard, verdict


@pytest.mark.parametrize(
    "line",
    ["was it tapping TENACE heard", "TENACE heard tapping?", "has TENACE heard tapping 1148",
     "did TENACE hear tapping", "is it tapping that TENACE heard 1148",
     "smoke? bearing 090T TENACE", "bearing 060T? from TENACE 1152", "forward 20 people?",
     "what did TENACE hear, tapping 1148",
     "scrap 14?", "any news of tapping from TENACE", "was TENACE at 4310N 00820E 1148",
     "are there 20 people forward", "how many on board, 52"],
)  # fmt: skip
def test_a_question_is_no_report(line: str) -> None:
    hearing = heard(line)
    assert verdict(hearing) == "asked"
    assert not hearing.understood
    for way in (way for ask in hearing.asks for way in ask.lines):
        assert {one.kind for one in heard(way).understood} <= {"watch.note"}, way


def test_what_sounds_like_a_question_and_is_told_is_told() -> None:
    for line, kind in (("was due 1214", "datum.intended_movement"),
                       ("report was due 1214", "datum.intended_movement"),
                       ("scrap 14: was it hers?", "journal.retract"),
                       ("decided: who dives? LIMPET", "watch.decision")):  # fmt: skip
        hearing = heard(line)
        assert [one.kind for one in hearing.understood] == [kind], line


@pytest.mark.parametrize(
    "line",
    ["TENACE lost contact with tapping 1148", "TENACE no longer hears tapping 1148",
     "tapping stopped TENACE 1148", "TENACE asks whether tapping was heard 1148",
     "TENACE denies tapping 1148", "the tapping TENACE heard has ceased 1148",
     "TENACE does not hear tapping 1148"],
)  # fmt: skip
def test_no_answer_to_press_tells_a_sound_that_was_taken_back(line: str) -> None:
    hearing = heard(line)
    assert not hearing.understood
    for way in (way for ask in hearing.asks for way in ask.lines):
        assert not any(one.kind == "datum.heard" for one in heard(way).understood), way


@pytest.mark.parametrize(
    ("line", "by", "within_nmi"),
    [
        ("TENACE heard nothing 1200 to 1240", "tapping", 2.7),
        ("nothing heard by TENACE 1200-1240", "tapping", 2.7),
        ("TENACE hears nothing on UWT 1200 to 1240", "underwater telephone", 5.4),
        ("no answer on the underwater telephone TENACE from 1200 until 1240",
         "underwater telephone", 5.4),
        ("TENACE heard no tapping 1200 to 1240 within 1 nmi", "tapping", 1.0),
    ],
)  # fmt: skip
def test_what_was_listened_for_in_vain_is_told(line: str, by: str, within_nmi: float) -> None:
    (one,) = heard(line).understood
    assert one.kind == "datum.not_heard"
    assert (one.payload["by"], one.payload["observer"]) == (by, "TENACE")
    assert one.payload["within_m"] / 1852.0 == pytest.approx(within_nmi, abs=0.01)
    assert one.payload["started_at"][11:16] == "12:00"
    assert f"{one.valid_at:%H%M}" == "1240"
    assert one.payload["sounding_chance"] == 0.5
    assert "1 in 2" in one.words


def test_nothing_heard_without_its_hours_is_asked_for_them() -> None:
    hearing = heard("TENACE heard nothing")
    assert not hearing.understood
    assert [ask.lack for ask in hearing.asks] == ["from when", "until when"]


def test_what_she_was_heard_on_is_kept_with_it_and_is_no_ship() -> None:
    (one,) = heard("last heard on UHF at 1105 4320N 00840E within 2 nmi").understood
    assert (one.kind, one.payload["note"]) == ("datum.lkp", "heard by UHF")
    for line in ("last heard on UHF at 1105", "last contact by radio 1105"):
        hearing = heard(line)
        assert not hearing.understood
        assert "position" in [ask.lack for ask in hearing.asks]
        assert not any("new ship" in way for ask in hearing.asks for way in ask.lines)


@pytest.mark.parametrize(
    "line",
    ["20 people were forward, now 18", "report due 1214 received", "limit launch 2.5 m exceeded",
     "LIMPET dives at 1240, aborted", "TENACE eta 1400, delayed to 1530",
     "14 out from aft, 2 back", "course 215 speed 6 then 180", "TENACE thinks she heard tapping",
     "sea 2 m rising to 3 m at TENACE"],
)  # fmt: skip
def test_what_changed_since_is_not_offered_as_it_was(line: str) -> None:
    hearing = heard(line)
    assert not hearing.understood
    assert not [way for ask in hearing.asks for way in ask.lines if heard(way).understood]


def test_what_is_told_of_two_compartments_is_not_offered_crosswise() -> None:
    (ask,) = heard("forward hatch clear aft hatch fouled").asks
    told = [(one.payload["refuge"], one.payload["state"]) for one in heard(ask.lines[0]).understood]
    assert told == [("forward", "clear"), ("after", "fouled")]
    for line in ("forward 12 aft 19 dry", "forward hatch clear aft hatch fouled"):
        for ask in heard(line).asks:
            told = [one.payload for way in ask.lines for one in heard(way).understood]
            crossed = (("forward", "dry"), ("forward", "fouled"), ("after", "clear"))
            assert not [one for one in told if (one.get("refuge"), one.get("state")) in crossed]


def test_several_facts_of_one_line_are_told_of_their_own_compartments() -> None:
    told = heard("hatches: forward clear, aft fouled").understood
    assert [(one.payload["refuge"], one.payload["state"]) for one in told] == [
        ("forward", "clear"), ("after", "fouled")]  # fmt: skip
    told = heard("boat has 47 souls and is overdue since 1030").understood
    assert [one.kind for one in told] == ["survivors.complement", "datum.intended_movement"]


@pytest.mark.parametrize("line", ["datum is 4318N 00836E", "4318N 00836E is the datum"])
def test_where_the_datum_is_said_to_be_no_ship_is_put_there(line: str) -> None:
    kinds = {one.kind for ask in heard(line).asks for way in ask.lines
             for one in heard(way).understood}  # fmt: skip
    assert kinds == {"weather.place_of_work"}


@pytest.mark.parametrize(
    ("line", "kind"),
    [("SEAL POD 4312N 00833E seen by TENACE", "watch.note"),
     ("whales heard by TENACE 1210", "watch.note"),
     ("oil drum 4312N 00833E seen by TENACE", "datum.sighting")],
)  # fmt: skip
def test_a_thing_of_the_sea_is_offered_as_what_it_is_first(line: str, kind: str) -> None:
    (ask,) = heard(line).asks
    (one,) = heard(ask.lines[0]).understood
    assert one.kind == kind
    assert one.payload.get("what", "debris") == "debris"


def test_a_name_of_several_words_is_asked_whole_and_known_as_it_is_said() -> None:
    for name, said in (("SHE'S A KEEPER", "shes a keeper"), ("PRIDE OF ORKNEY", "Pride of Orkney")):
        (ask,) = heard(f"{name} 4312N 00830E").asks
        assert ask.readings == (f"new ship {name}",)
        later = heard(f"new ship {name}; {said} 4312N 00830E 1210").understood
        assert later[-1].payload["subject"] == name
    (ask,) = heard("hospital st anna 4405N 00955E 6 beds").asks
    (one,) = heard(ask.lines[0]).understood
    assert one.payload["hospital"] == "ST ANNA"


@pytest.mark.parametrize(
    ("line", "kind", "field", "value"),
    [("hospital SAINT ANNA 4405N 00955E 6 beds", "survivors.hospital", "hospital", "SAINT ANNA"),
     ("hospital Port General 4405N 00955E beds 4", "survivors.hospital", "hospital",
      "Port General"),
     ("port LA SPEZIA 4406N 00949E", "forward_port.port", "name", "LA SPEZIA"),
     ("vehicle SEA URCHIN 14 seats, cycle 5 h", "survivors.vehicle", "name", "SEA URCHIN"),
     ("chamber BIG BLUE 8 places", "survivors.chamber", "name", "BIG BLUE"),
     ("boat BLUE HERON length 60 m", "survivors.boat", "name", "BLUE HERON")],
)  # fmt: skip
def test_a_name_of_several_words_is_one_name(line: str, kind: str, field: str, value: str) -> None:
    hearing = heard(line)
    assert not hearing.asks
    (one,) = hearing.understood
    assert (one.kind, one.payload[field]) == (kind, value)


def test_a_time_that_opens_the_line_is_when_they_were_told() -> None:
    (one,) = heard("at 1150 families told that contact is lost").understood
    assert (one.kind, f"{one.valid_at:%H%M}") == ("watch.told_outside", "1150")


def test_a_slip_of_a_small_word_is_no_name_of_hers() -> None:
    hearing = heard("boat hsa 47 souls")
    assert not hearing.understood
    assert any("'has' meant" in ask.about for ask in hearing.asks)
