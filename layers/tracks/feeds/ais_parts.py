"""AIS sentences in several parts, tag blocks, and the message types decoded one by one."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import reduce
from operator import xor
from typing import Any

from layers.earth.clock import from_us

# The parts of a message are sent in slots one after the other, 27 ms each (ITU-R M.1371); a
# minute leaves room for receivers whose lines come late.
PARTS_WITHIN = timedelta(minutes=1)
PARTS_WITHIN_LINES = 400  # of a log that bears no times
STATIC_TYPES = (5, 19, 24)
POSITION_TYPES = (1, 2, 3, 9, 18, 19, 27)
# where a payload is cut short or has odd characters; and pyais raises a family of its own
UNREADABLE = (ValueError, IndexError, KeyError, TypeError, AttributeError)


@dataclass(frozen=True, slots=True)
class TagBlock:
    """What a tag block says: the time the receiver stamped, and the group of the sentence."""

    at: datetime | None
    group: str | None


def read_tag_block(text: bytes) -> TagBlock:
    r"""Return what stands between the two backslashes of ``\c:1616161616,g:1-2-33*hh\``.

    Raises
    ------
    ValueError
        The checksum or the time is wrong.
    """
    body, star, stated = text.partition(b"*")
    if not star or f"{reduce(xor, body, 0):02X}".encode() != stated.upper():
        raise ValueError("the checksum of the tag block is wrong")
    at: datetime | None = None
    group: str | None = None
    for part in body.decode("latin-1").split(","):
        code, _, value = part.partition(":")
        if code == "c":
            if not (value.isascii() and value.isdigit()) or len(value) > 18:
                raise ValueError("the time of the tag block is no time")
            epoch = int(value)
            # Both seconds and milliseconds are in use; milliseconds are 13 digits since 2001.
            try:
                at = from_us(epoch * 1000 if epoch > 99_999_999_999 else epoch * 1_000_000)
            except OverflowError:
                raise ValueError("the time of the tag block is no time") from None
        elif code == "g" or re.fullmatch(r"\dG\d", code):  # NMEA 4.10: 1-2-77; IEC 62320-1: 1G2:77
            group = value.rsplit("-", 1)[-1]
    return TagBlock(at=at, group=group)


@dataclass(slots=True, kw_only=True)
class SentencePart:
    """One sentence of a message in several parts, kept until the others are there."""

    line: int
    text: bytes
    number: int
    at: datetime | None
    time_from: str = ""


def _far(one: SentencePart, other: SentencePart) -> bool:
    """Whether two parts were heard too far apart to be of one message."""
    if one.at is not None and other.at is not None:
        return abs(one.at - other.at) > PARTS_WITHIN
    return abs(one.line - other.line) > PARTS_WITHIN_LINES


@dataclass(slots=True)
class PartBox:
    """Holds the parts of messages until they are whole; parts may come in any order."""

    waiting: dict[tuple[str, ...], dict[int, SentencePart]] = field(default_factory=dict)

    def key(self, group: str | None, same: tuple[str, ...], number: int) -> tuple[str, ...]:
        """Return under which key a part waits for the others of its message.

        Parameters
        ----------
        group : str or None
            The group its tag block names. A damaged block names none, and some receivers write
            one before the first sentence only: it then joins the part that waits for it.
        same : tuple of str
            What all parts of one message have in common: how many, their number, the channel.
        number : int
            Which part it is.
        """
        key = ("group", group, *same) if group else ("alone", "", *same)
        if key not in self.waiting:
            for other, held in reversed(self.waiting.items()):
                if other[2:] == same and number not in held and not (group and other[1]):
                    return other
        return key

    def add(
        self, key: tuple[str, ...], total: int, part: SentencePart
    ) -> tuple[list[SentencePart], list[SentencePart]]:
        """Return (the whole message in order, or empty) and (parts given up).

        A second part of the same number means that the first message will never be whole, and so
        does a part heard much later: the ten numbers of messages come round again and again.
        """
        held = self.waiting.setdefault(key, {})
        lost: list[SentencePart] = []
        if part.number in held or any(_far(part, other) for other in held.values()):
            lost = list(held.values())
            held.clear()
        held[part.number] = part
        if len(held) < total:
            return [], lost
        del self.waiting[key]
        return [held[number] for number in sorted(held)], lost

    def left(self) -> list[SentencePart]:
        """Return the parts whose message never became whole."""
        return [part for held in self.waiting.values() for part in held.values()]


# By type of message, where the last field that is taken of it ends (ITU-R M.1371; 8 is the weather
# message of IMO SN.1/Circ.289; from memory, and as pyais has them): a figure of which half the bits
# are missing reads as another, a sea of 4.5 m as one of 1.1 m.
_BITS_NEEDED = {1: 143, 2: 143, 3: 143, 4: 78, 5: 270, 8: 348, 9: 134, 11: 78, 14: 46,
                18: 139, 19: 139, 21: 270, 24: 160, 27: 94}  # fmt: skip
# what stands in place of the second where no satellites fixed her (the same, table 48)
HOW = {61: " typed in", 62: " reckoned", 63: ", her receiver out of order"}
WHOLE_19 = 301  # its name and size stand behind its position


def decode_message(sentences: list[bytes]) -> dict[str, Any]:
    """Return the fields of one AIS message as pyais names them.

    Raises
    ------
    ValueError
        It cannot be decoded; the text says why in plain words.
    """
    from pyais import decode  # imported here: slow to start, and only a feed reader needs it
    from pyais.exceptions import AISBaseException

    try:
        message: dict[str, Any] = decode(*sentences).asdict()
    except (AISBaseException, *UNREADABLE) as failure:
        raise ValueError(plain_reason(failure)) from None
    bits = message["bits"] = _bits(sentences)
    needed = _BITS_NEEDED.get(message["msg_type"], 0)
    if message["msg_type"] == 8 and (message.get("dac"), message.get("fid")) != (1, 31):
        needed = 0
    if message["msg_type"] == 24 and message.get("partno"):
        needed = 162
    if bits < needed or message["mmsi"] is None:
        raise ValueError("the AIS payload is cut short")
    if message["msg_type"] == 14:  # of a letter that is cut there are other bits left
        message["text"] = str(message.get("text") or "")[: (bits - 40) // 6]
    return message


def _bits(sentences: list[bytes]) -> int:
    return 6 * sum(len(sentence.split(b",")[5]) for sentence in sentences)


def plain_reason(failure: BaseException) -> str:
    """Return why an AIS sentence could not be decoded, without the sentence itself."""
    words = {
        "MissingPayloadException": "an AIS sentence with an empty payload",
        "UnknownMessageException": "an AIS message type that is not defined",
        "InvalidNMEAChecksum": "the checksum is wrong",
        "InvalidNMEAMessageException": "not a whole AIS sentence",
        "NonPrintableCharacterException": "characters that no AIS sentence has",
        "MissingMultipartMessageException": "a part of the message never came",
        "TooManyMessagesException": "more parts than the message has",
        "UnknownPartNoException": "a part of AIS message 24 that is not defined",
    }
    return words.get(type(failure).__name__, "the AIS payload cannot be decoded")


def fields_of_position(message: dict[str, Any]) -> dict[str, Any] | None:
    """Return position fields for a `PositionReport`, None when the report has no position."""
    latitude, longitude = float(message["lat"]), float(message["lon"])
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        return None
    aircraft = message["msg_type"] == 9
    coarse = message["msg_type"] == 27
    no_speed = {True: 63.0}.get(coarse, 1023.0 if aircraft else 102.3)
    speed, course = float(message["speed"]), float(message["course"])
    heading = float(message.get("heading", 511))
    status = None if message.get("status") is None else int(message["status"])
    return {
        "latitude_deg": round(latitude, 6),
        "longitude_deg": round(longitude, 6),
        "speed_kn": speed if speed < no_speed else None,
        "course_true_deg": course if course < 360.0 else None,
        "heading_true_deg": heading if heading < 360.0 else None,
        **({} if status is None or status == 15 else {"nav_status": status}),
    }


def fields_of_static(message: dict[str, Any]) -> dict[str, Any]:
    """Return what a static report says for a `StaticReport`; blanks and zeros are not known."""
    length = float(message.get("to_bow") or 0) + float(message.get("to_stern") or 0)
    beam = float(message.get("to_port") or 0) + float(message.get("to_starboard") or 0)
    kind = message.get("ship_type")
    return {
        "name": text_of(message.get("shipname")),
        "call_sign": text_of(message.get("callsign")),
        "ship_type": int(kind) if kind else None,
        "length_m": length if 0 < length <= 600 else None,
        "beam_m": beam if 0 < beam <= 130 else None,
    }


def text_of(value: Any) -> str | None:
    """Return a text of six-bit letters without its padding, None where it says nothing."""
    return str(value).replace("@", " ").strip() or None if value else None
