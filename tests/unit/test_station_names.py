"""A station is called by its name wherever its source is named, not by its number alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.holds import holding
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record, form_identity
from layers.journal.words.stations import station_names
from layers.watch.handover import since
from layers.watch.state import state


def known(**names: str) -> Any:
    records = [SimpleNamespace(value=SimpleNamespace(station=s, name=n)) for s, n in names.items()]
    return SimpleNamespace(kinds={"weather.station": None}, entries=lambda kind: records)


def test_a_buoy_s_source_is_called_by_the_name_recorded_for_its_number() -> None:
    # from the finding: Feeds showed "buoy 62X07", Weather "Tressick Bank buoy"
    found = station_names(
        known(**{"62X07": "Tressick Bank buoy"}), ["buoy 62X07", "buoy 62X12", "AIS receiver"]
    )
    assert found == {"buoy 62X07": "Tressick Bank buoy (buoy 62X07)"}


def test_a_name_that_the_source_says_already_is_not_said_twice() -> None:
    assert station_names(known(XPTK="XPTK"), ["airfield XPTK"]) == {}


def test_where_no_station_can_be_read_sources_keep_their_names() -> None:
    nothing = SimpleNamespace(kinds={})
    assert station_names(nothing, ["buoy 62X07"]) == {}  # type: ignore[arg-type]  # a stand-in with what is asked of it


NUMBER, NAME = "buoy 62X07", "Tressick Bank buoy (buoy 62X07)"


def said_of_the_buoy() -> dict[str, str]:
    """Return what alarms, handover and log say of a buoy that has gone silent in the exercise."""
    shelf, upto = demo_journal(DEMO_NOW)
    quiet = Draft(
        kind="watch.alarm",
        payload={"rule": "a" * 32, "about": NUMBER, "said": f"{NUMBER} was last heard",
                 "when": (DEMO_NOW - timedelta(hours=2)).isoformat()},
        valid_at=DEMO_NOW, heard_at=DEMO_NOW, source="alarms", identity=form_identity("quiet"),
    )  # fmt: skip
    seen_by = Draft(
        kind="watch.note", payload={"text": "read by hand"}, valid_at=DEMO_NOW, heard_at=DEMO_NOW,
        source=NUMBER, identity=form_identity("by hand"),
    )  # fmt: skip
    added = [
        as_record(draft, seq=upto + 1 + n, recorded_at=DEMO_NOW, author="alarms")
        for n, draft in enumerate((quiet, seen_by))
    ]
    whole = ListShelf([*shelf.records, *added])
    moment = Moment(DEMO_NOW, DEMO_NOW)
    known = Known(whole, KINDS, upto + 2, DEMO_NOW)
    watch = state(known, moment)
    (alarm,) = [one for one in watch.alarms if one.alarm.value.about == NUMBER]
    told = since(known, DEMO_NOW - timedelta(minutes=1), moment)
    return {
        "alarm": alarm.words(DEMO_NOW),
        "ended alarm": replace(alarm, ended=alarm.alarm).words(DEMO_NOW),
        "handover": " ".join(each.last_words for each in told.learnt),
        "log": " ".join(holding(known, one).now_words() for one in added[:1]),
        "from whom, in the log": holding(known, added[1]).source,
    }


def test_alarms_handover_and_log_call_a_buoy_by_its_name() -> None:
    # from the finding: alarms and the Watch page gave a number where the chart has a name
    for place, said in said_of_the_buoy().items():
        assert NAME in said, place
        assert NUMBER not in said.replace(NAME, ""), place
