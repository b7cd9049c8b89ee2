"""SYNOP (FM 12), SHIP (FM 13) and SYNOP MOBIL (FM 14): five-figure groups.

WMO-No. 306 vol. I.1. A group with slashes is not reported. The month and year are not in the
code: they follow from when the bulletin was received, and the record says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.rows import bare_text
from layers.earth.errors import InputError
from layers.earth.units import M_PER_NMI, M_S_PER_KN
from layers.weather.feeds.lines import (
    LEFT_OUT,
    add_observation,
    leave_out_impossible,
    reject,
    whole_sea,
)
from layers.weather.feeds.month import Months

_START = re.compile(r"\b(AAXX|BBXX|OOXX)\b")
_TIME = re.compile(r"^(\d{2})(\d{2})([0134/])$")
_CORRECTED = re.compile(r"^CC[A-X]$")
SECTIONS = ("333", "444", "555")
ACCEPTED = "AAXX, BBXX or OOXX, then groups of five figures, each report ended by ="


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are synoptic reports."""
    text = head.decode("latin-1")
    found = _START.search(text)
    if not found:
        return 0.0
    after = text[found.end() : found.end() + 40].split()
    return 0.95 if any(re.fullmatch(r"[\d/]{5}", word) for word in after) else 0.1


def read(data: bytes, origin: Origin) -> Reading:
    """Return one observation a report, or the reason why there is none."""
    reading, months = Reading(), Months(origin)
    for number, text, corrected in _reports(bare_text(data), reading):
        try:
            at, groups = _report(text, months)
            groups.fields["corrected"] = 1 if corrected else None
            for fault in groups.faults:
                reading.rejects.append(reject(origin, number, text, f"{fault}; {LEFT_OUT}"))
            add_observation(reading, origin, number, text, at, groups.fields)
        except InputError as fault:
            reading.rejects.append(reject(origin, number, text, str(fault)))
    reading.asks = months.asks()
    return reading


def _reports(text: str, reading: Reading) -> Iterator[tuple[int, str, bool]]:
    """Yield each report with the line it begins on, the section's own head put before it.

    And whether its bulletin is a corrected one (CCA, CCB ... in its heading, WMO-No. 386).
    """
    head, corrected = "", False
    line = 1
    for piece in re.split(r"(=)", text):
        if piece == "=":
            continue
        start = line + piece[: len(piece) - len(piece.lstrip())].count("\n")
        line += piece.count("\n")
        words = piece.split()
        places = [index for index, word in enumerate(words) if word in ("AAXX", "BBXX", "OOXX")]
        if places:
            first = places[-1]
            _pass_over(reading, "bulletin heading", bool(words[:first]))
            if words[:first]:
                corrected = any(_CORRECTED.match(word) for word in words[:first])
            words = words[first:]
            head = " ".join(words[: 2 if words[0] == "AAXX" else 1])
        elif head and words:
            words = [*head.split(), *words]
        if not words:
            continue
        if "NIL" in words:
            _pass_over(reading, "report that says NIL", True)
            continue
        yield start, " ".join(words), corrected


def _pass_over(reading: Reading, what: str, happened: bool) -> None:
    if happened:
        reading.passed_over[what] = reading.passed_over.get(what, 0) + 1


@dataclass(slots=True)
class _Groups:
    """The groups of one report, taken from the left."""

    words: list[str]
    fields: dict[str, Any] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)  # of groups that cost only themselves

    def take(self, what: str) -> str:
        """Return the next group, or say which one is missing."""
        if not self.words:
            raise InputError(f"the report ends before {what}", accepted=ACCEPTED)
        return self.words.pop(0)


def _report(text: str, months: Months) -> tuple[datetime, _Groups]:
    """Return time and fields of one report, and what was wrong in it.

    Raises
    ------
    InputError
        A group that is not one of the code.
    """
    groups = _Groups(text.split())
    form = groups.take("its kind")
    if form not in ("AAXX", "BBXX", "OOXX"):
        raise InputError(f"{form!r} begins no report", accepted=ACCEPTED)
    fields = groups.fields
    if form == "AAXX":
        at, knots = _time(groups.take("its time"), months)
        fields["station"], fields["sort"] = _land_station(groups.take("its station")), "land"
    else:
        sort = "ship" if form == "BBXX" else "land"
        fields["station"], fields["sort"] = groups.take("its call sign")[:60], sort
        at, knots = _time(groups.take("its time"), months)
        _ship_position(groups)
        if form == "OOXX":
            groups.take("its square")
            groups.take("its height above the sea")
    fields["note"] = months.words
    _visibility(groups.take("visibility"), fields)
    _wind(groups, knots)
    section, second_m = "111", None
    while groups.words:
        word = groups.words.pop(0)
        if word[:3] == "222" and section == "111":
            section = "222"
        elif word in SECTIONS:
            break  # national and regional groups: nothing that is used here
        elif section == "111":
            try:
                _land_group(word, fields)
            except InputError as fault:
                groups.faults.append(str(fault))
        elif re.fullmatch(r"5[\d/]{2}\d{2}", word):
            second_m = int(word[3:]) * 0.5  # the height of the second swell, half metres
        else:
            _sea_group(word, fields)
    groups.faults += leave_out_impossible(fields)
    if told := whole_sea(fields, second_m):
        fields["note"] += f"; {told}"
    return at, groups


def _time(word: str, months: Months) -> tuple[datetime, bool]:
    """Return the time and whether the wind is in knots."""
    found = _TIME.match(word)
    if not found:
        raise InputError(f"{word!r} is not day, hour and wind indicator", accepted="as 16061")
    if found.group(3) == "/":
        raise InputError("its wind indicator is not given, and a unit is never guessed")
    at = months.dated(int(found.group(1)), int(found.group(2)), 0)
    return at, found.group(3) in "34"  # code table 1855: 0, 1 metres a second; 3, 4 knots


def _land_station(word: str) -> str:
    if not re.fullmatch(r"\d{5}", word):
        raise InputError(f"{word!r} is not a station number", accepted="five figures")
    return word


def _ship_position(groups: _Groups) -> None:
    """Put the position of 99LaLaLa QcLoLoLoLo (code table 3333) among the fields."""
    latitude, longitude = groups.take("its latitude"), groups.take("its longitude")
    said = re.fullmatch(r"99(\d{3}) [1357](\d{4})", f"{latitude} {longitude}")
    if said is None or int(said[1]) > 900 or int(said[2]) > 1800:
        raise InputError(
            f"{latitude} {longitude} is not a position", accepted="99LaLaLa QcLoLoLoLo, Q 1 3 5 7"
        )
    quadrant = longitude[0]
    north = 1.0 if quadrant in "17" else -1.0
    east = 1.0 if quadrant in "13" else -1.0
    groups.fields["latitude_deg"] = north * int(latitude[2:]) / 10.0
    groups.fields["longitude_deg"] = east * int(longitude[1:]) / 10.0


def _visibility(word: str, fields: dict[str, Any]) -> None:
    if not re.fullmatch(r"[\d/]{5}", word):
        raise InputError(f"{word!r} is not the group iRiXhVV")
    if word[3:].isdigit():
        kilometres = visibility_km(int(word[3:]))
        if kilometres is not None:
            fields["visibility_nmi"] = round(min(kilometres * 1000.0 / M_PER_NMI, 60.0), 2)


def visibility_km(code: int) -> float | None:
    """Return kilometres for the visibility code (WMO code table 4377), the lower bound."""
    if code <= 50:
        return code / 10.0
    if 56 <= code <= 80:
        return code - 50.0
    if 81 <= code <= 89:
        return 30.0 + (code - 80) * 5.0
    return {90: 0.0, 91: 0.05, 92: 0.2, 93: 0.5, 94: 1.0, 95: 2.0, 96: 4.0, 97: 10.0, 98: 20.0,
            99: 50.0}.get(code)  # fmt: skip


def _wind(groups: _Groups, knots: bool) -> None:
    word = groups.take("wind")
    if not re.fullmatch(r"[\d/]{5}", word):
        raise InputError(f"{word!r} is not the group Nddff")
    speed = int(word[3:]) if word[3:].isdigit() else None
    if speed == 99 and groups.words and re.fullmatch(r"00\d{3}", groups.words[0]):
        speed = int(groups.words.pop(0)[2:])
    if speed is not None:
        groups.fields["wind_kn"] = float(speed) if knots else round(speed / M_S_PER_KN, 2)
    if word[1:3].isdigit() and speed:
        tens = int(word[1:3])
        if 1 <= tens <= 36:
            groups.fields["wind_from_true_deg"] = tens * 10.0 % 360.0
        elif tens not in (0, 99):
            raise InputError(f"wind from {tens * 10}° in {word!r}", accepted="01 to 36, 00, 99")


def _land_group(word: str, fields: dict[str, Any]) -> None:
    """Take one group of section 1; those of clouds, rain and weather carry nothing used here.

    A second group of one figure belongs to a later section whose mark was lost: the day's extreme.
    """
    if not re.fullmatch(r"[\d/]{5}", word):
        raise InputError(f"{word!r} is not a group of five figures", accepted=ACCEPTED)
    if "/" in word:
        return
    if word[0] == "1":
        fields.setdefault("air_c", _temperature(word))
    elif word[0] == "2" and word[1] != "9":
        fields.setdefault("dew_c", _temperature(word))
    elif word[0] == "4" and word[1] in "09":  # other second figures give a height, not pressure
        tenths = int(word[1:])
        fields["pressure_hpa"] = (tenths + (10_000 if tenths < 5_000 else 0)) / 10.0


def _temperature(word: str) -> float:
    if word[1] not in "01":
        raise InputError(f"{word!r} has the sign {word[1]}", accepted="0 above, 1 below zero")
    return (-1.0 if word[1] == "1" else 1.0) * int(word[2:]) / 10.0 + 0.0


def _sea_group(word: str, fields: dict[str, Any]) -> None:
    """Take one group of section 2: sea temperature, waves by instrument, wind waves, swell."""
    if word.startswith(("ICE", "ICING")) or not re.fullmatch(r"[\d/]{5}", word):
        return  # plain words about ice follow in this section
    first, a, b = word[0], word[1:3], word[3:5]
    if first == "0" and word[1:].isdigit():
        # code table 3855: even, above zero or at it; odd, below
        fields["sea_c"] = (-1.0 if int(word[1]) % 2 else 1.0) * int(word[2:]) / 10.0
    elif first == "1":
        _wave(a, b, "mean_period_s", "hs_m", fields)
    elif first == "2":
        _wave(a, b, "wind_wave_tp_s", "wind_wave_hs_m", fields)
    elif first == "3" and a.isdigit() and 1 <= int(a) <= 36:
        fields["swell_from_true_deg"] = int(a) * 10.0 % 360.0
    elif first == "4":
        _wave(a, b, "swell_tp_s", "swell_hs_m", fields)
    elif word[:2] == "70" and word[2:].isdigit():
        fields["hs_m"] = int(word[2:]) / 10.0  # in tenths of a metre: finer than group 1


def _wave(period: str, height: str, period_field: str, height_field: str, fields: Any) -> None:
    if period.isdigit() and 0 < int(period) <= 40:  # 99 is a confused sea
        fields[period_field] = float(period)
    if height.isdigit():
        fields[height_field] = int(height) * 0.5  # half metres


FEED = Feed(
    key="synop",
    title="SYNOP and SHIP reports (FM 12, 13, 14)",
    recognise=recognise,
    read=read,
    stale_after_s=14_400.0,
)
