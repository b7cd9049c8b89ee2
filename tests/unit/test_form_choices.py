"""Whatever names something that exists is chosen from what exists, in every form of every kind.

Written from the issue's text (lists of what exists instead of keys to be typed: ships, refuges,
ports, activities, records) over all kinds that people type. A text field is either listed here as
one that tells in words or gives a name, or what it names must be offered; a new field of a new
kind is decided on by whoever adds it.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from dashboard.tools.forms.choices import offered
from dashboard.tools.forms.fields import fields_of
from dashboard.tools.forms.record_form import typed_kinds
from layers.catalogue import KINDS
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record, form_identity
from layers.picture import Picture
from tests.heard_world import NOW

SHIP = (("tracks.vessel", "name"),)
REFUGE = (("survivors.place", "name"),)
PORT = (("forward_port.port", "name"),)
OPTION = (("forward_port.option", "key"),)
ACTIVITY = (("forward_port.activity", "key"),)
VEHICLE = (("survivors.vehicle", "name"),)
CHAMBER = (("survivors.chamber", "name"),)
AIRFIELD = (("forward_port.airfield", "name"),)
OBJECT = (("datum.object", "name"),)
DROP = (("transponders.drop", "transponder"),)
ENDS = (*PORT, *AIRFIELD, ("survivors.hospital", "hospital"))
HELD = (("forward_port.held", "what"),)
# field -> of what kinds, and by which of their fields, it names something that exists
REFERS: dict[str, tuple[tuple[str, str], ...]] = {
    "observer": SHIP, "searcher": SHIP, "ship": SHIP, "who": SHIP, "with_whom": SHIP,
    "carried_by": SHIP, "held_by": SHIP, "reported_by": SHIP, "datum.searcher.name": SHIP,
    "datum.object_found.by": SHIP, "weather.observation.station": SHIP,
    "tracks.position.subject": (("tracks.vessel", "subject"),),
    "transponders.typed_fix.subject": VEHICLE,
    "refuge": REFUGE, "refuges": REFUGE, "refuge_order": REFUGE, "from_place": REFUGE,
    "to_place": REFUGE, "survivors.report.place": REFUGE,
    "port": PORT, "standard": PORT, "kept_at": ENDS, "bound_for": ENDS, "port_or_hospital": ENDS,
    "airfield": AIRFIELD, "airport": AIRFIELD,
    "option": OPTION, "options": OPTION, "backwards_of": OPTION, "response": OPTION,
    "chosen": OPTION, "by_way": OPTION,
    "activity": ACTIVITY, "after": ACTIVITY, "sight": ACTIVITY, "ready": ACTIVITY,
    "last": ACTIVITY, "home_after": ACTIVITY, "alongside": ACTIVITY,
    "vehicle": VEHICLE, "add_vehicle": VEHICLE, "forward_port.held.what": VEHICLE,
    "forward_port.ready_again.what": HELD,
    "chamber": CHAMBER, "add_chamber": CHAMBER, "chambers_of": (("survivors.ship", "name"),),
    "lift": (("survivors.lift", "key"),), "pod": (("survivors.pod", "pod"),),
    "group": (("survivors.in_water", "group"),), "craft": (("survivors.craft", "craft"),),
    "seat": (("survivors.seat", "seat"),),
    "object": OBJECT, "into": OBJECT, "split_from": OBJECT,
    "transponder": DROP, "one": DROP, "other": DROP,
    "aircraft": (("forward_port.aircraft", "name"),),
    "berth": (("forward_port.berth", "name"),), "road": (("forward_port.road", "name"),),
    "trailer": (("forward_port.trailer", "name"),), "leg": (("forward_port.leg", "key"),),
    "route": (("tracks.route", "name"),), "office": (("watch.in_charge", "office"),),
    "asked_of": (("watch.help_asked", "asked_of"),),
    "watch.help_answered.by": (("watch.help_asked", "asked_of"),),
    "whom": (("watch.told_outside", "whom"),), "zero_is": (("watch.stage", "stage"),),
}  # fmt: skip
RECORDS = {"target", "replaces"}  # fields that name a record by its number and what it says
# told in words, a person's name, or the name that the record itself gives
WORDS = {
    "about", "answer_said", "approved_by", "basis", "because", "by", "call_sign", "cause",
    "coming", "country", "datum", "decided_by", "entered_by", "expects", "fault", "fitness",
    "from_format", "gas_name", "given_by", "given_to", "head_hash", "hospital", "how",
    "in_place_of", "instrument", "items", "kept_by", "key", "kinds", "lacks", "leeway_source",
    "left_open", "line", "loaded_from", "matters", "means", "name", "next_incident", "note",
    "notes", "over", "part", "paths", "pattern", "pennant", "provenance", "reach", "reason",
    "reasons", "remark", "resource", "room", "said", "said_by", "sea_area", "sea_source",
    "searching", "sensor", "server", "set_by", "size", "source", "station", "subject", "surface",
    "taken_by", "taken_from", "tell_next", "text", "title", "to_whom", "told", "value", "what",
    "when", "object_type", "place", "gas", "names", "speaks_against", "speaks_for",
}  # fmt: skip


def _text_fields() -> list[tuple[str, str]]:
    """Return every field told in text, the columns of tables among them."""
    return [
        (name, field.name)
        for name, kind in typed_kinds().items()
        for whole in fields_of(kind.model.model_json_schema(), name)
        for field in (whole, *whole.columns)
        if field.sort in ("text", "lines")
    ]


def _refers(kind: str, field: str) -> tuple[tuple[str, str], ...]:
    last = field.rsplit(".", 1)[-1]
    return REFERS.get(f"{kind}.{last}") or REFERS.get(last) or ()


NAMING = [one for one in _text_fields() if _refers(*one)]


@pytest.fixture(scope="module")
def more() -> Known:
    """What the exercise has none of: a help that was asked, a route at sea, places of her own."""
    told = [
        ("watch.help_asked", {"asked_of": "Naval Staff", "what": "two chambers"}),
        ("tracks.route", {"name": "out by the west", "waypoints": [
            {"latitude_deg": 43.0, "longitude_deg": 8.0},
            {"latitude_deg": 43.2, "longitude_deg": 8.4}]}),
        ("survivors.place", {"name": "engine room", "sort": "refuge"}),
        ("survivors.place", {"name": "fore ends", "sort": "refuge"}),
        ("forward_port.held", {"what": "gear lot 2", "held_by": "CAPE ARDIS"}),
    ]  # fmt: skip
    records = []
    for seq, (kind, payload) in enumerate(told, 1):
        made = Draft(kind=kind, payload=payload, valid_at=NOW, heard_at=NOW, source="telephone",
                     identity=form_identity(f"more {seq}"))  # fmt: skip
        records.append(as_record(made, seq=seq, recorded_at=NOW, author="watch officer 1"))
    return Known(ListShelf(records), KINDS, len(records), NOW)


def _existing(known: Known, of: Iterable[tuple[str, str]]) -> set[str]:
    return {
        str(getattr(entry.value, field))
        for kind, field in of for entry in known.entries(kind)
        if getattr(entry.value, field) and (of is not REFUGE or entry.value.sort == "refuge")
    }  # fmt: skip


def test_every_text_field_is_known_to_name_something_or_to_tell_in_words() -> None:
    undecided = [
        f"{kind}.{field}"
        for kind, field in _text_fields()
        if not _refers(kind, field) and field.rsplit(".", 1)[-1] not in {*WORDS, *RECORDS}
    ]
    assert not undecided
    assert len(NAMING) > 80


@pytest.mark.parametrize(("kind", "field"), NAMING, ids=[".".join(one) for one in NAMING])
def test_a_field_that_names_what_exists_offers_all_of_it(
    kind: str, field: str, demo: tuple[Picture, Known], more: Known
) -> None:
    tried = False
    for known in (demo[1], more):
        there = _existing(known, _refers(kind, field))
        if there:
            tried = True
            some = offered(known, kind, field)
            assert some is not None
            assert there <= set(some.values)
    assert tried, "nothing of that sort exists in either journal: nothing was tried"


def test_a_field_that_names_a_record_offers_it_by_number_and_words(
    demo: tuple[Picture, Known],
) -> None:
    of_records = [one for one in _text_fields() if one[1].rsplit(".", 1)[-1] in RECORDS]
    assert len(of_records) > 10
    shown = 0
    for kind, field in of_records:
        some = offered(demo[1], kind, field)
        assert some is not None, f"{kind}.{field}"
        assert not some.open
        for value in some.values:
            assert some.label(value).startswith("No. ")
            assert value not in some.label(value)  # nobody reads an id
        shown += len(some.values)
    assert shown > 50


def test_where_the_journal_refuses_a_new_name_none_can_be_typed(
    demo: tuple[Picture, Known],
) -> None:
    for kind, field in (("survivors.air", "refuge"), ("survivors.lift", "vehicle"),
                        ("survivors.move", "to_place")):  # fmt: skip
        some = offered(demo[1], kind, field)
        assert some is not None
        assert not some.open
