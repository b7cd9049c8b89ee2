"""Ways in which real files go wrong on the way, and ways in which somebody makes them wrong."""

from __future__ import annotations

import random
from collections.abc import Callable

EXTREMES = (
    b"NaN", b"inf", b"-inf", b"1e999", b"-1", b"0", b"99999999999999999999", b"1e-320", b"--",
    b"", b"0x10", b"1_000", "½".encode(), b"\xbd", b"91", b"-181", b"2027-13-45", b"25:61:61",
    b"999999", b"\x00", b"'", b'"', b"=1+1", b"null", b"true", b"[]", b"{}", b"%s%n", b"../..",
    b"\xef\xbb\xbf",
)  # fmt: skip


def flip(data: bytearray, rng: random.Random) -> None:
    for _ in range(rng.choice((1, 1, 2, 8, 64))):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)


def cut_short(data: bytearray, rng: random.Random) -> None:
    del data[rng.randrange(len(data)) :]


def take_out(data: bytearray, rng: random.Random) -> None:
    start = rng.randrange(len(data))
    del data[start : start + rng.choice((1, 2, 7, 100, 2_000))]


def repeat(data: bytearray, rng: random.Random) -> None:
    start = rng.randrange(len(data))
    part = data[start : start + rng.choice((1, 10, 200))]
    data[start:start] = part * rng.choice((1, 2, 50))


def noise(data: bytearray, rng: random.Random) -> None:
    start = rng.randrange(len(data))
    data[start : start + rng.choice((0, 4, 50))] = rng.randbytes(rng.choice((1, 4, 50)))


def number(data: bytearray, rng: random.Random) -> None:
    """Put something extreme where a number stands."""
    at = [i for i, byte in enumerate(data) if 48 <= byte <= 57]
    if not at:
        return
    start = end = rng.choice(at)
    while start > 0 and chr(data[start - 1]) in "0123456789.+-eE":
        start -= 1
    while end < len(data) and chr(data[end]) in "0123456789.+-eE":
        end += 1
    data[start:end] = rng.choice(EXTREMES)


def lines(data: bytearray, rng: random.Random) -> None:
    """Take out, double or shuffle lines."""
    held = bytes(data).split(b"\n")
    what = rng.randrange(3)
    if what == 0 and len(held) > 1:
        del held[rng.randrange(len(held))]
    elif what == 1:
        held.insert(rng.randrange(len(held) + 1), rng.choice(held))
    else:
        rng.shuffle(held)
    data[:] = b"\n".join(held)


def separators(data: bytearray, rng: random.Random) -> None:
    old, new = rng.choice(
        ((b",", b";"), (b",", b"\t"), (b"\n", b"\r\n"), (b"\n", b"\r"), (b".", b","), (b" ", b""),
         (b"\n", b" "), (b",", b",,"), (b'"', b"'"), (b">", b"&gt;"), (b"$", b"!"))
    )  # fmt: skip
    data[:] = bytes(data).replace(old, new, rng.choice((1, 3, -1)))


def long_line(data: bytearray, rng: random.Random) -> None:
    start = rng.randrange(len(data))
    data[start:start] = rng.choice((b"x", b"9", b",", b"\x00", b"[", b"<a>")) * rng.choice(
        (500, 5_000, 50_000)
    )


def integers(data: bytearray, rng: random.Random) -> None:
    """Overwrite a length or an offset of a binary format."""
    start = rng.randrange(len(data))
    word = rng.choice(
        (b"\xff" * 4, b"\x7f\xff\xff\xff", b"\x00" * 4, b"\x80\x00\x00\x00", b"\x00\x00\x01\x00")
    )
    data[start : start + 4] = word


MUTATIONS: tuple[Callable[[bytearray, random.Random], None], ...] = (
    flip, cut_short, take_out, repeat, noise, number, number, number, lines, separators, long_line,
    integers,
)  # fmt: skip


def mutated(seed: bytes, other: bytes, rng: random.Random) -> bytes:
    """Return a seed with one to four things wrong, at times spliced with another seed."""
    data = bytearray(seed)
    if rng.random() < 0.05 and other:
        data = bytearray(seed[: rng.randrange(len(seed) + 1)] + other[rng.randrange(len(other)) :])
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        if data:
            rng.choice(MUTATIONS)(data, rng)
    return bytes(data[:400_000])
