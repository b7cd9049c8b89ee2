"""Decoders that can crash run in a process of their own, with limits of memory and time.

A child decodes one file after another until its end is closed. When it dies or hangs, the file
is rejected with a sentence, and the next file gets a new child.
"""

from __future__ import annotations

import atexit
import json
import os
import selectors
import signal
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from layers.contract import Feed, Origin, Reading
from layers.earth.clock import from_us, to_us
from layers.journal.record import Draft, Reject

MEMORY_BYTES = 500 * 1024 * 1024
# By the clock, for a decoder that waits; one that works on is ended by the processor's time
# (decoder.CPU_S), which a machine shared with twenty others gives it only slowly.
START_S = 120.0  # to load the libraries
FIRST_S, PER_MB_S = 60.0, 20.0
_ROOT = Path(__file__).resolve().parents[2]
_LENGTH = struct.Struct(">Q")
_LARGEST_ANSWER = 400 * 1024 * 1024


def encoded(reading: Reading) -> bytes:
    """Return a reading as bytes: a JSON head, then the blobs."""
    head = {
        "drafts": [
            [
                d.kind,
                d.payload,
                to_us(d.valid_at),
                to_us(d.heard_at),
                d.source,
                d.identity,
                d.version,
            ]
            for d in reading.drafts
        ],
        "rejects": [[r.source, r.line, r.text, r.reason] for r in reading.rejects],
        "passed_over": reading.passed_over,
        "doubts": reading.doubts,
        "blobs": [[digest, len(content)] for digest, content in reading.blobs.items()],
    }
    text = json.dumps(head).encode()
    return b"".join((_LENGTH.pack(len(text)), text, *reading.blobs.values()))


def decoded(answer: bytes) -> Reading:
    """Return the reading that `encoded` made bytes of."""
    (length,) = _LENGTH.unpack_from(answer)
    at = _LENGTH.size + length
    head = json.loads(answer[_LENGTH.size : at])
    reading = Reading(passed_over=head["passed_over"], doubts=head["doubts"])
    for kind, payload, valid_us, heard_us, source, identity, version in head["drafts"]:
        reading.drafts.append(
            Draft(
                kind=kind,
                payload=payload,
                valid_at=from_us(valid_us),
                heard_at=from_us(heard_us),
                source=source,
                identity=identity,
                version=version,
            )
        )
    for source, line, text, reason in head["rejects"]:
        reading.rejects.append(Reject(source=source, line=line, text=text, reason=reason))
    for digest, size in head["blobs"]:
        reading.blobs[digest] = answer[at : at + size]
        at += size
    return reading


class _Gone(Exception):
    """The child died or did not answer; the text is a clause for the reason."""


class DecoderChild:
    """A process that decodes files with one feed."""

    def __init__(self, module: str, function: str) -> None:
        self._words = (module, function)
        self._process: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._fresh = True

    def read(self, data: bytes, origin: Origin) -> Reading:
        """Return what the decoder makes of a file; its death is one reject."""
        with self._lock:
            try:
                return decoded(self._ask(data, origin))
            except (_Gone, OSError, ValueError, KeyError, struct.error) as fault:
                self._kill()
                why = str(fault) if isinstance(fault, _Gone) else "gave an answer without sense"
                reason = f"the file cannot be decoded: its decoder {why}"
                return Reading(
                    rejects=[Reject(source=origin.source, line=None, text="", reason=reason)]
                )

    def _ask(self, data: bytes, origin: Origin) -> bytes:
        process = self._running()
        assert process.stdin is not None
        assert process.stdout is not None
        head = json.dumps(
            [origin.source, to_us(origin.received_at), origin.digest, origin.first_line]
        ).encode()
        wait_s = FIRST_S + PER_MB_S * len(data) / 1024**2 + (START_S if self._fresh else 0.0)
        until = time.monotonic() + wait_s
        try:
            process.stdin.write(_LENGTH.pack(len(head)) + head + _LENGTH.pack(len(data)))
            process.stdin.write(data)
            process.stdin.flush()
        except BrokenPipeError:
            raise _Gone(self._death()) from None
        (size,) = _LENGTH.unpack(self._receive(process.stdout, _LENGTH.size, until))
        if size > _LARGEST_ANSWER:
            raise _Gone("gave more than can be kept")
        answer = self._receive(process.stdout, size, until)
        self._fresh = False
        return answer

    def _receive(self, stream: IO[bytes], size: int, until: float) -> bytes:
        got = bytearray()
        with selectors.DefaultSelector() as selector:
            selector.register(stream, selectors.EVENT_READ)
            while len(got) < size:
                left = until - time.monotonic()
                if left <= 0 or not selector.select(left):
                    raise _Gone("did not end in time")
                block = os.read(stream.fileno(), min(size - len(got), 1 << 20))
                if not block:
                    raise _Gone(self._death())
                got += block
        return bytes(got)

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            self._kill()
            self._fresh = True
            self._process = subprocess.Popen(  # nosec B603 - our own module, no shell
                [sys.executable, "-m", "layers.ingest.decoder", *self._words],
                cwd=_ROOT,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
                bufsize=0,
            )
        return self._process

    def _death(self) -> str:
        assert self._process is not None
        try:
            code = self._process.wait(5.0)
        except subprocess.TimeoutExpired:
            return "closed its answer"
        if code == -getattr(signal, "SIGXCPU", 0):
            return "did not end in time"
        return f"crashed (signal {-code})" if code < 0 else f"ended with status {code}"

    def _kill(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()

    def end(self) -> None:
        """End the process, if there is one."""
        with self._lock:
            self._kill()


_CHILDREN: dict[tuple[str, str], DecoderChild] = {}
_CHILDREN_LOCK = threading.Lock()


def name_of(read: Callable[..., Any]) -> tuple[str, str]:
    """Return the module and the name that a child finds a reader by."""
    return read.__module__, read.__qualname__


def read_isolated(feed: Feed, data: bytes, origin: Origin) -> Reading:
    """Return what a feed reads, decoded in a process of its own."""
    name = name_of(feed.read)
    with _CHILDREN_LOCK:
        child = _CHILDREN.setdefault(name, DecoderChild(*name))
    return child.read(data, origin)


def end_children() -> None:
    """End every decoder's process; the next file gets a new one."""
    with _CHILDREN_LOCK:
        held = list(_CHILDREN.values())
        _CHILDREN.clear()
    for child in held:
        child.end()


atexit.register(end_children)
