"""One observation of any report: the draft it becomes, and the rejects of what it cannot mean."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import PurePath
from typing import Any

from pydantic import ValidationError

from layers.contract import Origin, Reading
from layers.earth.errors import InputError
from layers.journal.record import Reject, content_identity
from layers.journal.words.models import refused
from layers.weather.model import NUMBERS, Observation

# NDBC writes behind the station in a file of the past a letter for its kind, and the year
_STATION = re.compile(
    r"(?<![0-9A-Za-z])(?=[0-9A-Za-z]{0,4}\d)([0-9A-Za-z]{5})(?:[a-z](?:19|20)\d\d)?(?![0-9A-Za-z])"
)
LONGEST_KEPT = 400
LEFT_OUT = "it is left out, the rest is kept"
NOTHING = "nothing of use here was measured"


def station_of_source(source: str) -> str:
    """Return the station that a buoy file's name or address speaks of.

    Buoy text carries no station: its file name does (``44013.txt``), as five letters and
    digits with at least one digit; failing that, the whole stem is the name.
    """
    found = _STATION.search(source)
    return (found.group(1) if found else PurePath(source).stem or source).upper()[:60]


def reject(origin: Origin, number: int | None, text: str, reason: str) -> Reject:
    """Return a reject whose line number counts from the start of the file."""
    line = None if number is None else origin.first_line + number - 1
    return Reject(source=origin.source, line=line, text=text[:LONGEST_KEPT], reason=reason)


def add_observation(
    reading: Reading,
    origin: Origin,
    number: int | None,
    text: str,
    at: datetime,
    fields: Mapping[str, Any],
    same: Mapping[str, Any] | None = None,
) -> None:
    """Put one observation into a reading; a value that cannot exist costs itself, and is told.

    The identity is who measured what at what time, so that the same report in another file, form
    or order is the same fact. The place and the note are not in it: one form of a report brings
    them, another does not. ``same`` stands for what was measured where part of that was worked
    out from the lines around it.

    Raises
    ------
    InputError
        Nothing is left that was measured.
    """
    payload = {name: value for name, value in fields.items() if value is not None}
    for why in leave_out_impossible(payload):
        reading.rejects.append(reject(origin, number, text, f"{why}; {LEFT_OUT}"))
    measured = {n: payload[n] for n in NUMBERS if n in payload and n not in _NOT_MEASURED}
    if not measured:
        raise InputError(NOTHING)
    who = {"station": payload["station"], "depth": payload.get("sea_depth_m")}
    reading.drafts.append(
        origin.draft(
            "weather.observation",
            payload,
            at,
            identity=content_identity("weather.observation", at, who | dict(same or measured)),
        )
    )


def leave_out_impossible(payload: dict[str, Any]) -> list[str]:
    """Take out of an observation what cannot be, and what is not believed without it; return why.

    Raises
    ------
    InputError
        What cannot be is none of its values: the observation is none.
    """
    why: list[str] = []
    for _ in range(len(payload)):
        try:
            Observation.model_validate(payload)
            break
        except ValidationError as failure:
            name = str(failure.errors()[0]["loc"][0]) if failure.errors()[0]["loc"] else ""
            if name not in NUMBERS:
                raise refused(failure) from None
            why.append(str(refused(failure)))
            del payload[name]
            payload.pop(_GOES_WITH.get(name, ""), None)
    return why


# What is not believed without the other: a direction with a speed that cannot be is a fault too.
_GOES_WITH = {"latitude_deg": "longitude_deg", "longitude_deg": "latitude_deg",
              "wind_kn": "wind_from_true_deg", "current_kn": "current_set_true_deg"}  # fmt: skip
_NOT_MEASURED = frozenset({"latitude_deg", "longitude_deg", "sea_depth_m"})


def whole_sea(fields: dict[str, Any], second_swell_m: float | None = None) -> str:
    """Give a significant height where wind waves and swells were seen apart, and say so.

    Their energies add: WMO-No. 702, "Guide to Wave Analysis and Forecasting", 1.3.8 (from memory).
    """
    parts = (fields.get("wind_wave_hs_m"), fields.get("swell_hs_m"), second_swell_m)
    seen = [height for height in parts if height is not None]
    if not seen or fields.get("hs_m") is not None:
        return ""
    fields["hs_m"] = round(math.sqrt(sum(height**2 for height in seen)), 2)
    return "Hs from wind waves and swell seen apart"
