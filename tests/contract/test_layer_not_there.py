"""A layer that is still being worked out, or failed, makes no answer surer: it is not known.

Each layer of the exercise is taken away by itself, as it is while a page opens on another time.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from layers import answer_words
from layers.answer_keys import told_as
from layers.answers import Answers, answers
from layers.catalogue import LAYERS
from layers.contract import Unavailable
from layers.earth.uncertain import NotKnown
from layers.journal.known import Known
from layers.picture import Picture
from layers.watch.state import state

WHY = "being worked out"
SAYS_NOTHING_IS = ("none", "nothing", "no vehicle is down", "0")


def without(demo: tuple[Picture, Known], *keys: str) -> Answers:
    picture, known = demo
    gone = dict.fromkeys(keys, Unavailable(reason=WHY, owed=True))
    kept = {key: shown for key, shown in picture.layers.items() if key not in gone}
    return answers(replace(picture, layers={**kept, **gone}), state(known, picture.moment))


@pytest.mark.parametrize("key", [layer.key for layer in LAYERS if layer.answers])
def test_what_waits_for_a_layer_is_not_said_to_be_none(
    demo: tuple[Picture, Known], key: str
) -> None:
    whole, found = without(demo), without(demo, key)
    for word in (answer_words.sortie, answer_words.next_decision, answer_words.first_out,
                 answer_words.search_next, answer_words.dive, answer_words.margin,
                 answer_words.way_home, answer_words.oldest):  # fmt: skip
        said, before = word(found), word(whole)
        if said != before:
            assert not said.known or said.figure.startswith(("≥", "NO")), said
            assert not f"{said.figure} {said.word}".startswith(SAYS_NOTHING_IS), said


def test_where_nothing_is_worked_out_yet_everything_is_said_to_be(
    demo: tuple[Picture, Known],
) -> None:
    found = without(demo, *(layer.key for layer in LAYERS))
    each = (answer_words.sortie, answer_words.first_out, answer_words.search_next,
            answer_words.dive, answer_words.oldest)  # fmt: skip
    said = [*answer_words.persons(found), *(word(found) for word in each)]
    assert {one.known for one in said} == {False}
    assert all(WHY in one.word for one in said), said
    assert not isinstance(found.next_decision, NotKnown) or WHY in found.next_decision.missing


def test_an_age_that_something_older_may_outdo_is_told_as_at_least(
    demo: tuple[Picture, Known],
) -> None:
    whole = without(demo)
    assert not answer_words.oldest(whole).figure.startswith("≥")
    one = next(layer.key for layer in LAYERS if "inputs" in layer.answers)
    found = without(demo, one)
    assert answer_words.oldest(found).figure.startswith("≥")
    assert told_as(found)["oldest_input"]["at_least"] is True


def test_where_nothing_was_told_nothing_is_owed(demo: tuple[Picture, Known]) -> None:
    """An age is not *at least*, and nothing waits, for a layer that nobody has told anything."""
    picture, known = demo
    asks = dict.fromkeys((layer.key for layer in LAYERS if layer.key != "weather"),
                         Unavailable(reason="how many are on board"))  # fmt: skip
    layers = {**picture.layers, **asks}
    found = answers(replace(picture, layers=layers), state(known, picture.moment))
    assert not answer_words.oldest(found).figure.startswith("≥")
    assert answer_words.persons(found)[0].word == "nobody counted yet"
