"""``python -m layers.ingest.decoder MODULE FUNCTION``: the process in which one feed decodes.

Asked and answered over its standard input and output; it ends when they are closed. Only the
layer that owns the feed is imported, and memory is limited before that.
"""

from __future__ import annotations

import json
import math
import os
import struct
import sys
import time
from importlib import import_module
from typing import IO

from layers.contract import Origin, Reading
from layers.earth.clock import from_us
from layers.ingest.isolated import MEMORY_BYTES, encoded
from layers.journal.record import Reject

CPU_S, CPU_PER_MB_S = 2.0, 1.0
_LENGTH = struct.Struct(">Q")


def limit() -> None:
    """Limit memory, and leave no core file behind."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def limit_time(size: int) -> None:
    """Give the next file so many seconds of the processor; over them the kernel ends it.

    Counted on the processor, not the clock, so that a busy machine rejects nothing.
    """
    if sys.platform == "win32":
        return
    import resource

    seconds = math.ceil(time.process_time() + CPU_S + CPU_PER_MB_S * size / 1024**2)
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, resource.RLIM_INFINITY))


def serve(module: str, function: str, asked: IO[bytes], answers: IO[bytes]) -> None:
    """Answer one file after another."""
    read = getattr(import_module(module), function)
    while head := _block(asked):
        source, received_us, digest, first_line = json.loads(head)
        data = _block(asked)
        limit_time(len(data))
        origin = Origin(
            source=source, received_at=from_us(received_us), digest=digest, first_line=first_line
        )
        try:
            answer = encoded(read(data, origin))
        except MemoryError:
            answer = encoded(_refused(source, "needs more memory than a decoder may have"))
        except Exception as fault:  # whatever a decoder raises is one rejected file
            sys.stderr.write(f"{source}: {type(fault).__name__}: {fault}\n")  # for the log alone
            answer = encoded(_refused(source, "cannot be decoded: it is damaged; ask for it again"))
        answers.write(_LENGTH.pack(len(answer)))
        answers.write(answer)
        answers.flush()


def _refused(source: str, why: str) -> Reading:
    return Reading(rejects=[Reject(source=source, line=None, text="", reason=f"the file {why}")])


def _block(stream: IO[bytes]) -> bytes:
    start = stream.read(_LENGTH.size)
    if len(start) < _LENGTH.size:
        return b""
    (size,) = _LENGTH.unpack(start)
    return stream.read(size)


def main() -> int:
    """Serve until the end of the input."""
    limit()
    # what a library prints must not get between the answers
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    serve(sys.argv[1], sys.argv[2], sys.stdin.buffer, answers)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
