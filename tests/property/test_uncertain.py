"""What is not known stays so through every sum, first, last and chance.

Written from the rules: a sum has a known part and an open part; the first of several ends is at
most the earliest known; a chance with an unknown part lies between that part as no and as yes.
"""

import math

import pytest
from hypothesis import given, strategies as st

from layers.earth.errors import InputError
from layers.earth.uncertain import (
    Bounds,
    NotKnown,
    Number,
    Withheld,
    as_dict,
    chance_words,
    ends,
    first_of,
    total,
    words,
)

values = st.floats(-1e6, 1e6)
numbers = st.builds(lambda v: Number(value=v, unit="h"), values)
lists = st.lists(numbers, min_size=1, max_size=6)


@given(lists, st.data())
def test_taking_one_part_away_leaves_bounds_that_hold_the_former_answer(parts, data):
    k = data.draw(st.integers(0, len(parts) - 1))
    less = [p if i != k else NotKnown(missing=("forward",)) for i, p in enumerate(parts)]
    before, after = first_of(parts), first_of(less)
    assert not isinstance(after, Number)
    low, high = ends(after)
    assert low is None or low <= before.value
    assert high is None or high >= before.value
    assert "forward" in after.missing


@given(st.lists(st.floats(0, 1e6), min_size=2, max_size=6))
def test_a_sum_with_an_open_part_is_at_least_the_known_part(values):
    parts = [Number(value=v) for v in values]
    whole, part = total(parts), total([*parts[:-1], NotKnown(missing=("aft",))])
    assert isinstance(part, Bounds)
    assert part.at_most is None
    assert part.at_least <= whole.value + 1e-6


def test_withheld_goes_through_everything():
    parts = [Number(value=1.0), Withheld(), NotKnown()]
    assert all(isinstance(rule(parts), Withheld) for rule in (first_of, total))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_is_finite(bad):
    with pytest.raises(InputError, match="not finite"):
        Number(value=bad)


def test_certainty_is_never_made_by_rounding():
    assert chance_words(0.9999) == "more than 99 of 100"
    assert chance_words(1.0) == "more than 99 of 100"
    assert chance_words(0.0) == "less than 1 of 100"
    assert chance_words(0.64) == "64 of 100"


def test_each_form_says_what_it_is():
    told = as_dict(Bounds(at_most=21.0, unit="h", missing=("forward refuge's air",)))
    assert told["form"] == "bounds"
    assert told["missing"] == ["forward refuge's air"]
    assert "value" not in told
    assert words(NotKnown(missing=("depth",))) == "not known: depth"
    assert as_dict(NotKnown())["form"] == "not known"
    spread = as_dict(Number(value=2.0, p10=1.0, p90=3.0))
    assert (spread["p10"], spread["p50"], spread["p90"]) == (1.0, 2.0, 3.0)


def test_what_cannot_be_the_first_takes_nothing_from_what_is_known_of_it():
    sure = Number(value=39.0, unit="h", p10=28.0, p90=51.0)
    open_end = Bounds(at_least=215.0, missing=("no level within 10 d",), unit="h")
    assert first_of([sure, open_end]) == sure
    sooner = Bounds(at_most=30.0, missing=("forward not read",), unit="h")
    assert first_of([sure, sooner]) == Bounds(at_most=30.0, missing=("forward not read",), unit="h")
