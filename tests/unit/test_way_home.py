"""The way home: who has the vehicle, gear and people, when each is home, and who must be told.

Written from how a rescue system goes home: the chain out turned round, its ship hands the vehicle
to a port agent, who hands it to an aircraft; survivors go on from hospital; a port that expects
her at one hour must hear when it is another. Times are reckoned by hand beside each check.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import AskedFirst, InputError
from layers.earth.told import Hour, ThingHome, WayHome
from layers.earth.uncertain import NotKnown, Stated
from layers.forward_port import LAYER
from layers.forward_port.home import report
from layers.forward_port.home.begin import way_back
from layers.forward_port.home.model import ask_held, ask_told
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import as_record
from tests.unit.forward_port_cases import NOW, ZERO, activity, known, option, result, row

END = ZERO + timedelta(days=6)  # the last lift: the way home begins
LATER = END  # the clock stands at the last lift, unless a case says otherwise


def chain(**lift: Any) -> list[Any]:
    """Return a way out of three activities, 2, 6 and 10 h, and the way home, 10, 6, 2 h."""
    return [
        option("out", last="out", port="Aldermouth", airfield="field"),
        row("port", name="Aldermouth", latitude_deg=51.8, longitude_deg=-8.3),
        activity("fly", hours=(6.0, 6.0, 6.0), returns=True),
        activity("lift", ["fly"], returns=True, **({"hours": (2.0, 2.0, 2.0)} | lift)),
        activity("sail", ["lift"], hours=(10.0, 10.0, 10.0), returns=True),
        activity("out", ["sail"]),
        row("option", key="home", title="Return of KESTREL", purpose="return",
            zero=END.isoformat(), zero_is="the last lift", last="fly", backwards_of="out"),
    ]  # fmt: skip


def held(what: str = "KESTREL", at: datetime = END, **more: Any) -> Any:
    return row("held", at, what=what, **({"held_by": "MERIDIAN", "sort": "vehicle"} | more))


def way(drafts: list[Any], at: datetime = LATER) -> WayHome:
    found = report.answer(result(drafts, at), Moment(at, at))
    assert isinstance(found, Stated), found
    return found.value


def thing(drafts: list[Any], at: datetime = LATER) -> ThingHome:
    return way(drafts, at).things[0]


def test_home_and_ready_again_are_reckoned_along_the_chain_backwards() -> None:
    made = row("ready_again", END, what="KESTREL", least_h=10.0, likely_h=20.0, most_h=40.0)
    one = thing([*chain(), held(), made])
    assert (one.held_by, one.since) == ("MERIDIAN", END)
    assert one.home.p50 == END + timedelta(hours=10 + 2 + 6)
    assert one.ready == Hour(
        p10=END + timedelta(hours=28), p50=END + timedelta(hours=38), p90=END + timedelta(hours=58)
    )
    assert one.step == "next: sail, the other way"


def test_what_happened_on_the_way_home_counts_and_the_last_to_have_it_is_told() -> None:
    later = END + timedelta(hours=13)
    drafts = [
        *chain(), held(),
        row("actual", later, activity="sail", option="home", started_at=END.isoformat(),
            finished_at=(END + timedelta(hours=12)).isoformat()),
        held("kestrel ", END + timedelta(hours=12), held_by="port agent", kept_at="Aldermouth",
             sort=None),
    ]  # fmt: skip
    one = thing(drafts, later)
    assert (one.held_by, one.kept_at, one.sort) == ("port agent", "Aldermouth", "vehicle")
    # 12 h, and nothing begun since: from now 2 h for the lift and 6 for the flight
    assert one.home.p50 == later + timedelta(hours=8)
    assert one.step == "next: lift, the other way"


def test_how_long_a_thing_takes_to_be_ready_is_not_guessed() -> None:
    one = thing([*chain(), held()])
    assert one.ready.p50 is None
    assert one.ready.at_least == END + timedelta(hours=18)
    assert one.ready.missing == ("how long KESTREL takes to be made ready",)


def test_an_activity_of_unknown_length_leaves_a_least_and_says_its_name() -> None:
    one = thing([*chain(hours=None), held()])
    assert one.home.p50 is None
    assert one.home.at_least == END + timedelta(hours=16)
    assert one.home.missing == ("how long: lift, the other way",)
    sailed = thing([*chain(hours=None), held(home_after="sail")])
    assert sailed.home.p50 == END + timedelta(hours=10)  # the lift comes after: it matters nothing


def test_taking_the_way_home_away_leaves_not_known() -> None:
    one = thing([*chain()[:-1], held()])
    assert one.home == Hour(missing=(report_no_way(),))
    assert one.ready.p50 is None
    assert one.ready.at_least is None
    with_two = [*chain(), row("option", key="other", title="By sea", purpose="return",
                              zero=END.isoformat(), last="fly", backwards_of="out")]  # fmt: skip
    asked = thing([*with_two, held()]).home
    assert asked.missing == ("which way KESTREL goes home",)
    assert thing([*with_two, held(by_way="other")]).home.p50 == END + timedelta(hours=18)


def report_no_way() -> str:
    return "a way home: the chain back, and which of it ends here"


def test_who_has_what_can_be_told_before_any_port_or_chain_is() -> None:
    one = thing([held("deck crew", sort="people", persons=14, held_by="CAPE ARDIS")])
    assert (one.persons, one.home.p50) == (14, None)
    found = result([held("deck crew", sort="people", persons=14, held_by="CAPE ARDIS")], LATER)
    assert "deck crew (14 persons): with CAPE ARDIS since" in LAYER.sentence(found)


def test_nobody_told_who_has_what_is_not_known_and_says_what_to_ask() -> None:
    found = report.answer(result(chain(), LATER), Moment(LATER, LATER))
    assert isinstance(found, NotKnown)
    assert found.missing == ("who has the vehicle, the gear and the people",)


def test_a_thing_that_lies_where_it_is_bound_for_is_home_since_it_came_there() -> None:
    came = END + timedelta(days=2)
    drafts = [
        *chain(), held(bound_for="Rescue base"),
        held(at=came, held_by="base", kept_at="rescue  BASE"),
        held(at=came + timedelta(hours=9), held_by="workshop", kept_at="Rescue base"),
    ]  # fmt: skip
    one = thing(drafts, came + timedelta(hours=10))
    assert one.home == Hour(done=came)
    ready = row("ready_again", came + timedelta(hours=9), what="KESTREL", is_ready=True)
    assert thing([*drafts, ready], came + timedelta(hours=10)).ready.done is not None


def test_an_hour_told_before_the_thing_is_home_is_not_believed() -> None:
    soon = row("ready_again", END, what="KESTREL", again_at=(END + timedelta(hours=5)).isoformat())
    one = thing([*chain(), held(), soon])
    assert one.ready.p50 is None
    assert one.ready.at_least == END + timedelta(hours=18)
    assert "before it is home" in one.ready.missing[0]


def told(place: str, hours: float | None, at: datetime = END, **more: Any) -> Any:
    said = {} if hours is None else {"expected_at": (END + timedelta(hours=hours)).isoformat()}
    return row("told_coming", at, port_or_hospital=place, coming="KESTREL", **said, **more)


def to_do(drafts: list[Any], place: str) -> str:
    return next(one.to_do for one in way(drafts).places if one.place == place)


def test_ports_and_hospitals_are_told_told_again_and_a_refusal_stands() -> None:
    home = held(bound_for="St Brannoc's")
    assert to_do([*chain(), home], "Aldermouth") == "not told yet"
    assert to_do([*chain(), home], "St Brannoc's") == "not told yet"
    name = "St Brannoc's"  # KESTREL is there after 18 h
    assert to_do([*chain(), home, told(name, 18, accepted="accepts")], name) == ""
    assert to_do([*chain(), home, told(name, 18)], name) == "told, not answered"
    assert to_do([*chain(), home, told(name, 12, accepted="accepts")], name).startswith(
        "tell again"
    )
    assert to_do([*chain(), home, told(name, None)], name) == "no hour was told"
    said = [told(name, 18, accepted="accepts"), told(name, 18, LATER, accepted="refuses")]
    assert to_do([*chain(), home, *said], name) == "refuses: another place is needed"


def test_whoever_closes_is_told_what_is_not_home() -> None:
    found = report.answer(result([*chain(), held()], LATER), Moment(LATER, LATER))
    left = report.left_open(found)
    assert "KESTREL is not home: with MERIDIAN" in left
    assert "Aldermouth, told of the way home: not told yet" in left
    assert report.left_open(NotKnown()) == ()


def test_a_count_of_persons_is_of_people_and_ready_is_told_in_one_way() -> None:
    kinds = {kind.name: kind for kind in LAYER.kinds}
    payload: dict[str, Any] = {"what": "K", "held_by": "A", "sort": "gear", "persons": 3}
    with pytest.raises(InputError, match="persons are counted of people"):
        check_payload(kinds["forward_port.held"], payload, "row")
    for more in ({}, {"least_h": 1.0}, {"is_ready": True, "again_at": END.isoformat()}):
        with pytest.raises(InputError):
            check_payload(kinds["forward_port.ready_again"], {"what": "K", **more}, "row")


def test_two_hands_that_tell_of_one_thing_otherwise_are_asked() -> None:
    first = as_record(held(at=NOW), seq=1, recorded_at=NOW, author="AB")
    known = Known(ListShelf([first]), KINDS, 1, NOW)
    other = held(at=NOW, held_by="CAPE ARDIS")
    value = check_payload(KINDS["forward_port.held"], other.payload, "row")
    with pytest.raises(AskedFirst, match="MERIDIAN has KESTREL"):
        ask_held(value, other, known, "CD")  # type: ignore[arg-type]  # a stand-in with what is asked of it
    accepted = told("Aldermouth", 5, NOW, accepted="accepts")
    refused = told("aldermouth", 5, NOW, accepted="refuses")
    held_ = as_record(accepted, seq=1, recorded_at=NOW, author="AB")
    known = Known(ListShelf([held_]), KINDS, 1, NOW)
    value = check_payload(KINDS["forward_port.told_coming"], refused.payload, "row")
    with pytest.raises(AskedFirst, match="Aldermouth accepts KESTREL"):
        ask_told(value, refused, known, "CD")  # type: ignore[arg-type]  # a stand-in with what is asked of it


def test_both_tables_and_the_wall_say_what_the_answer_says() -> None:
    found = result([*chain(), held()], LATER)
    things = LAYER.tables(found)["The way home"].rows  # type: ignore[misc]  # the layer has one
    assert things[0][1] == "MERIDIAN"
    assert "not before" in str(things[0][-1])
    assert LAYER.wall_line(found).startswith("KESTREL with MERIDIAN, home ")  # type: ignore[misc]  # the layer has one
    assert LAYER.wall_line(result(chain(), LATER)) == ""  # type: ignore[misc]  # the layer has one


def test_what_was_ready_and_is_handed_on_is_on_its_way_once_more() -> None:
    ready = row("ready_again", END, what="KESTREL", is_ready=True)
    lent = held(at=END + timedelta(hours=2), held_by="freight aircraft")
    one = thing([*chain(), held(), ready, lent], END + timedelta(hours=2))
    assert one.ready.done is None


def test_the_chain_home_is_begun_by_one_press_and_ends_where_the_way_out_began() -> None:
    drafts = chain()[:-1]
    found = result(drafts, END)
    payload = way_back(known(drafts, END), found.options[0], END, ["out"])
    begun = result([*drafts, row("option", **payload), held()], END)
    one = report.answer(begun, Moment(END, END))
    assert isinstance(one, Stated)
    assert one.value.things[0].home.p50 == END + timedelta(hours=18)
    bare = [option("out", last="out"), activity("out")]
    with pytest.raises(InputError, match="also done on the way home"):
        way_back(known(bare, END), result(bare, END).options[0], END, [])
