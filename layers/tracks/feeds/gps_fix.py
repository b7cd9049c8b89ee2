"""Own ship's position from NMEA 0183 sentences, those of one second joined into one fix."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pynmea2

from layers.contract import Origin
from layers.earth.clock import to_us
from layers.journal.record import Draft, file_identity, stream_identity

_HALF_DAY = timedelta(hours=12)
_SUM = re.compile(r"\*[0-9A-Fa-f]{2}\s*$")
NO_CHECKSUM = (
    "it has no checksum, so that a wrong digit would not show; a feed of older gear is set up "
    "as 'NMEA 0183 without checksums'"
)
JOINED = "joined to the fix of the same second"
_UNUSED = "NMEA sentence with nothing that a layer uses"


class OwnShip:
    """Gathers the sentences of one receiver; gives a draft when a second is complete.

    The date comes from RMC or ZDA when one was read, else from the receiver's own time: the
    day that brings the time of day nearest to it.

    Parameters
    ----------
    origin : Origin
        Where the lines come from.
    bare : bool
        Sentences without a checksum are taken too, and the fix says so. A wrong digit in one
        would put the ship miles off with nothing to show it, so that a person decides it.
    """

    def __init__(self, origin: Origin, *, bare: bool = False) -> None:
        self.origin = origin
        self.bare = bare
        self.day: date | None = None
        self.last: datetime | None = None  # time of the last sentence that had one
        self.dated = False
        self.open: dict[str, Any] | None = None
        self.done: list[Draft] = []

    def log_time(self) -> datetime | None:
        """Return the log's own time as far as it has been read."""
        return self.last

    def finished(self) -> list[Draft]:
        """Return the fixes that are complete, once."""
        done, self.done = self.done, []
        return done

    def close(self) -> None:
        """Complete the fix that is open."""
        if self.open is not None:
            self.done.append(self._draft(self.open))
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
        except (pynmea2.ParseError, ValueError, IndexError) as failure:
            said = str(failure.args[0])[:80] if failure.args else type(failure).__name__
            raise ValueError(f"not a sentence that can be read ({said})") from None
        name = getattr(sentence, "sentence_type", "")
        handler = {
            "GGA": self._position,
            "RMC": self._position,
            "GLL": self._position,
            "VTG": self._vtg,
            "HDT": self._hdt,
            "THS": self._hdt,
            "ZDA": self._zda,
        }.get(name)
        if handler is None:
            return _UNUSED
        try:
            said = handler(sentence, line, raw, stamp)
        except (TypeError, AttributeError) as failure:
            raise ValueError(f"{name} with a field missing or wrong ({failure})"[:160]) from None
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
        if name == "RMC" and s.datestamp:
            self._date(s.datestamp, s.timestamp)
        void = (name == "GGA" and not int(s.gps_qual or 0)) or (
            name != "GGA" and (s.status or "V") != "A"
        )
        if void:
            return "the receiver says it has no fix"
        if not isinstance(s.timestamp, time) or not s.lat or not s.lon:
            raise ValueError(f"{name} without a time or a position")
        at, time_from = self._when(s.timestamp, stamp)
        self.last = at
        fields = {
            "latitude_deg": round(s.latitude, 7),
            "longitude_deg": round(s.longitude, 7),
        }
        if name == "RMC":
            fields |= _moving(s.spd_over_grnd, s.true_course)
        if self.open is not None and self.open["at"] == at:
            self.open["fields"] |= {k: v for k, v in fields.items() if v is not None}
            self.open["said_by"] += f" {name}"
            if time_from == "sentence":
                self.open["time_from"] = time_from
            return JOINED
        self.close()
        self.open = {
            "at": at,
            "time_from": time_from,
            "line": line,
            "raw": raw,
            "fields": fields,
            "said_by": name,
        }
        return ""

    def _date(self, day: date, clock: time) -> None:
        """Take the log's date, and date the open fix by it when it is of the same second."""
        if not self.dated and self.open is not None and isinstance(clock, time):
            same = self.open["at"].time() == _utc_time(clock)
            if same and self.open["time_from"] == "date from receiver":
                self.open["at"] = datetime.combine(day, _utc_time(clock), tzinfo=UTC)
                self.open["time_from"] = "sentence"
        if not self.dated:
            self.last = None  # until now by the receiver's date
        self.day, self.dated = day, True

    def _vtg(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        if self.open is None:
            return "course and speed with no fix before them"
        moving = _moving(s.spd_over_grnd_kts, s.true_track)
        for key, value in moving.items():
            if value is not None:
                self.open["fields"].setdefault(key, value)
        return JOINED

    def _hdt(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        if self.open is None:
            return "heading with no fix before it"
        heading = float(s.heading if hasattr(s, "heading") else s.headt)
        if not 0.0 <= heading <= 360.0:
            raise ValueError(f"{heading} is not a heading; accepted: 0 to 360 degrees true")
        self.open["fields"]["heading_true_deg"] = heading % 360.0
        return JOINED

    def _zda(self, s: Any, line: int, raw: bytes, stamp: datetime | None) -> str:
        day = date(int(s.year), int(s.month), int(s.day))
        self._date(day, s.timestamp)
        self.last = datetime.combine(day, _utc_time(s.timestamp), tzinfo=UTC)
        return "date and time, used for the lines around it"

    def _when(self, clock: time, stamp: datetime | None) -> tuple[datetime, str]:
        if self.dated and self.day is not None:
            at = datetime.combine(self.day, _utc_time(clock), tzinfo=UTC)
            # A GGA just after midnight still has the RMC of the day before it.
            if self.last is not None and self.last - at > _HALF_DAY:
                at += timedelta(days=1)
            return at, "sentence"
        near = stamp or self.origin.received_at
        at = datetime.combine(near.date(), _utc_time(clock), tzinfo=UTC)
        if at - near > _HALF_DAY:
            at -= timedelta(days=1)
        elif near - at > _HALF_DAY:
            at += timedelta(days=1)
        return at, "tag block" if stamp else "date from receiver"

    def _draft(self, fix: dict[str, Any]) -> Draft:
        origin = self.origin
        identity = (
            stream_identity(origin.source, to_us(origin.received_at), fix["raw"])
            if origin.stream
            else file_identity(origin.digest, fix["line"])
        )
        return Draft(
            kind="tracks.position",
            payload={
                "subject": f"gps:{origin.source}"[:120],
                **fix["fields"],
                "time_from": fix["time_from"],
                "said_by": fix["said_by"][:24] + (", no checksum" if fix.get("bare") else ""),
            },
            valid_at=fix["at"],
            heard_at=origin.received_at,
            source=origin.source,
            identity=identity,
        )


def _utc_time(clock: time) -> time:
    return clock.replace(tzinfo=None)


def _moving(speed: Any, course: Any) -> dict[str, float | None]:
    return {
        "speed_kn": None if speed is None else float(speed),
        "course_true_deg": None if course is None else float(course) % 360.0,
    }
