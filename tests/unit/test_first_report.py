"""The first report's card: any one field is enough, each read as people say it."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from pyproj import Geod

from dashboard.tools.first_report import LABELS, read, told
from layers.catalogue import KINDS
from layers.datum.marks import sketch
from layers.heard import Grammar, around, hear
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, as_record, form_identity

NOW = datetime(2027, 3, 13, 7, 5, tzinfo=UTC)
WHOLE = {
    "name": "GREYWETHER", "length": "68 m", "on_board": "69 sailing list", "good_to": "1 nmi",
    "position": "49 31.2N 009 31.2W", "movement": "065T 8 kn", "run": "95 nmi",
    "heard": "12 2200", "due": "13 0600", "stage": "SUBLOOK", "since": "0700", "next": "0900",
    "source": "submarine broadcast, duty officer",
}  # fmt: skip


def card(**typed):
    return read(typed, NOW, "watch officer", "form")


def payloads(found):
    return {draft.kind: draft.payload for draft in found.drafts}


def test_the_whole_card_is_five_records_and_says_what_it_read():
    found = card(**WHOLE)
    assert not found.wrong
    for draft in found.drafts:
        check_payload(KINDS[draft.kind], draft.payload, "")
    told = payloads(found)
    assert told["survivors.boat"]["length_m"] == 68.0
    assert told["survivors.complement"] == {"part": "sailing list", "persons": 69}
    # 1 nmi holds her with 95 %: 1852 m / 2.4477 along each axis
    assert told["datum.lkp"]["sigma_m"] == pytest.approx(756.6, abs=0.1)
    assert told["datum.intended_movement"]["report_due"] == "2027-03-13T06:00:00+00:00"
    assert told["watch.stage"]["next_due"] == "2027-03-13T09:00:00+00:00"
    lkp = next(draft for draft in found.drafts if draft.kind == "datum.lkp")
    assert lkp.valid_at == NOW.replace(day=12, hour=22, minute=0)
    assert lkp.source == "submarine broadcast, duty officer"
    assert "9 h 05 ago" in found.said["heard"]
    assert "missed 1 h 05 ago" in found.said["due"]
    assert "11.9 h at 8 kn" in found.said["run"]
    assert "SUBMISS if nothing is heard by 0900Z" in found.said["stage"]


@pytest.mark.parametrize(
    "name", [n for n in LABELS if n not in ("source", "good_to", "since", "next")]
)
def test_any_one_field_is_enough(name):
    found = card(**{name: WHOLE[name]})
    assert not found.wrong
    assert len(found.drafts) == 1
    check_payload(KINDS[found.drafts[0].kind], found.drafts[0].payload, "")


def test_nothing_typed_is_nothing():
    assert card().drafts == ()
    assert card(name="   ").drafts == ()


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("good_to", "1,852", "1852 m or 1.8520 m"),
        ("length", "680 m", "no length of a boat"),
        ("on_board", "many", "no number of people"),
        ("movement", "fast", "no course and speed"),
        ("movement", "065M 8 kn", "magnetic"),
        ("movement", "8", "course or speed"),
        ("heard", "1400", "lies ahead of now"),
        ("due", "whenever", "not a time"),
        ("position", "91N 8W", "latitude"),
    ],
)
def test_what_cannot_be_read_is_said_at_its_field_and_the_others_are_read(name, typed, said):
    found = card(**(WHOLE | {name: typed}))
    assert set(found.wrong) == {name}
    assert said in found.wrong[name]
    assert "read" in found.said["stage"]


@pytest.mark.parametrize(
    ("typed", "course", "speed"),
    [
        ("065T 8 kn", 65.0, 8.0), ("065/8", 65.0, 8.0), ("065 8", 65.0, 8.0), ("8 kn", None, 8.0),
        ("215T", 215.0, None), ("000, 12 knots", 0.0, 12.0), ("215 6,5", 215.0, 6.5),
    ],
)  # fmt: skip
def test_course_and_speed_as_they_are_said(typed, course, speed):
    told = payloads(card(movement=typed))["datum.intended_movement"]
    assert told.get("course_true_deg") == course
    assert told.get("speed_max_kn") == speed


def test_a_stage_that_was_not_said_has_no_hour():
    assert set(card(since="0700").wrong) == {"since"}
    assert "last stage" in card(stage="SUBSUNK", next="0900").wrong["next"]
    assert "not after 0700Z" in card(stage="SUBLOOK", since="0700", next="0655").wrong["next"]


def drawn(**typed):
    found = card(**typed)
    records = [
        as_record(draft, seq=n, recorded_at=NOW, author="a")
        for n, draft in enumerate(found.drafts, 1)
    ]
    marks = sketch(Known(ListShelf(records), KINDS, len(records), NOW), NOW)
    return {mark.key: mark for mark in marks}


def test_what_is_typed_draws_at_once_and_by_hand_it_is_there():
    assert drawn(name="GREYWETHER") == {}
    alone = drawn(position="49 31.2N 009 31.2W", good_to="1 nmi", heard="12 2200")
    assert {"lkp", "lkp within", "farthest-on"} <= set(alone)
    assert "dr" not in alone
    whole = drawn(**{k: v for k, v in WHOLE.items() if k != "due"})
    dr = whole["dr"].position
    # 8 kn for 9 h 05 is 72.7 nmi along 065
    away_m = Geod(ellps="WGS84").inv(-9.52, 49.52, dr.longitude_deg, dr.latitude_deg)[2]
    assert away_m / 1852.0 == pytest.approx(72.7, abs=0.3)
    ring = whole["farthest-on"]
    reach = Geod(ellps="WGS84").inv(
        np.full(ring.latitudes_deg.shape, -9.52), np.full(ring.latitudes_deg.shape, 49.52),
        ring.longitudes_deg, ring.latitudes_deg,
    )[2]  # fmt: skip
    # 15 kn, assumed, for 9 h 05 and the mile: 137.2 nmi
    assert reach / 1852.0 == pytest.approx(137.25, abs=0.3)


def test_what_lines_told_already_stands_in_the_card():
    records = []
    at = NOW
    for line in ("boat GREYWETHER length 68 m", "course 215", "speed 4 to 7 kn; report due 0630",
                 "69 on board", "sublook 0650"):  # fmt: skip
        for one in hear(line, Grammar(KINDS), around(KINDS, None, NOW)).understood:
            draft = Draft(kind=one.kind, payload=one.payload, valid_at=one.valid_at, heard_at=at,
                          source="voice", identity=form_identity(line + one.kind))  # fmt: skip
            records.append(as_record(draft, seq=len(records) + 1, recorded_at=at, author="watch"))
    known = Known(ListShelf(records), KINDS, len(records), NOW)
    assert told(known, NOW) == {
        "name": "told already: GREYWETHER",
        "length": "told already: 68 m",
        "movement": "told already: 215°T 4 to 7 kn",
        "due": "told already: 130630Z",
        "on_board": "told already: 69 all on board",
        "stage": "told already: SUBLOOK, 0650Z",
    }
    assert told(Known(ListShelf([]), KINDS, 0, NOW), NOW) == {}
