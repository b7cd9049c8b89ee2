"""A name with a slip in it is asked, not taken as another thing that nobody has heard of.

Written from how names go wrong by voice: one letter lost, doubled, exchanged or another. What has
a number of its own ("gear lot 2") is another thing, however near, and is never asked.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings, strategies as st

from layers.catalogue import KINDS
from layers.earth.errors import AskedFirst
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import as_record
from tests.unit.forward_port_cases import NOW, row

TOLD = (
    row("held", NOW, what="LIMPET", held_by="CAPE ARDIS", sort="vehicle"),
    row("held", NOW, what="gear lot 1", held_by="CAPE ARDIS", sort="gear"),
    row("ready_again", NOW, what="LIMPET", is_ready=True),
    row("port", NOW, name="Aldermouth", latitude_deg=51.8, longitude_deg=-8.3),
    row("told_coming", NOW, port_or_hospital="St Brannoc's", coming="4 stretcher cases"),
)
NAMES = [
    ("held", {"held_by": "CAPE ARDIS", "sort": "vehicle"}, "what", "LIMPET"),
    ("held", {"what": "LIMPET"}, "held_by", "CAPE ARDIS"),
    ("ready_again", {"is_ready": True}, "what", "LIMPET"),
    ("told_coming", {"coming": "LIMPET"}, "port_or_hospital", "Aldermouth"),
    ("told_coming", {"coming": "LIMPET"}, "port_or_hospital", "St Brannoc's"),
]
RECORDS = [as_record(one, seq=n, recorded_at=NOW, author="AB") for n, one in enumerate(TOLD, 1)]
KNOWN = Known(ListShelf(RECORDS), KINDS, len(TOLD), NOW)


@st.composite
def slips(draw: st.DrawFn, name: str) -> str:
    k = draw(st.integers(0, len(name) - 1).filter(lambda at: name[at].isalpha()))
    letter = draw(st.sampled_from("abcdefghijklmnoprstuwxyz"))
    return draw(st.sampled_from([
        name[:k] + name[k + 1 :], name[:k] + name[k] + name[k:], name[:k] + letter + name[k + 1 :],
        name[:k] + name[k + 1 : k + 2] + name[k] + name[k + 2 :],
    ]))  # fmt: skip


def recorded(kind: str, payload: dict[str, Any], answered: tuple[str, ...] = ()) -> None:
    """Ask as the journal does before it takes a record."""
    whole = KINDS[f"forward_port.{kind}"]
    draft = replace(row(kind, NOW, **payload), answered=answered)
    assert whole.ask is not None
    whole.ask(check_payload(whole, payload, "row"), draft, KNOWN, "AB")


@settings(max_examples=25, deadline=None)
@given(st.data())
@pytest.mark.parametrize(("kind", "others", "field", "name"), NAMES)
def test_a_slip_in_a_name_is_asked_with_the_name_that_is_meant(
    kind: str, others: dict[str, Any], field: str, name: str, data: st.DataObject
) -> None:
    said = data.draw(slips(name))
    assume(said.casefold() != name.casefold())
    with pytest.raises(AskedFirst) as asked:
        recorded(kind, {**others, field: said})
    assert repr(name) in asked.value.what  # what the box shows


@pytest.mark.parametrize(("kind", "others", "field", "name"), NAMES)
def test_the_name_itself_and_a_name_that_is_none_of_them_are_taken(
    kind: str, others: dict[str, Any], field: str, name: str
) -> None:
    for said in (name, name.lower(), "port agent", "gear lot 2", "WINDHOVER"):
        recorded(kind, {**others, field: said})


def test_who_says_that_it_is_another_is_believed() -> None:
    ids = tuple(record.id for record in RECORDS)
    recorded("held", {"what": "LIMPIT", "held_by": "CAPE ARDIS"}, answered=ids)
