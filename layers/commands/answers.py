"""``answers``: the watch's questions, each answered once, as every screen shows them."""

from __future__ import annotations

import argparse
from typing import Any

from layers import answer_words
from layers.answer_keys import told_as
from layers.answers import Answers
from layers.catalogue import KINDS
from layers.commands.picture import cut
from layers.commands.released import add_release, as_released
from layers.contract import Moment, View
from layers.earth.clock import dtg, parse_time
from layers.earth.uncertain import Stated
from layers.expected import answers_for
from layers.journal.known import Known, Shelf
from layers.journal.naming import add_journal
from layers.picture import Picture, picture
from layers.watch.state import state


def add(parsers: Any) -> None:
    """Declare the verb."""
    parser = parsers.add_parser("answers", help="the watch's questions, each answered once")
    parser.add_argument("--as-of", metavar="T", help="as it was known then; now if left out")
    parser.add_argument("--at", metavar="T", help="shown for this time; the same if left out")
    add_release(parser)
    add_journal(parser)


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return every answer under its key."""
    as_of = parse_time(arguments.as_of, "--as-of") if arguments.as_of else None
    at = parse_time(arguments.at, "--at") if arguments.at else None
    whole, upto_seq, as_of = cut(arguments, as_of)
    shelf, release = as_released(whole, arguments.release)
    moment = Moment(as_of, at or as_of)
    known = Known(shelf, KINDS, upto_seq, moment.as_of)
    found = answered(shelf, picture(shelf, moment, upto_seq))
    told = {"words": _words(found), "release": release.audience, "withheld": release.words()}
    if release.guarded:  # the number of a record would count what lies between
        return told_as(found) | told
    numbers = {id_: record.seq for id_, record in known.with_ids(cited(found)).items()}
    return told_as(found, lambda id_: numbers.get(id_, 0)) | told


def answered(shelf: Shelf, made: Picture) -> Answers:
    """Return the answers of a picture; of one for a time ahead by the plan as known now."""
    moment, upto_seq = made.moment, made.upto_seq
    ahead = moment.view is View.EXPECTED
    now = picture(shelf, Moment(moment.as_of, moment.as_of), upto_seq) if ahead else None
    return answers_for(made, state(Known(shelf, KINDS, upto_seq, moment.as_of), moment), now)


def cited(found: Answers) -> tuple[str, ...]:
    """Return the ids of all records that any answer rests on."""
    least, _ = found.least_margin
    parts = (found.position, found.dive, found.sortie, found.first_out, found.all_out, least,
             found.way_home)  # fmt: skip
    margins = (q for m in found.margin.values() for q in (m.if_nobody_leaves_h, m.as_planned_h))
    return tuple(dict.fromkeys(id_ for part in (*parts, *margins) for id_ in part.rests_on))


def _words(found: Answers) -> list[str]:
    said = (
        *answer_words.persons(found),
        answer_words.margin(found),
        answer_words.dive(found),
        answer_words.sortie(found),
        answer_words.next_decision(found),
        answer_words.first_out(found),
        answer_words.search_next(found),
        answer_words.oldest(found),
        *((answer_words.way_home(found),) if isinstance(found.way_home, Stated) else ()),
    )
    return [" ".join(part for part in (s.figure, s.unit, s.word, s.more) if part) for s in said]


def say(answer: dict[str, Any]) -> str:
    """Return the answers as they are read out."""
    return "\n".join([f"{dtg(parse_time(answer['at']))}, {answer['shows']}", *answer["words"]])
