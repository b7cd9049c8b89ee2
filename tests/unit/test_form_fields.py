"""Every kind of record can be typed: its model becomes fields, and fields become its payload."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from dashboard.tools.forms.fields import Field, fields_of, put
from dashboard.tools.forms.record_form import typed_kinds
from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.words.fields import field_label

FIELD_SORTS = {
    "text", "number", "integer", "choice", "switch", "time", "position", "lines", "rows",
    "numbers", "positions", "pressure", "gas", "spread",
}  # fmt: skip


@pytest.mark.parametrize("name", typed_kinds())
def test_every_kind_has_a_field_for_everything_it_requires(name: str) -> None:
    schema = KINDS[name].model.model_json_schema()
    fields = fields_of(schema)
    assert {field.sort for field in fields} <= FIELD_SORTS
    names = {field.name.split(".")[0] for field in fields}
    for required in schema.get("required", ()):
        stem = required.removesuffix("latitude_deg").removesuffix("longitude_deg")
        assert required in names or stem in names, required


def test_a_label_carries_the_unit() -> None:
    assert field_label("range_nmi") == "Range (nmi)"
    assert field_label("course_true_deg") == "Course (°T)"
    assert field_label("pressure_bar_abs") == "Pressure (bar absolute)"
    assert field_label("reason") == "Reason"


def test_latitude_and_longitude_are_typed_as_one_position() -> None:
    schema = {
        "properties": {"latitude_deg": {"type": "number"}, "longitude_deg": {"type": "number"}},
        "required": ["latitude_deg", "longitude_deg"],
    }
    (field,) = fields_of(schema)
    payload: dict[str, object] = {}
    put(payload, field, "49 50.0N 008 30.0W")
    assert payload == {
        "latitude_deg": pytest.approx(49.8333333),
        "longitude_deg": pytest.approx(-8.5),
    }
    with pytest.raises(InputError, match="Position"):
        put(payload, field, "91N 8W")


@pytest.mark.parametrize(
    ("sort", "typed", "expected"),
    [
        ("number", "1,5", 1.5),
        ("number", " 3 ", 3.0),
        ("integer", "16", 16),
        ("time", "152340Z MAR 27", "2027-03-15T23:40:00+00:00"),
        ("lines", "one\n\n two ", ["one", "two"]),
        ("switch", True, True),
        ("numbers", "0 5; 10.5", [0.0, 5.0, 10.5]),
        ("gas", "1.9 %", {"value": 1.9, "unit": "percent"}),
    ],
)
def test_what_is_typed_is_read_back(sort: str, typed: object, expected: object) -> None:
    payload: dict[str, object] = {}
    put(payload, Field(name="x", label="X", sort=sort, required=True), typed)
    assert payload["x"] == expected


@pytest.mark.parametrize(
    ("sort", "typed", "said"),
    [
        ("number", "many", "not a number"),
        ("integer", "1.5", "not a whole number"),
        ("time", "2027-03-15 23:40", "no time zone"),
        ("pressure", "1.4 bar", "from what it counts"),
        ("gas", "1.9", "does not say of what"),
        ("text", "", "nothing was given"),
    ],
)
def test_what_cannot_be_read_gets_its_sentence(sort: str, typed: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        put({}, Field(name="x", label="X", sort=sort, required=True), typed)


def test_an_empty_optional_field_is_left_out() -> None:
    payload: dict[str, object] = {}
    put(payload, Field(name="x", label="X", sort="number", required=False), "")
    assert payload == {}


def test_rows_are_read_and_a_bad_one_is_named() -> None:
    field = Field(
        name="groups",
        label="Groups",
        sort="rows",
        required=True,
        columns=(Field(name="count", label="Count", sort="integer", required=True),),
    )
    payload: dict[str, object] = {}
    put(payload, field, [{"Count": "4"}, {"Count": None}])
    assert payload == {"groups": [{"count": 4}]}
    with pytest.raises(InputError, match="Groups row 1, Count"):
        put({}, field, [{"Count": "x"}])


NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "name", "typed", "expected"),
    [
        ("datum.lkp", "sigma_m", "2 nmi", 3704.0),  # 1852 m exactly
        ("datum.lkp", "sigma_m", "17 400", 17_400.0),
        ("datum.intended_movement", "course_true_deg", "215T", 215.0),
        ("datum.intended_movement", "speed_min_kn", "6 kn", 6.0),
        ("datum.intended_movement", "report_due", "1214", "2026-11-28T12:14:00+00:00"),
        ("datum.intended_movement", "report_due", "291214Z", "2026-11-29T12:14:00+00:00"),
        ("datum.bearing", "chance_wrong", "20 %", 0.2),
        ("survivors.complement", "persons", "52 people", 52),
        ("weather.limit", "duration_h", "90 min", 1.5),
    ],
)
def test_a_field_takes_what_people_say(kind: str, name: str, typed: str, expected: object) -> None:
    fields = {field.name: field for field in fields_of(KINDS[kind].model.model_json_schema())}
    payload: dict[str, object] = {}
    put(payload, fields[name], typed, NOW)
    assert payload == {name: expected}


def test_a_thousands_comma_in_a_field_is_asked_with_both_readings() -> None:
    fields = {f.name: f for f in fields_of(KINDS["datum.lkp"].model.model_json_schema())}
    with pytest.raises(InputError, match=r"3704 m or 3\.7040 m"):
        put({}, fields["sigma_m"], "3,704")


def test_a_magnetic_direction_is_no_true_one() -> None:
    fields = {f.name: f for f in fields_of(KINDS["tracks.position"].model.model_json_schema())}
    with pytest.raises(InputError, match="magnetic"):
        put({}, fields["course_true_deg"], "060M")
