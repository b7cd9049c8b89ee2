"""Lines as they are heard, with what each must come to; numbers worked by hand beside them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from layers.catalogue import KINDS
from layers.heard import around, hear
from tests.heard_world import NOW, grammar, heard, verdict, world


def at(hour: int, minute: int, day: int = 28) -> datetime:
    return datetime(2026, 11, day, hour, minute, tzinfo=UTC)


def one(text: str) -> dict[str, object]:
    hearing = heard(text)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (found,) = hearing.understood
    return {"kind": found.kind, "at": found.valid_at, "words": found.words, **found.payload}


def test_a_last_known_position() -> None:
    told = one("lkp 4320N 00840E 1044Z within 2 nmi")
    assert told["kind"] == "datum.lkp"
    assert told["latitude_deg"] == pytest.approx(43 + 20 / 60)
    assert told["longitude_deg"] == pytest.approx(8 + 40 / 60)
    # 2 nmi hold 95 % of a round normal error: sigma = 3704 m / 2.4477 = 1513.2 m
    assert told["sigma_m"] == pytest.approx(1513.2, abs=0.1)
    assert told["at"] == at(10, 44)


def test_what_is_heard_of_her_in_four_short_lines() -> None:
    hearing = heard("course 215 speed 6; report due 1214; 52 on board; sublook")
    assert [found.kind for found in hearing.understood] == [
        "datum.intended_movement", "datum.intended_movement", "survivors.complement", "watch.stage",
    ]  # fmt: skip
    assert hearing.understood[0].payload["speed_max_kn"] == 6.0
    assert hearing.understood[1].payload == {"report_due": "2026-11-28T12:14:00+00:00"}
    assert hearing.understood[2].payload["persons"] == 52
    assert "all on board" in hearing.understood[2].words, "what nobody said is read back"


def test_a_magnetic_bearing_is_read_back_true() -> None:
    told = one("TENACE bearing 060M 1152")
    assert (told["bearing_deg"], told["sense"], told["at"]) == (60.0, "magnetic", at(11, 52))
    # the World Magnetic Model 2025 has 3.4° east there: an independent trial worked 063.4°T
    assert "060°M = 063.4°T from TENACE, 1152Z" in str(told["words"])
    assert "± 2°" in str(told["words"])
    assert told["latitude_deg"] == pytest.approx(43.2)


def test_red_and_green_count_from_the_bow() -> None:
    told = one("TENACE relative red 50 heading 270")
    assert (told["bearing_deg"], told["sense"], told["heading_deg"]) == (310.0, "relative", 270.0)
    assert "220.0°T" in str(told["words"])  # 270 - 50


def test_a_range_and_its_metres() -> None:
    told = one("range 9.4 nmi from TENACE")
    assert told["slant_range_m"] == pytest.approx(9.4 * 1852.0)


def test_air_is_read_back_as_surface_equivalent() -> None:
    told = one("aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs")
    assert told["pressure"] == {"value": 1.4, "unit": "bar", "reference": "absolute"}
    # 1.9 % of 1.4 bar is 26.6 hPa; of one standard atmosphere, 1013.25 hPa, that is 2.6 %
    assert "1.9 % by volume = 2.6 % surface equivalent" in str(told["words"])


def test_people_moved_and_headcounts() -> None:
    told = one("14 out from aft on deck 0655")
    assert (told["from_place"], told["to_place"]) == ("after", "deck")
    assert told["groups"] == [{"persons": 14, "fitness": "unknown"}]
    hearing = heard("forward 20 people, aft 26")
    assert [(u.payload["place"], u.payload["persons"]) for u in hearing.understood] == [
        ("forward", 20), ("after", 26),
    ]  # fmt: skip


def test_a_search_that_saw_nothing_has_its_legs() -> None:
    told = one("nothing seen TENACE box 4310N 00820E to 4318N 00834E track 0.5 nmi 0900 to 1200")
    assert told["at"] == at(12, 0), "valid at its end"
    assert told["started_at"] == "2026-11-28T09:00:00+00:00"
    # 8 nmi of latitude by 14' of longitude, 10.2 nmi: tracks run east and west, 8 / 0.5 = 16
    assert len(told["waypoints"]) == 32  # type: ignore[arg-type]  # JSON, as it is recorded
    assert told["sweep_width_m"] == 1852.0, "as it is recorded for her"


def test_scrap_and_correct_name_the_record_by_its_number() -> None:
    told = one("scrap 14: wrong ship")
    assert (told["kind"], told["reason"]) == ("journal.retract", "wrong ship")
    told = one("correct 12: 1150Z")
    assert told["kind"] == "journal.correct"
    assert told["valid_at"] == "2026-11-28T11:50:00+00:00"
    assert one("correct 12: bearing 065T")["fields"] == {"bearing_deg": 65.0, "sense": "true"}
    assert heard("scrap 99: wrong ship").asks[0].about == "there is no record 99"


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("lkp 4320N 00840E 1044Z within 3,704 m", {"3704 m", "3.7040 m"}),
        ("TENACE bearing 060 1152", {"060T", "060M"}),
        ("aft co2 1.9 % at 1.4 bar", {"1.4 bar abs", "1.4 bar gauge"}),
        ("range 9.4 M from TENACE", {"9.4 m", "9.4 nmi"}),
        ("TENCE 4310N 00820E 240/12", {"TENACE"}),
        ("lkp 43.20N 008.40E 1044Z within 2 nmi", {"43.20000N 008.40000E", "43 20N 008 40E"}),
        ("aft co2 7 % at 1.4 bar abs", {"7 % confirmed"}),
    ],
)
def test_what_can_be_read_two_ways_is_asked_with_answers_that_leave_no_doubt(
    text: str, readings: set[str]
) -> None:
    hearing = heard(text)
    assert not hearing.understood
    (ask,) = hearing.asks
    assert set(ask.readings) == readings
    for line in ask.lines:
        again = heard(line)
        assert again.understood, (line, [more.about for more in again.asks])


@pytest.mark.parametrize(
    ("text", "about"),
    [
        ("lkp 4320N 00840E 1044Z", "last known position: within (95 %)?"),
        ("lkp 4320N 00840E within 2 nmi", "last known position: time?"),
        ("bearing 060M 1152", "bearing: ship?"),
        ("TENACE red 50", "bearing: heading?"),
        ("wind 310/25", "weather observation: ship or position?"),
        ("14 out from aft", "people moved: to which place or picked up?"),
        ("transponder T1 dropped 4315N 00830E turn-round 0.2 s", "transponder dropped: depth?"),
        ("lkp at within 2 nmi 4320N 00840E 1044Z", "not understood: at"),
    ],
)
def test_what_is_lacking_is_asked_for_by_its_name(text: str, about: str) -> None:
    hearing = heard(text)
    assert verdict(hearing) == "asked"
    assert [ask.about for ask in hearing.asks] == [about]


def test_what_lies_ahead_is_refused_with_yesterday_offered() -> None:
    assert heard("TENACE bearing 060M 1400Z").refused
    hearing = heard("sublook 1400Z")
    assert hearing.asks[0].readings == ("271400Z",)
    assert heard(hearing.asks[0].lines[0]).understood[0].valid_at == at(14, 0, 27)
    assert heard("TENACE report due 1400").understood, "what is due may lie ahead"


@pytest.mark.parametrize(
    "text",
    [
        "captain has been told", "question, what is your range", "coffee at the wardroom",
        "request, keep two miles clear of me",
    ],
)  # fmt: skip
def test_what_is_no_fact_is_kept_as_a_note(text: str) -> None:
    hearing = heard(text)
    assert verdict(hearing) == "note"
    assert hearing.notes == [text]


@pytest.mark.parametrize(
    "text",
    [
        "tapping not heard by TENACE 1210", "speed 6 or 8 kn course 215",
        "if nothing heard submiss at 1400", "TENACE bearing 060T to RESCUE 21",
        "lost TENACE 4310N 00820E", "moved 14 from to aft deck",
    ],
)  # fmt: skip
def test_negation_alternatives_and_lost_words_are_never_taken(text: str) -> None:
    assert verdict(heard(text)) == "asked"


@pytest.mark.parametrize(
    ("now", "line", "days"),
    [
        # ten past eleven at night: noon today is 10 h 56 min back, noon tomorrow 13 h 4 min ahead
        (at(23, 10), "report due 1214", ("281214Z", "291214Z")),
        (at(0, 30, 29), "she was due at 1214", ("281214Z", "291214Z")),
        (at(12, 52), "vehicle 14 seats, 5.5 h cycle, ready 0300", ("280300Z", "290300Z")),
        (at(23, 10), "TENACE report due 1230", ("281230Z", "291230Z")),
    ],
)
def test_an_hour_that_is_due_and_lies_far_off_on_either_day_is_asked_for_its_day(
    now: datetime, line: str, days: tuple[str, str]
) -> None:
    here = replace(world(), now=now)
    hearing = hear(line, grammar(), here)
    assert not hearing.understood
    (ask,) = hearing.asks
    assert ask.readings == days
    assert "which day" in ask.about
    for answer, day in zip(ask.lines, (28, 29), strict=True):
        (told,) = hear(answer, grammar(), here).understood
        (held,) = [v for k, v in told.payload.items() if k in ("report_due", "due", "ready_at")]
        assert datetime.fromisoformat(held).day == day


@pytest.mark.parametrize(
    ("now", "line"),
    [
        (at(23, 10), "report due 2200"),  # missed an hour ago
        (at(23, 10), "report due 0400"),  # in five hours
        (at(23, 10), "report due 281214Z"),
        (at(23, 10), "report due tomorrow 1214"),
        (at(23, 10), "overdue since 1214"),  # it can only lie back
    ],
)
def test_an_hour_that_is_due_and_near_or_told_with_its_day_is_not_asked(
    now: datetime, line: str
) -> None:
    assert hear(line, grammar(), replace(world(), now=now)).understood


def test_a_list_of_two_that_one_time_ends_is_asked() -> None:
    (ask,) = heard("forward 20 people, aft 26 people at 1210").asks
    assert ask.readings == ("for all", "for the last only")
    both = heard(ask.lines[0])
    assert [u.valid_at for u in both.understood] == [at(12, 10), at(12, 10)]
    last = heard(ask.lines[1])
    assert [u.valid_at for u in last.understood] == [NOW, at(12, 10)]


def test_a_position_far_from_all_that_is_plotted_offers_its_twin() -> None:
    hearing = heard("lkp 4320N 00840W 1044Z within 2 nmi")
    assert "nmi from all that is plotted" in hearing.asks[0].about
    near = heard(hearing.asks[0].lines[0])
    assert near.understood[0].payload["longitude_deg"] == pytest.approx(8.6666667)


def test_a_ship_that_opens_the_line_may_be_meant_for_the_rest_of_it() -> None:
    (ask,) = heard("TENACE 4310N 00820E, report due 1400").asks
    assert len(ask.readings) == 2


def test_where_no_ship_is_known_the_first_one_named_is_new() -> None:
    empty = around(KINDS, None, NOW)
    hearing = hear("TENACE 4310N 00820E 240/12", grammar(), empty)
    assert [found.kind for found in hearing.understood] == ["tracks.vessel", "tracks.position"]
    assert hearing.understood[0].payload["role"] == "search ship"
    known = heard("ORION 4310N 00820E")
    assert known.asks[0].readings == ("new ship ORION",)
    assert [u.kind for u in heard(known.asks[0].lines[0]).understood] == [
        "tracks.vessel", "tracks.position",
    ]  # fmt: skip


def test_a_correction_takes_the_place_of_what_it_corrects() -> None:
    told = one("TENACE bearing 125T, correction, 152T")
    assert told["bearing_deg"] == 152.0
    assert "withdrawn: 125T" in str(told["words"])


def test_why_says_what_was_taken_for_what() -> None:
    (found,) = heard("TENACE bearing 060M 1152").understood
    assert "060M: bearing" in found.why
    assert any(line.startswith("1152: time") for line in found.why)


def test_what_may_be_grid_or_green_is_asked() -> None:
    (ask,) = heard("TENACE bearing 045G").asks
    assert ask.readings == ("045 grid", "green 45")


def test_what_is_seen_on_a_bearing_at_a_distance_is_placed_from_the_ship() -> None:
    told = one("greyfin 1238 two lifejackets empty bearing 047 mag 4 cables")
    assert (told["kind"], told["what"], told["note"]) == (
        "datum.sighting",
        "lifejacket",
        "2, empty",
    )
    # 047°M is 050.5°T there (WMM2025 3.5° east); 0.4 nmi: north 0.254', east 0.309' of departure
    assert told["latitude_deg"] == pytest.approx(43.3 + 0.254 / 60, abs=2e-4)
    assert told["longitude_deg"] == pytest.approx(8.6 + 0.309 / 60 / 0.7278, abs=2e-4)
    assert "2 lifejacket empty" in str(told["words"]) or "2 lifejacket" in str(told["words"])
    assert verdict(heard("smoke bearing 110T from TENACE")) == "asked", "it is no bearing of her"
