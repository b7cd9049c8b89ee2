"""What people call a station, by the source that its reports come from.

A number alone says nothing in a hurry: ``Tressick Bank buoy (buoy 62X07)``. Feeds, alarms, log and
handover call it so, all by this.
"""

from __future__ import annotations

from collections.abc import Iterable

from layers.journal.known import Known

STATION = "weather.station"


def station_names(known: Known, sources: Iterable[str]) -> dict[str, str]:
    """Return the sources that have a name recorded for their number, each with both."""
    if STATION not in known.kinds:
        return {}
    names = {one.value.station: one.value.name for one in known.entries(STATION)}
    return {
        source: f"{names[word]} ({source})"
        for source in sources
        if (word := source.rpartition(" ")[2]) in names and names[word] not in source
    }


def called(known: Known, source: str) -> str:
    """Return what people call a source; the source itself where it has no other name."""
    return station_names(known, [source]).get(source, source)
