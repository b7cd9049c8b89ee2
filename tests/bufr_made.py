"""BUFR messages written by eccodes from the WMO's published templates, and read by the program.

Both in one process of its own, as the program keeps that library apart.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from layers.contract import Reading

ROOT = Path(__file__).resolve().parent.parent
MAKER = """
import eccodes, pickle, sys
from layers.contract import Origin
from layers.weather.feeds import bufr_feed
wanted, at = pickle.load(sys.stdin.buffer)
found = {}
for name, (head, repeated, template, values) in wanted.items():
    message = eccodes.codes_bufr_new_from_samples("BUFR4")
    for key, value in head.items():
        eccodes.codes_set(message, key, value)
    for key, counts in repeated.items():
        eccodes.codes_set_array(message, key, counts)
    eccodes.codes_set_array(message, "unexpandedDescriptors", template)
    for key, value in values.items():
        put = eccodes.codes_set_array if isinstance(value, list) else eccodes.codes_set
        put(message, key, value)
    eccodes.codes_set(message, "pack", 1)
    data = eccodes.codes_get_message(message)
    origin = Origin(source=name, received_at=at, digest=name)
    found[name] = data, bufr_feed.read(data, origin)
sys.stdout.buffer.write(pickle.dumps(found))
"""


@dataclass(frozen=True, slots=True)
class Made:
    """One message: a template of Table D, or a list of elements, with values of some of them.

    ``repeated`` are the counts of delayed replications by the encoder's name of their sort; what
    is given no value is missing in the message; a list is a value for each of packed subsets.
    """

    category: int
    template: int | list[int]
    values: dict[str, Any]
    repeated: dict[str, list[int]] = field(default_factory=dict)
    head: dict[str, int] = field(default_factory=dict)


def read_made(wanted: dict[str, Made], at: datetime) -> dict[str, Reading]:
    """Return what the program makes of each message."""
    return {name: reading for name, (_, reading) in made_and_read(wanted, at).items()}


def made_and_read(wanted: dict[str, Made], at: datetime) -> dict[str, tuple[bytes, Reading]]:
    """Return each message, and what the program makes of it."""
    parts = {
        name: (
            {"masterTablesVersionNumber": 36, "dataCategory": one.category} | one.head,
            one.repeated, one.template if isinstance(one.template, list) else [one.template],
            one.values,
        )
        for name, one in wanted.items()
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", MAKER],
        input=pickle.dumps((parts, at)),
        capture_output=True,
        cwd=ROOT,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr.decode()[-1_000:]
    found: dict[str, tuple[bytes, Reading]] = pickle.loads(done.stdout)
    return found
