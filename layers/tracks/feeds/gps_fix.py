"""Own ship's position from NMEA 0183 sentences, those of one second joined into one fix."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from math import cos, nan, radians
from typing import Any

import pynmea2

from layers.tracks.feeds.log_dates import FIRST, Dates, LogFact

_SUM = re.compile(r"\*[0-9A-Fa-f]{2}\s*$")
NO_CHECKSUM = (
    "it has no checksum, so that a wrong digit would not show; a feed of older gear is set up "
    "as 'NMEA 0183 without checksums'"
)
FASTEST_KN = 1_100.0  # of no craft: a figure that lost its point
APART_DEG = 1.0 / 60.0  # fixes of one second that lie further apart are not of one receiver
JOINED = "joined to the fix of the same second"
_UNUSED = "NMEA sentence with nothing that a layer uses"


class Unfit(ValueError):
    """A sentence that is not used, in words of our own."""


EMPTY = "NMEA sentence whose instrument has nothing to tell (lawful empty fields)"


class OwnShip:
    """Gathers the sentences of one receiver; gives a fact when a second is complete.

    Parameters
    ----------
    dates : Dates
        The log's dates, which RMC and ZDA tell, and which take what is complete.
    bare : bool
        Sentences without a checksum are taken too, and the fix says so. A wrong digit in one
        would put the ship miles off with nothing to show it, so that a person decides it.
    """

    def __init__(self, dates: Dates, *, bare: bool = False) -> None:
        self.dates = dates
        self.bare = bare
        self.open: dict[str, Any] | None = None
        self.told: list[str] = []  # what was left out of the sentence taken last
        self.shifted = False  # DTM told that what follows is not on WGS 84

    def close(self) -> None:
        """Complete the fix that is open."""
        if self.open is not None:
            self._complete(self.open)
            self.open = None

    def take(self, text: str, line: int, raw: bytes, stamp: datetime | None) -> str:
        """Take one sentence; return why it made no fix of its own, or ``""``.

        Raises
        ------
        ValueError
            It cannot be read.
        """
        summed = self._summed(text)
        try:
            sentence = pynmea2.parse(text, check=summed)
        except pynmea2.ChecksumError:
            raise ValueError("the checksum is wrong") from None
        except pynmea2.SentenceTypeError:
            return _UNUSED
        except (pynmea2.ParseError, ValueError, IndexError):
            raise ValueError("not a sentence that can be read: fields are missing") from None
        name = getattr(sentence, "sentence_type", "")
        handler = {
            "GGA": self._position,
            "RMC": self._position,
            "GLL": self._position,
            "GNS": self._position,
            "VTG": self._vtg,
            "HDT": self._hdt,
            "THS": self._hdt,
            "ZDA": self._zda,
            "DTM": self._dtm,
        }.get(name)
        if handler is None:
            return _UNUSED
        try:
            said = handler(sentence, line, raw, stamp)
        except Unfit:
            raise
        except (ArithmeticError, AttributeError, TypeError, ValueError):
            raise ValueError(f"{name} with a field missing or not a number") from None
        if self.open is not None and not summed:
            self.open["bare"] = True
        return said

    def _summed(self, text: str) -> bool:
        """Return whether the sentence carries a checksum; refuse a missing or mutilated one."""
        if _SUM.search(text):
            return True
        if "*" in text:
            raise ValueError("the checksum is not two hexadecimal digits")
        if not self.bare:
            raise ValueError(NO_CHECKSUM)
        return False

    def _position(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        name = s.sentence_type
        clock = s.timestamp.replace(tzinfo=None) if isinstance(s.timestamp, time) else None
        if name == "RMC" and _dated(s.datestamp) and clock is not None:
            self._date(datetime.combine(s.datestamp, clock, tzinfo=UTC))
        mode = str(getattr(s, "mode_indicator", None) or getattr(s, "faa_mode", None) or "")
        if name == "GNS":  # a letter for each system of satellites: one that fixes her is enough
            mode = next((letter for letter in "ADFPRSME" if letter in mode), "")
        quality = int(s.gps_qual or 0) if name == "GGA" else 0
        if not {"GGA": quality, "GNS": mode}.get(name, getattr(s, "status", "") == "A"):
            return "the receiver says it has no fix"
        # NMEA 0183 4.x (from memory): mode S, or quality 8 of GGA, is a simulator; E, or 6, is
        # reckoned by the receiver without satellites; M, or 7, was typed in by somebody
        if mode == "S" or quality == 8:
            raise Unfit("the receiver says that it simulates: this is no fix")
        said_by = {"E": f"{name} reckoned", "M": f"{name} typed in"}.get(mode, name)
        said_by = {6: f"{name} reckoned", 7: f"{name} typed in"}.get(quality, said_by)
        if clock is None or not s.lat or not s.lon:
            raise Unfit(f"{name} without a time or a position")
        if s.lat_dir not in ("N", "S") or s.lon_dir not in ("E", "W"):
            raise Unfit(f"{name} without N or S, or without E or W")
        if self.shifted:
            raise Unfit(f"{name} on another datum than WGS 84, as DTM said: miles off, perhaps")
        if not (float(s.lat) % 100.0 < 60.0 and float(s.lon) % 100.0 < 60.0):
            raise Unfit(f"{name} with 60 minutes of arc or more beside its degrees")
        latitude, longitude = round(s.latitude, 7), round(s.longitude, 7)
        if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
            raise Unfit(f"{name} with a position that is not on the earth")
        fields: dict[str, Any] = {"latitude_deg": latitude, "longitude_deg": longitude}
        if name == "RMC":
            fields |= self._moving(s.spd_over_grnd, s.true_course)
        told = s.datestamp if name == "RMC" and _dated(s.datestamp) else None
        if self.open is not None and self._same_second(clock, told):
            apart = abs(latitude - self.open["fields"]["latitude_deg"])
            turned = abs(longitude - self.open["fields"]["longitude_deg"])
            if (
                apart > APART_DEG
                or min(turned, 360.0 - turned) * cos(radians(latitude)) > APART_DEG
            ):
                raise Unfit(
                    f"{name} over 1 nmi from the fix of the same second before it: two receivers "
                    "in one log? Part them"
                )
            self.open["fields"] |= {k: v for k, v in fields.items() if v is not None}
            if name not in self.open["said_by"].split():
                self.open["said_by"] += f" {name}"
            return JOINED
        self.close()
        at = self.dates.combined(clock)
        self.open = {
            "at": at,
            "time_from": "sentence" if at else "tag block" if stamp else "",
            "stamp": stamp,
            "clock": clock,
            "line": line,
            "raw": raw,
            "fields": fields,
            "said_by": said_by,
        }
        return ""

    def _same_second(self, clock: time, day: date | None) -> bool:
        """Whether a sentence tells of the fix that is open: its second, and its day if it says."""
        if self.open is None or self.open["clock"] != clock:
            return False
        at = self.open["at"]
        return day is None or at is None or at.date() == day

    def _date(self, at: datetime) -> None:
        """Take the log's date, and date the open fix by it when it is of the same second."""
        if self.open is not None and self.open["at"] is None and self.open["clock"] == at.time():
            self.open |= {"at": at, "time_from": "sentence"}
        elif self.open is not None and self.open["at"] is None:
            self.close()
        self.dates.tell(at)

    def _vtg(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        if self.open is None:
            return "course and speed with no fix before them"
        moving = self._moving(s.spd_over_grnd_kts, s.true_track)
        for key, value in moving.items():
            if value is not None:
                self.open["fields"].setdefault(key, value)
        return JOINED

    def _moving(self, speed: Any, course: Any) -> dict[str, float | None]:
        """Return speed and course; what cannot be one is left out and told, the place stands."""
        turned = self._within("course", course, 360.0)
        return {
            "speed_kn": self._within("speed", speed, FASTEST_KN),
            "course_true_deg": None if turned is None else turned % 360.0,
        }

    def _within(self, what: str, figure: Any, most: float) -> float | None:
        if figure in (None, ""):
            return None
        try:
            number = float(figure)
        except ValueError:
            number = nan
        if 0.0 <= number <= most:
            return number
        said = str(figure).removesuffix(".0")[:20]
        self.told.append(f"a {what} of {said} is none: left out, the place stands")
        return None

    def _hdt(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        told = s.heading if hasattr(s, "heading") else s.headt
        if told in (None, ""):
            return EMPTY
        heading = float(told)
        if not 0.0 <= heading <= 360.0:
            raise Unfit(f"{heading} is not a heading; accepted: 0 to 360 degrees true")
        if self.open is None:
            return "heading with no fix before it"
        self.open["fields"]["heading_true_deg"] = heading % 360.0
        return JOINED

    def _zda(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        if not (s.year and s.month and s.day and s.timestamp):
            return EMPTY
        if not isinstance(s.timestamp, time):
            raise Unfit("ZDA with a time of day that is none")
        try:
            day = date(int(s.year), int(s.month), int(s.day))
        except ValueError:
            raise Unfit("ZDA with a day that is not in the calendar") from None
        if not _dated(day):
            raise Unfit(f"ZDA of {day.year}: the receiver's clock is not set, so no date")
        self._date(datetime.combine(day, s.timestamp.replace(tzinfo=None), tzinfo=UTC))
        return "date and time, used for the lines around it"

    def _dtm(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        # NMEA 0183 (from memory): the local datum, and by how many minutes it lies off WGS 84
        offsets = [float(minutes or 0.0) for minutes in (s.lat, s.lon)]
        self.shifted = any(offsets) or s.datum == "999"
        return "the datum of the positions below it"

    def _complete(self, fix: dict[str, Any]) -> None:
        at, stamp = fix["at"], fix["stamp"]
        if at is None and stamp is not None:
            at = self.dates.nearest(fix["clock"], stamp)
        self.dates.add(
            LogFact(
                kind="tracks.position",
                payload={
                    "subject": f"gps:{self.dates.origin.source}"[:120],
                    **fix["fields"],
                    "said_by": fix["said_by"][:24] + (", no checksum" if fix.get("bare") else ""),
                },
                place=fix["line"],
                raw=fix["raw"],
                at=at,
                time_from=fix["time_from"],
                clock=fix["clock"],
            )
        )


def _dated(day: Any) -> bool:
    """Whether a sentence bears a date: a receiver whose clock is not set sends one of 1980."""
    return isinstance(day, date) and day >= FIRST.date()
