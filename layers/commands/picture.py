"""``picture``: what the journal adds up to, layer by layer, as it was known at a time."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import Any

from layers.catalogue import BY_KEY, KINDS
from layers.commands.released import add_release, as_released
from layers.contract import Moment, Shown
from layers.earth.clock import dtg, parse_time
from layers.earth.errors import InputError
from layers.journal.known import Shelf
from layers.journal.naming import add_journal, named_journal
from layers.picture import Picture, picture


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("picture", help="what is known, layer by layer")
    parser.add_argument("--as-of", metavar="T", help="as it was known then; now if left out")
    parser.add_argument("--at", metavar="T", help="shown for this time; the same if left out")
    parser.add_argument("--layer", metavar="KEY", help=f"one of {', '.join(BY_KEY)}")
    add_release(parser)
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the picture with its sentences and tables."""
    if arguments.layer is not None and arguments.layer not in BY_KEY:
        raise InputError(
            f"{arguments.layer!r} is not a layer", where="--layer", accepted=", ".join(BY_KEY)
        )
    as_of = parse_time(arguments.as_of, "--as-of") if arguments.as_of else None
    at = parse_time(arguments.at, "--at") if arguments.at else None
    whole, upto_seq, as_of = cut(arguments, as_of)
    shelf, release = as_released(whole, arguments.release)
    keys = None if arguments.layer is None else (arguments.layer,)
    made = picture(shelf, Moment(as_of, at or as_of), upto_seq, keys)
    wanted = (
        made.layers if arguments.layer is None else {arguments.layer: made.layers[arguments.layer]}
    )
    answer: dict[str, Any] = {
        "as_of": made.moment.as_of,
        "at": made.moment.at,
        "shows": made.moment.view.value,
        "release": release.audience,
        "withheld": release.words(),
        "layers": {key: _layer(shown) for key, shown in wanted.items()},
    }
    answer.update(muster(made))
    return answer


def cut(arguments: argparse.Namespace, as_of: datetime | None) -> tuple[Shelf, int, datetime]:
    """Return the records, the last that counts, and the time the cut stands for."""
    if arguments.demo:
        from demo_data.load import demo_journal
        from demo_data.scenario import DEMO_NOW

        as_of = as_of or DEMO_NOW
        shelf, upto_seq = demo_journal(as_of)
        return shelf, upto_seq, as_of
    journal = named_journal(arguments, KINDS)
    as_of = as_of or journal.now()
    return journal, journal.seq_at(as_of), as_of


def _layer(shown: Any) -> dict[str, Any]:
    if not isinstance(shown, Shown):
        told = {"sentence": None, "table": None, "unavailable": shown.reason}
        return told | {"form": "withheld" if shown.withheld else "not known"}
    return {
        "sentence": shown.sentence,
        "table": shown.table.as_dicts(),
        "unavailable": None,
        "tables": {title: table.as_dicts() for title, table in shown.tables.items()},
    }


def muster(made: Picture) -> dict[str, Any]:
    """Return persons on board and by place, for the survivors layer; empty without it."""
    shown = made.shown("survivors")
    if shown is None:
        return {}
    return {"pob": shown.result.pob, "by_place": dict(shown.result.by_place)}


def say(answer: dict[str, Any]) -> str:
    """Return the sentences as they are read out."""
    lines = [f"{dtg(answer['at'])}, {answer['shows']} (known at {dtg(answer['as_of'])})"]
    for key, layer in answer["layers"].items():
        lines.append(f"{BY_KEY[key].title}: {layer['sentence'] or layer['unavailable']}")
    return "\n".join(lines)
