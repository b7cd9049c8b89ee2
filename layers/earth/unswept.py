"""Making many things that are all kept, without a search for garbage among them.

Python looks through everything alive again and again while objects are made. Of a file's
hundred thousand lines nothing is garbage until all are recorded: a fifth of the time goes into
looking. Whatever is not part of a ring is freed at once all the same.
"""

from __future__ import annotations

import ctypes
import gc
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
_inside = 0
_was_on = False


@contextmanager
def unswept() -> Iterator[None]:
    """Switch the garbage collector off while anybody is inside; the last one out switches it on."""
    global _inside, _was_on
    with _lock:
        if not _inside:
            _was_on = gc.isenabled()
            gc.disable()
        _inside += 1
    try:
        yield
    finally:
        with _lock:
            _inside -= 1
            if not _inside and _was_on:
                gc.enable()


def give_back() -> None:
    """Sweep once, and give what a large file needed back to the system, where its library can.

    The allocator keeps what was freed for the next file: a process that reads one file a day
    would hold as much as its largest one took.
    """
    gc.collect()
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(0)
