"""Reads a file with one of the weather's feeds in a process of its own, as the program does."""

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path

from layers.contract import Origin, Reading

ROOT = Path(__file__).resolve().parent.parent

CHILD = """
import importlib, pickle, sys
feed, data, origin, spoil = pickle.loads(sys.stdin.buffer.read())
if spoil == "spectrum":
    import eccodes
    message = eccodes.codes_grib_new_from_samples("regular_ll_sfc_grib2")
    for key, value in (("discipline", 10), ("parameterCategory", 0), ("parameterNumber", 86)):
        eccodes.codes_set(message, key, value)
    data = data + eccodes.codes_get_message(message)
module = importlib.import_module(f"layers.weather.feeds.{feed}")
sys.stdout.buffer.write(pickle.dumps(module.read(data, origin)))
"""


def in_a_child(feed: str, data: bytes, origin: Origin, spoil: str = "") -> Reading:
    """Return the reading that a child process makes; fail with its words if it dies."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD],
        input=pickle.dumps((feed, data, origin, spoil)),
        capture_output=True,
        cwd=ROOT,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()[-2_000:]
    reading = pickle.loads(done.stdout)
    assert isinstance(reading, Reading)
    return reading
