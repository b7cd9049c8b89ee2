"""The groups of an airfield report told apart by their forms, so that none is read as another.

The package that decodes them takes a wind without a unit, so that after a wind that was not
reported the fog's ``0100`` became 100 m/s. Here each group is known by its own form first, and
only wind, visibility, temperature and pressure are handed on, each in its place.

References
----------
WMO-No. 306, vol. I.1, FM 15 (the forms of the groups); ICAO Annex 3, appendix 3, 4.8.1.5 (sea
surface temperature with state of the sea or significant height, ``W15/S4``, ``W15/H23``); WMO
code table 3700 (state of the sea). Colour states are a military code in public use (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

CORRECTED = re.compile(r"^(COR|CORR|CC[A-Z])$")
_MODIFIER = re.compile(r"^(AUTO|COR|CORR|CC[A-Z]|RTD|TEST|FINO)$")
_WIND = re.compile(r"^(\d{3}|VRB|///)(P?\d{2,3}|//)(G(P?\d{2,3}|//))?(KTS?|MPS|KMH)$")
_NO_WIND = re.compile(r"^/{5,6}(KT|MPS|KMH)?$|^M{5,6}(KT)?$")
_VARIES = re.compile(r"^\d{3}V\d{3}$")
_VISIBILITY = re.compile(
    r"^(\d{4}|////)(NDV|[NSEW]{1,2}|SM)?$|^CAVOK$|^[MP]?(\d+|\d+/\d+)SM$|^\d+KM$"
)
_WHOLE_MILES = re.compile(r"^\d{1,2}$")
_PART_MILES = re.compile(r"^\d/\d{1,2}SM$")
_TEMPERATURE = re.compile(r"^(M?\d{1,2}|//|XX|MM)/(M?\d{1,2}|//|XX|MM)?$")
_PRESSURE = re.compile(r"^(Q(?P<hpa>\d{3,4})(?P<tenth>\.\d)?|A\d{4}|QNH\d{4}(INS)?|[QA]////)$")
_SEA = re.compile(r"^W(?P<c>M?\d{2}|//)/(S(?P<state>\d|/)|H(?P<dm>\d{1,3}|/{1,3}))$")
_TENTHS = re.compile(r"^T[01]\d{3}([01]\d{3})?$")  # in the remarks: temperature to a tenth
_WITHOUT_USE = re.compile(
    r"^(R\d\d[LRC]?/\S{1,12}|RVRNO|R/SNOCLO|SNOCLO"  # runway range, state
    r"|(\+|-|VC|RE)*(MI|PR|BC|DR|BL|SH|TS|FZ|DZ|RA|SN|SG|IC|PL|GR|GS|UP|BR|FG|FU|VA|DU|SA|HZ|PY"
    r"|PO|SQ|FC|SS|DS|NSW)+[-+]?|RE/{2}"  # weather, recent weather
    r"|(FEW|SCT|BKN|OVC|VV|///)(\d{3}|///)?(CB|TCU|///)?|CLR|SKC|NSC|NCD|/{2,9}(CB|TCU)?"  # sky
    r"|WS|ALL|RWY\d{0,2}[LRC]?|R\d\d[LRC]?|NOSIG|AO[12]"  # wind shear
    r"|(BLACK)?(BLU|WHT|GRN|YLO[12]?|AMB|RED)\+?(/(BLU|WHT|GRN|YLO[12]?|AMB|RED)\+?)*"
    r"|\d{8})$"  # runway state in eight figures
)
_OTHER = ("METAR", "SPECI", "TAF")  # another report on the same line: none of its groups is ours
_ENDS = ("RMK", "RMKS", "TEMPO", "BECMG", "FCST", "INTER", "NOSPECI", *_OTHER)
# WMO code table 3700: the top of each state's range, since a state is a range and a sea is
# never taken lower than it was seen; 9, phenomenal, has none
STATE_TOP_M = {0: 0.0, 1: 0.1, 2: 0.5, 3: 1.25, 4: 2.5, 5: 4.0, 6: 6.0, 7: 9.0, 8: 14.0}


@dataclass(slots=True)
class Parted:
    """A report's groups: those for the decoder in its order, the sea's values, and the odd ones."""

    head: list[str]
    wind: str = ""
    visibility: list[str] = field(default_factory=list)
    temperature: str = ""
    pressure: str = ""
    tenths: str = ""
    sea: dict[str, Any] = field(default_factory=dict)
    odd: list[str] = field(default_factory=list)
    corrected: bool = False

    def report(self) -> str:
        """Return the report with only what is decoded, every group in its place."""
        words = [*self.head, self.wind or "/////KT", *(self.visibility or ["////"])]
        words += [word for word in (self.temperature, self.pressure) if word]
        return " ".join(words) + (f" RMK {self.tenths}" if self.tenths else "")


def parted_groups(report: str) -> Parted:
    """Return the groups of one report told apart."""
    words = report.strip().rstrip("=").split()
    start = next((n for n, word in enumerate(words) if re.fullmatch(r"\d{6}Z", word)), -1) + 1
    found = Parted(head=[word for word in words[:start] if word not in ("COR",)])
    body = words[start:]
    found.corrected = any(CORRECTED.match(word) for word in (*words[:start], *body[:2]))
    end = next((n for n, word in enumerate(body) if word in _ENDS), len(body))
    if "RMK" in body or "RMKS" in body:
        found.tenths = next((word for word in body[end:] if _TENTHS.match(word)), "")
    waiting = ""
    for word in body[:end]:
        if waiting:
            if _PART_MILES.match(word) and not found.visibility:
                found.visibility = [waiting, word]
                waiting = ""
                continue
            found.odd.append(waiting)
            waiting = ""
        if _WHOLE_MILES.match(word) and not found.visibility:
            waiting = word
        elif not _take(word, found):
            found.odd.append(word)
    if waiting:
        found.odd.append(waiting)
    if (other := next((n for n, word in enumerate(body) if word in _OTHER), None)) is not None:
        found.odd.append(" ".join(body[other : other + 3]))
    return found


def _take(word: str, found: Parted) -> bool:
    """Put one group where it belongs; return whether it belongs anywhere."""
    if (wind := _WIND.match(word)) and not found.wind:
        # FM 15, 15.5.1: to the nearest ten degrees; another figure is a group run together
        if wind[1].isdigit() and (int(wind[1]) > 360 or int(wind[1]) % 10):
            return False
        found.wind = word
        if "P" in word.removesuffix("MPS"):
            found.sea["wind_note"] = "the wind is more than what is given here"
    elif _VISIBILITY.match(word) and not found.temperature:
        if not found.visibility and not word.startswith("/"):
            found.visibility = [word]  # a second one is the least, in one direction
    elif _TEMPERATURE.match(word) and not found.temperature:
        found.temperature = word
    elif pressure := _PRESSURE.match(word):
        if not found.pressure:
            found.pressure = f"Q{pressure['hpa']}" if pressure["hpa"] else word
            if pressure["tenth"]:
                found.sea["pressure_hpa"] = float(f"{pressure['hpa']}{pressure['tenth']}")
    elif sea := _SEA.match(word):
        _take_sea(sea, found)
    else:
        return bool(
            _MODIFIER.match(word)
            or _NO_WIND.match(word)
            or _VARIES.match(word)
            or _WITHOUT_USE.match(word)
            or word == "/////"
        )
    return True


def _take_sea(sea: re.Match[str], found: Parted) -> None:
    if "/" not in sea["c"]:
        found.sea["sea_c"] = float(sea["c"].replace("M", "-"))
    if sea["dm"] and "/" not in sea["dm"]:
        found.sea["hs_m"] = int(sea["dm"]) / 10.0
    elif sea["state"] and sea["state"] != "/":
        state = int(sea["state"])
        if state in STATE_TOP_M:
            found.sea["hs_m"] = STATE_TOP_M[state]
            found.sea["sea_note"] = f"Hs from state of sea {state}, the top of its range"
        else:
            found.sea["hs_m"] = 14.0
            found.sea["sea_note"] = "state of sea 9, phenomenal: Hs is 14 m or more"
