"""The messages of a GRIB or BUFR file, one after the other, as eccodes gives them."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from typing import Any

from layers.contract import Origin, Reading
from layers.weather.feeds.lines import reject


def messages(
    data: bytes, origin: Origin, reading: Reading, form: str, word: str, after: Callable[..., Any]
) -> Iterator[tuple[str, int]]:
    """Give each message with its title (``field 3``), and let go of it when it is done with.

    Parameters
    ----------
    data, origin, reading : bytes, Origin, Reading
        Where damage, or a file without a message, becomes a reject.
    form, word : str
        The form of the file and what it holds, as said: ``"GRIB"``, ``"field"``.
    after : callable
        The reader of eccodes; eccodes is loaded by who has a process of its own.
    """
    import eccodes

    number = 0
    with tempfile.TemporaryFile() as file:
        file.write(data)
        file.seek(0)
        while True:
            number += 1
            try:
                message = after(file)
            except eccodes.CodesInternalError:
                said = f"{word} {number} is cut short or damaged: get the file again"
                reading.rejects.append(reject(origin, None, f"{word} {number}", said))
                break
            if message is None:
                break
            try:
                yield f"{word} {number}", message
            finally:
                eccodes.codes_release(message)
    if number == 1 and not reading.rejects:
        reading.rejects.append(reject(origin, None, "", f"no {form} message in the file"))
