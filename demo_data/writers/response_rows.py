"""Records of the response as they lie in its file, and the names that several parts share."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from demo_data.scenario import z

RECORDS = list[dict[str, Any]]


PLANNED = z(13, "1035")


FIRST_CHOICE, SECOND_CHOICE = z(13, "1145"), z(13, "1910")


ALL_LANTERN = ["lantern-aldermouth", "lantern-tressick", "lantern-skerry"]


ALL_ARDIS = ["ardis-aldermouth", "ardis-tressick"]


AT_ALDERMOUTH = ["lantern-aldermouth", "ardis-aldermouth"]


AT_TRESSICK = ["lantern-tressick", "ardis-tressick"]


def stamp(at: datetime) -> str:
    """Return a time as the records carry it."""
    return at.isoformat().replace("+00:00", "Z")


def row(
    form: str,
    kind: str,
    payload: dict[str, Any],
    at: datetime,
    source: str = "rescue staff",
    author: str = "watch officer 2",
) -> dict[str, Any]:
    """Return one record, heard when it was valid."""
    return {
        "id": f"forward-port-{form}",
        "kind": f"forward_port.{kind}",
        "valid_at": stamp(at),
        "heard_at": stamp(at),
        "source": source,
        "author": author,
        "payload": payload,
    }
