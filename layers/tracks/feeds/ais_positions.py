"""AIS position reports of one sentence, many at a time.

Message types 1, 2, 3 (class A) and 18 (class B) carry 168 bits in 28 characters and are nine
in ten of what is heard; they are unpacked together as arrays. All other types go one by one
through pyais, against which this file is tested.

References
----------
ITU-R M.1371-5, annex 8, tables 48 (types 1 to 3) and 74 (type 18): field widths and the
values that mean "not available" (from memory; checked field by field against pyais 3.3).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

PAYLOAD_CHARACTERS = 28
# Six-bit characters: 48..87 stand for 0..39 and 96..119 for 40..63.
_SIX_BITS = np.full(256, 255, dtype=np.uint8)
_SIX_BITS[48:88] = np.arange(40)
_SIX_BITS[96:120] = np.arange(40, 64)


@dataclass(frozen=True, slots=True, kw_only=True)
class AisPositions:
    """Decoded reports, shape (n,); NaN where a field says "not available".

    ``readable`` is False for a payload with a character that is not six-bit.
    """

    readable: npt.NDArray[np.bool_]
    message_type: npt.NDArray[np.int64]
    mmsi: npt.NDArray[np.int64]
    latitude_deg: npt.NDArray[np.float64]
    longitude_deg: npt.NDArray[np.float64]
    speed_kn: npt.NDArray[np.float64]
    course_true_deg: npt.NDArray[np.float64]
    heading_true_deg: npt.NDArray[np.float64]
    nav_status: npt.NDArray[np.int64]  # 15 where it is not defined, as always in class B
    second: npt.NDArray[np.int64]  # of the minute; from 60 on how the place was found


def decode_positions(payloads: list[bytes]) -> AisPositions:
    """Return the position reports of payloads of 28 characters, types 1, 2, 3 and 18."""
    letters = np.frombuffer(b"".join(payloads), dtype=np.uint8).reshape(-1, PAYLOAD_CHARACTERS)
    raw = _SIX_BITS[letters]
    readable: npt.NDArray[np.bool_] = np.all(raw < 64, axis=1)
    sixes = raw.astype(np.int64) & 63
    kind = _bits(sixes, 0, 6)
    class_b = kind == 18

    def field(start_a: int, start_b: int, width: int) -> npt.NDArray[np.int64]:
        return np.where(class_b, _bits(sixes, start_b, width), _bits(sixes, start_a, width))

    longitude = _signed(field(61, 57, 28), 28) / 600_000.0
    latitude = _signed(field(89, 85, 27), 27) / 600_000.0
    speed = field(50, 46, 10).astype(np.float64)
    course = field(116, 112, 12).astype(np.float64)
    heading = field(128, 124, 9).astype(np.float64)
    somewhere = (np.abs(latitude) <= 90.0) & (np.abs(longitude) <= 180.0)
    return AisPositions(
        readable=readable,
        message_type=kind,
        mmsi=_bits(sixes, 8, 30),
        latitude_deg=np.where(somewhere, latitude, np.nan),
        longitude_deg=np.where(somewhere, longitude, np.nan),
        speed_kn=np.where(speed < 1023, np.round(speed / 10.0, 1), np.nan),
        course_true_deg=np.where(course < 3600, np.round(course / 10.0, 1), np.nan),
        heading_true_deg=np.where(heading < 360, heading, np.nan),
        nav_status=np.where(class_b, 15, _bits(sixes, 38, 4)),
        second=field(137, 133, 6),
    )


def checksums_hold(sentences: list[bytes]) -> npt.NDArray[np.bool_]:
    """Return, per sentence ``!…*hh``, whether its exclusive-or checksum is right.

    A sentence without ``*hh`` does not hold.
    """
    if not sentences:
        return np.zeros(0, dtype=bool)
    width = max(len(sentence) for sentence in sentences) + 3
    table = np.array(sentences, dtype=f"S{width}").view(np.uint8).reshape(-1, width)
    star = (table == ord("*")).argmax(axis=1)
    column = np.arange(width)
    body = np.where((column > 0) & (column < star[:, None]), table, 0)
    told = np.bitwise_xor.reduce(body, axis=1)
    rows = np.arange(len(sentences))
    stated = _HEX[table[rows, star + 1]] * 16 + _HEX[table[rows, star + 2]]
    held: npt.NDArray[np.bool_] = (star > 0) & (told == stated)
    return held


_HEX = np.full(256, 999, dtype=np.int64)
for _digit, _letter in enumerate(b"0123456789ABCDEF"):
    _HEX[_letter] = _digit
for _digit, _letter in enumerate(b"abcdef", start=10):
    _HEX[_letter] = _digit


def _bits(sixes: npt.NDArray[np.int64], start: int, width: int) -> npt.NDArray[np.int64]:
    """Return an unsigned field that starts at a bit, from rows of six-bit values."""
    first, last = start // 6, (start + width - 1) // 6
    value = np.zeros(len(sixes), dtype=np.int64)
    for column in range(first, last + 1):
        value = (value << 6) | sixes[:, column]
    spare = (last + 1) * 6 - (start + width)
    kept: npt.NDArray[np.int64] = (value >> spare) & ((1 << width) - 1)
    return kept


def _signed(value: npt.NDArray[np.int64], width: int) -> npt.NDArray[np.int64]:
    """Return two's complement values of this many bits."""
    return np.where(value >= 1 << (width - 1), value - (1 << width), value)
