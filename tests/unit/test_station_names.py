"""A station is called by its name wherever its source is named, not by its number alone."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from dashboard.panels import health


def seen(**names: str) -> Any:
    records = [SimpleNamespace(value=SimpleNamespace(station=s, name=n)) for s, n in names.items()]
    known = SimpleNamespace(kinds={"weather.station": None}, entries=lambda kind: records)
    return SimpleNamespace(known=known)


def test_a_buoy_s_source_is_called_by_the_name_recorded_for_its_number() -> None:
    # from the finding: Feeds showed "buoy 62X07", Weather "Tressick Bank buoy"
    found = health.station_names(
        seen(**{"62X07": "Tressick Bank buoy"}), ["buoy 62X07", "buoy 62X12", "AIS receiver"]
    )
    assert found == {"buoy 62X07": "Tressick Bank buoy (buoy 62X07)"}


def test_a_name_that_the_source_says_already_is_not_said_twice() -> None:
    assert health.station_names(seen(XPTK="XPTK"), ["airfield XPTK"]) == {}


def test_where_no_station_can_be_read_sources_keep_their_names() -> None:
    nothing = SimpleNamespace(known=SimpleNamespace(kinds={}))
    assert health.station_names(nothing, ["buoy 62X07"]) == {}  # type: ignore[arg-type]
