"""Laws of the ledger: whatever is moved, nobody is lost and no place goes negative."""

import contextlib

from hypothesis import given, settings, strategies as st

from layers.earth.errors import InputError
from layers.survivors.muster.ledger import moved, opened
from layers.survivors.muster.model import FITNESS, PLACES, Group, Move

PLACE_NAMES = st.sampled_from([*PLACES, "nowhere"])
GROUPS = st.builds(
    Group,
    persons=st.integers(1, 30),
    fitness=st.sampled_from(FITNESS[:4]),
    was=st.one_of(st.none(), st.sampled_from(FITNESS)),
    priority=st.one_of(st.none(), st.integers(1, 9)),
)
MOVES = st.builds(
    Move,
    from_place=PLACE_NAMES,
    to_place=PLACE_NAMES,
    groups=st.lists(GROUPS, min_size=1, max_size=3).map(tuple),
    reason=st.just("as told"),
)


@settings(max_examples=150, deadline=None)
@given(pob=st.integers(0, 144), moves=st.lists(MOVES, max_size=25))
def test_every_ledger_adds_up_to_pob_and_no_lot_is_negative(pob, moves):
    ledger = opened(pob, PLACES)
    for move in moves:
        with contextlib.suppress(InputError):  # a refused move must leave the ledger as it was
            ledger = moved(ledger, move)
        assert ledger.total == pob
        assert all(lot.persons > 0 for lots in ledger.lots.values() for lot in lots)
        by_fitness = sum(ledger.persons(p, f) for p in ledger.lots for f in FITNESS)
        assert by_fitness == pob


@settings(max_examples=100, deadline=None)
@given(pob=st.integers(1, 144), persons=st.integers(1, 200), to=st.sampled_from(list(PLACES)))
def test_a_move_is_taken_exactly_when_there_are_enough(pob, persons, to):
    move = Move(
        from_place="not accounted for",
        to_place=to,
        groups=(Group(persons=persons),),
        reason="as told",
    )
    try:
        after = moved(opened(pob, PLACES), move)
        taken = True
    except InputError:
        taken = False
    assert taken == (persons <= pob)
    if taken and to != "not accounted for":
        assert after.persons(to) == persons
