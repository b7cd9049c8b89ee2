"""``snapshot``: the plot as a picture or as data, in any frame, as known at any time."""

from __future__ import annotations

import argparse
import hashlib
from pathlib import Path
from typing import Any

from layers.catalogue import KINDS
from layers.commands.answers import answered
from layers.commands.released import add_release, as_released
from layers.contract import Moment
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.said.bearings import parse_range_m
from layers.earth.said.parse import parse_position
from layers.earth.said.quantity import figure
from layers.earth.shore.land import Land
from layers.journal.known import Known
from layers.journal.naming import add_journal, data_folder, named_journal
from layers.journal.record import canonical, record_bytes
from layers.picture import picture
from layers.scene.ink import INKS
from layers.scene.snapshot import FORMATS, About, snapshot


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("snapshot", help="the plot as a picture or as data")
    parser.add_argument("out", type=Path, help=f"file to write: {', '.join(FORMATS)}")
    parser.add_argument("--frame", choices=[name.value for name in FrameName])
    parser.add_argument("--centre", metavar="POSITION", help="the datum if left out")
    parser.add_argument("--reach", metavar="RANGE", default="15nmi", help="half width of the chart")
    parser.add_argument("--as-of", metavar="T", help="as it was known then; now if left out")
    parser.add_argument("--at", metavar="T", help="shown for this time; the same if left out")
    parser.add_argument("--ink", choices=sorted(INKS), default="day")
    parser.add_argument("--marking", default="", help="line printed at top and bottom")
    parser.add_argument("--for", dest="releasable_to", default="operations room")
    parser.add_argument(
        "--withhold-position", action="store_true", help="the same as --release outside"
    )
    add_release(parser)
    parser.add_argument("--land", type=Path, help="folder of the cut coastline")
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Write the file; return where, how large, in which frame and as of when."""
    form = arguments.out.suffix.lstrip(".").lower()
    if form not in FORMATS:
        raise InputError(
            f"{arguments.out.name!r} names no format", where="OUT", accepted=", ".join(FORMATS)
        )
    as_of = parse_time(arguments.as_of, "--as-of") if arguments.as_of else None
    whole, upto_seq, as_of, about = _cut(arguments, as_of)
    name = "outside" if arguments.withhold_position else arguments.release
    shelf, release = as_released(whole, name, arguments.releasable_to)
    at = parse_time(arguments.at, "--at") if arguments.at else as_of
    made = picture(shelf, Moment(as_of, at), upto_seq)
    centre = parse_position(arguments.centre, "--centre") if arguments.centre else None
    projection = FrameName(arguments.frame) if arguments.frame else None
    reach_m = parse_range_m(arguments.reach, "--reach")
    written = snapshot(
        made,
        form,
        answers=answered(shelf, made),
        about=about,
        frame=None if centre is None else frame_for(centre, projection, reach_m),
        frame_name=projection,
        half_width_m=reach_m,
        ink=INKS[arguments.ink],
        land=Land(arguments.land or data_folder() / "land"),
        release=release,
        marking=arguments.marking,
        numbers=Known(shelf, KINDS, upto_seq, as_of).numbers_of,
    )
    try:
        arguments.out.write_bytes(written.content)
    except OSError as failure:
        raise InputError(
            f"{arguments.out} cannot be written ({failure.strerror})",
            where="OUT",
            accepted="a file in a folder that can be written",
        ) from None
    return {
        "path": str(arguments.out),
        "bytes": len(written.content),
        "frame": written.frame.name.value,
        "as_of": as_of,
        "at": at,
        "release": release.audience,
        "withheld": release.words(),
    }


def _cut(arguments: argparse.Namespace, as_of: Any) -> tuple[Any, int, Any, About]:
    if arguments.demo:
        from demo_data.load import demo_journal
        from demo_data.scenario import DEMO_NOW, NAME

        as_of = as_of or DEMO_NOW
        shelf, upto_seq = demo_journal(as_of)
        return shelf, upto_seq, as_of, About(NAME, upto_seq, _digest(shelf, upto_seq))
    journal = named_journal(arguments, KINDS)
    as_of = as_of or journal.now()
    seq, head = journal.head()
    name = journal.name if journal.exercise else ""
    return journal, journal.seq_at(as_of), as_of, About(name, seq, head)


def _digest(shelf: Any, upto_seq: int) -> str:
    """Return one digest over the records in memory, which are in no chain of blocks."""
    whole = hashlib.sha256()
    for record in shelf.records:
        if record.seq <= upto_seq:
            whole.update(record_bytes(record, canonical(record.payload)))
    return whole.hexdigest()


def say(answer: dict[str, Any]) -> str:
    """Return the answer as one line."""
    return f"{answer['path']}: {figure(answer['bytes'], 0)} bytes, frame {answer['frame']}"
