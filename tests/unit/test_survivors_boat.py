"""The boat told piece by piece, and her own compartments in place of ready-made ones."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, as_record, form_identity
from layers.survivors.muster.boat import boat_of
from layers.survivors.muster.muster import place_sorts

START = datetime(2027, 3, 13, 7, 0, tzinfo=UTC)


def known(*facts):
    records = []
    for number, (kind, payload) in enumerate(facts, start=1):
        check_payload(KINDS[kind], payload, kind)
        at = START + timedelta(minutes=number)
        draft = Draft(
            kind=kind, payload=payload, valid_at=at, heard_at=at, source="test",
            identity=form_identity(str(number)),
        )  # fmt: skip
        records.append(as_record(draft, seq=number, recorded_at=at, author="a"))
    return Known(ListShelf(records), KINDS, len(records), START + timedelta(hours=1))


def test_each_field_is_what_was_told_last_and_a_later_one_loses_none():
    found = known(
        ("survivors.boat", {"name": "GREYWETHER", "length_m": 62.0}),
        ("survivors.boat", {"length_m": 68.0}),
        ("survivors.lies", {"heading_true_deg": 192.0, "list_deg": -8.0, "depth_m": 118.0}),
        ("survivors.boat", {"escape_depth_m": 180.0}),
    )
    boat = boat_of(found, START + timedelta(hours=1))
    assert (boat.name, boat.length_m, boat.escape_depth_m) == ("GREYWETHER", 68.0, 180.0)
    assert len(boat.rests_on) == 4
    assert boat.words() == (
        "length 68 m, escape down to 180 m, lies at 118 m, heading 192°T, list 8° to port"
    )
    before = boat_of(found, START + timedelta(minutes=1, seconds=30))
    assert before.length_m == 62.0
    assert boat_of(known(), START).words() == ""


@pytest.mark.parametrize("kind", ["survivors.boat", "survivors.lies"])
def test_nothing_told_is_no_record_and_any_one_field_is(kind):
    with pytest.raises(InputError, match="one field is enough"):
        check_payload(KINDS[kind], {"remark": "as before"}, kind)
    one = {"survivors.boat": {"name": "X"}, "survivors.lies": {"depth_m": 90.0}}[kind]
    check_payload(KINDS[kind], one, kind)


def refuges(*facts):
    return [name for name, sort in place_sorts(known(*facts)).items() if sort == "refuge"]


def test_ready_made_refuges_go_when_her_own_are_told_unless_people_are_told_in_them():
    control = ("survivors.place", {"name": "Control room", "sort": "refuge"})
    motor = ("survivors.place", {"name": "Motor room", "sort": "refuge"})
    assert refuges() == ["forward", "after"]
    assert refuges(control, motor) == ["Control room", "Motor room"]
    heard = ("survivors.report", {"place": "after", "persons": 3})
    assert refuges(control, heard) == ["after", "Control room"]
    # a third chamber is no compartment of hers
    chamber = ("survivors.place", {"name": "chamber 3", "sort": "chamber"})
    assert refuges(chamber) == ["forward", "after"]
