"""A stand-in for a decoder with C code: dies, hangs, eats memory, raises or works, as told."""

from __future__ import annotations

import os

from layers.contract import Origin, Reading


def read(data: bytes, origin: Origin) -> Reading:
    word = data.decode()
    if word == "die":
        os.abort()
    if word == "hang":
        while True:
            pass
    if word == "eat":
        held = [bytes(1024**2 * 50) + bytes([number]) for number in range(200)]
        return Reading(passed_over={str(len(held)): 1})
    if word == "raise":
        raise RuntimeError("odd")
    print("a library that prints")
    return Reading(passed_over={word: 1})
