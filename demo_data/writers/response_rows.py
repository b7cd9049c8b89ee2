"""Records of the response as they lie in its file, and the names that several parts share."""

from __future__ import annotations

from datetime import datetime

from demo_data.scenario import z
from demo_data.writers import rows
from demo_data.writers.rows import Row

RECORDS = list[Row]
PLANNED = z(13, "1035")
FIRST_CHOICE, SECOND_CHOICE = z(13, "1145"), z(13, "1910")
ALL_LANTERN = ["lantern-aldermouth", "lantern-tressick", "lantern-skerry"]
ALL_ARDIS = ["ardis-aldermouth", "ardis-tressick"]
AT_ALDERMOUTH = ["lantern-aldermouth", "ardis-aldermouth"]
AT_TRESSICK = ["lantern-tressick", "ardis-tressick"]


def row(
    form: str,
    kind: str,
    payload: Row,
    at: datetime,
    source: str = "rescue staff",
    author: str = "watch officer 2",
) -> Row:
    """Return one record, heard when it was valid."""
    name = f"forward-port-{form}"
    return rows.row(name, f"forward_port.{kind}", at, payload, source=source, author=author)
