"""What each kind declares of how it is told: whole, without two readings, and heard as itself."""

from __future__ import annotations

from itertools import combinations

import pytest
from pydantic import Field

from layers.catalogue import KINDS
from layers.heard import Grammar, hear
from layers.heard.grammar import Form, form_of
from layers.journal.kinds import Kind, Payload
from layers.journal.words.heard import HeardWords
from tests.heard_world import grammar, heard, verdict, world

FORMS = {name: form for name, form in grammar().forms.items() if form.heard.example}


@pytest.mark.parametrize("name", FORMS)
def test_the_example_of_each_kind_is_understood_as_that_kind(name: str) -> None:
    hearing = heard(FORMS[name].heard.example)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    assert name in [one.kind for one in hearing.understood]


@pytest.mark.parametrize("name", FORMS)
def test_each_required_field_has_a_role_or_is_filled(name: str) -> None:
    form = FORMS[name]
    model = form.kind.model
    required = {key for key, field in model.model_fields.items() if field.is_required()}
    positions = {"latitude_deg", "longitude_deg"}
    told = set(form.roles) | set(form.heard.fields)
    told |= {field for field in required if any(field.startswith(key) for key in form.roles)}
    if any(role.sort == "position" for role in form.roles.values()):
        told |= positions
    if form.heard.fill is None:
        assert required <= told, required - told
        return
    hearing = heard(form.heard.example)
    payloads = [one.payload for one in hearing.understood if one.kind == name]
    assert not payloads or required <= set(payloads[0])


def _cores(form: Form) -> set[tuple[str, ...]]:
    cores = {(f"word:{word.lower()}",) for word in form.heard.words}
    return cores | {tuple(sorted(core)) for core in form.cores}


def test_no_word_belongs_to_two_kinds_with_the_same_core() -> None:
    for one, other in combinations(grammar().forms.values(), 2):
        same = _cores(one) & _cores(other)
        # alike but for whose it is: her movement, a ship's position
        for core in same:
            if core and core[0].startswith("word:"):
                pytest.fail(f"{one.kind.name} and {other.kind.name} share {core[0]}")
            apart = set(one.roles) ^ set(other.roles)
            assert apart, (one.kind.name, other.kind.name, core)


def test_a_choice_reads_back_to_its_own_value() -> None:
    for form in grammar().forms.values():
        for role in form.roles.values():
            for phrase, value in role.choices.items():
                assert phrase.strip()
                first = next(p for p, held in role.choices.items() if held == value)
                assert role.choices[first] == value


class Ice(Payload):
    name: str
    latitude_deg: float
    longitude_deg: float
    across_m: float = Field(gt=0.0, le=5_000.0)
    drift_kn: float | None = Field(default=None, ge=0.0, le=10.0)


def test_a_new_kind_is_spoken_to_on_the_day_it_is_declared() -> None:
    kind = Kind(
        name="ice.berg", title="iceberg", model=Ice,
        heard=HeardWords(words=("berg", "iceberg"), needs=("name", "latitude_deg", "across_m"),
                         takes=("drift_kn",), example="berg name B7 4315N 00830E across 120 m"),
    )  # fmt: skip
    own = Grammar({**KINDS, kind.name: kind})
    hearing = hear("berg name B7 4315N 00830E across 400 ft drift 1.5 kn", own, world())
    (one,) = hearing.understood
    assert one.kind == "ice.berg"
    assert one.payload["across_m"] == pytest.approx(121.92)  # 1 ft = 0.3048 m exactly
    assert one.payload["drift_kn"] == 1.5
    asked = hear("berg name B7 4315N 00830E", own, world())
    assert [ask.about for ask in asked.asks] == ["iceberg: across?"]
    assert verdict(hear("berg name B7 4315N 00830E across 400", own, world())) == "asked"


def test_a_role_that_is_neither_declared_nor_a_field_is_a_mistake() -> None:
    kind = Kind(name="ice.berg", title="iceberg", model=Ice,
                heard=HeardWords(words=("berg",), needs=("colour",)))  # fmt: skip
    with pytest.raises(ValueError, match="colour"):
        form_of(kind)
