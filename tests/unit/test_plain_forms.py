"""No raw field name, id, JSON or scientific notation in any form, refusal or list.

Walks every kind that people type: labels, hints and what is said when nothing, or nonsense, was
typed. A raw name is one with an underscore, as the code has it.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from dashboard.tools.forms import order as form_order
from dashboard.tools.forms.correcting import number_text
from dashboard.tools.forms.fields import Field, fields_of, label_errors, payload_of
from dashboard.tools.forms.record_form import typed_kinds
from layers.catalogue import KINDS
from layers.journal.words.fields import WITHIN_95, field_label, in_plain_words
from layers.journal.words.payloads import payload_words

NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
RAW = re.compile(
    r"[a-z0-9]+_[a-z0-9_]+"  # a name from the code
    r"|\d(?:\.\d+)?e[+-]?\d+"  # 1e+06
    r"|\b[0-9a-f]{24,}\b"  # an id
    r"|[{}\[\]]|\bJSON\b|\bnull\b|\bNone\b|\bNaN\b"
)
UNCLEAR = {"Subject", "Mmsi", "Part", "Sort", "Key", "Target", "Sigma (m)", "By", "Head hash"}
# what is no use in each sort of field
NONSENSE = {
    "number": "many", "integer": "1.5", "time": "99", "position": "here", "numbers": "a b",
    "positions": "here", "pressure": "1.4 bar", "gas": "2", "spread": "1 2", "rows": [{}],
    "lines": "", "text": "", "choice": "", "switch": False,
}  # fmt: skip


def all_fields(fields):
    for field in fields:
        yield field
        yield from all_fields(field.columns)


@pytest.mark.parametrize("name", typed_kinds())
def test_labels_and_hints_are_plain(name):
    fields = fields_of(KINDS[name].model.model_json_schema(), name)
    labels = [field.label for field in fields]
    for field in all_fields(fields):
        for said in (field.label, field.help, *field.choices[:0]):
            assert not RAW.search(said), said
        assert field.label not in UNCLEAR, field
        assert field.label.strip()
    assert len(set(labels)) == len(labels), labels  # two fields of one form are told apart
    assert not RAW.search(KINDS[name].title)


@pytest.mark.parametrize("name", typed_kinds())
def test_refusals_are_plain_and_stand_at_their_fields(name):
    kind = KINDS[name]
    fields = fields_of(kind.model.model_json_schema(), name)
    for typed in ({}, {field.name: NONSENSE[field.sort] for field in fields}):
        payload, wrong = payload_of(fields, typed, NOW)
        assert set(wrong) <= {field.name for field in fields}
        by_field, rest = label_errors(kind, fields, payload)
        for said in (*wrong.values(), *by_field.values(), rest):
            assert not RAW.search(said), said
    required = [field for field in fields if field.required]
    _, wrong = payload_of(fields, {}, NOW)
    assert set(wrong) == {field.name for field in required}  # all at once


@pytest.mark.parametrize("name", typed_kinds())
def test_a_field_that_is_filled_by_itself_is_read(name):
    fields = fields_of(KINDS[name].model.model_json_schema(), name)
    for field in fields:
        left = form_order.LEFT_EMPTY.get(f"{name}.{field.name}")
        if left:
            payload, wrong = payload_of((field,), {field.name: left}, NOW)
            assert not wrong, wrong
            assert payload


def test_a_form_asks_little_at_once():
    # what stands unfolded in the forms of the first hours; the trade tells no more in one breath
    for name in form_order.FIRST_HOUR:
        fields = fields_of(KINDS[name].model.model_json_schema(), name)
        first = [f for f in fields if form_order.stands_first(name, f.name, f.required)]
        assert 1 <= len(first) <= 8, (name, [f.label for f in first])


def test_every_order_names_fields_that_are_there():
    for name, wanted in form_order.KNOWN_FIRST.items():
        there = {field.name for field in fields_of(KINDS[name].model.model_json_schema(), name)}
        assert set(wanted) <= there, (name, set(wanted) - there)
    for whole in form_order.LEFT_EMPTY:
        kind, _, name = whole.rpartition(".")
        there = {field.name for field in fields_of(KINDS[kind].model.model_json_schema(), kind)}
        assert name in there, whole


def test_the_accuracy_of_a_place_is_told_as_the_circle_that_holds_her_with_95_percent():
    # Rayleigh: 95 % lie within 2.4477 standard deviations; 2 nmi is 3704 m, so 1513.2 m
    assert pytest.approx(2.4477, abs=1e-4) == WITHIN_95
    fields = fields_of(KINDS["datum.lkp"].model.model_json_schema(), "datum.lkp")
    field = next(f for f in fields if f.name == "sigma_m")
    payload, wrong = payload_of((field,), {"sigma_m": "2 nmi"}, NOW)
    assert not wrong
    assert payload["sigma_m"] == pytest.approx(1513.2, abs=0.1)
    assert "3704 m" in payload_words(payload, kind="datum.lkp")
    again, _ = payload_of((field,), {"sigma_m": number_text(field, payload["sigma_m"])}, NOW)
    assert again["sigma_m"] == pytest.approx(payload["sigma_m"], rel=1e-5)


@pytest.mark.parametrize("value", [1e6, 1.25e-5, 3704.0, 3.704, 12345.678, 0.1])
def test_no_number_is_written_with_an_exponent(value):
    field = Field(name="length_m", label="Length (m)", sort="number", required=True)
    for said in (number_text(field, value), payload_words({"length_m": value})):
        assert not RAW.search(said), said
    again, wrong = payload_of((field,), {"length_m": number_text(field, value)}, NOW)
    assert not wrong
    assert again["length_m"] == pytest.approx(value, rel=1e-5)


def test_a_name_in_a_sentence_is_put_in_words():
    said = in_plain_words("a relative bearing needs the observer's heading_deg at that time")
    assert said == "a relative bearing needs the observer's heading of the ship at that time"
    assert field_label("course_true_deg") == "Course (°T)"
