"""How a record is said in a list: no bare field, no number of a thing without what it is.

From the finding: the log showed "tick: item 2" and a forecast's columns, and gave water coming
in (a volume an hour) in hours.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.catalogue import KINDS
from layers.journal.holds import listed
from layers.journal.known import Known
from layers.journal.words.fields import field_label, unit_of
from layers.journal.words.payloads import payload_words

# numbers that have no unit: counts, shares, factors, and what a model's own words name
COUNTED = (
    "chance", "factor", "persons", "places", "seats", "reliability", "credibility", "efficiency",
    "oxygen_fraction", "count",
)  # fmt: skip


@pytest.fixture(scope="module")
def known() -> Known:
    shelf, seq = demo_journal(DEMO_NOW)
    return Known(shelf, KINDS, seq, DEMO_NOW)


def of(known: Known, kind: str) -> list[str]:
    return [listed(known, record, 400) for record in known.records(kind)]


def test_a_tick_is_said_in_the_words_of_its_checklist(known: Known) -> None:
    ticks = of(known, "watch.tick")
    # the exercise's list for SUBLOOK, second item (demo_data/watch)
    assert any("Ask the squadron for the sailing list and riders" in said for said in ticks)
    assert not any(said.startswith("item") for said in ticks)
    assert all("item " in said and "done by watch officer" in said for said in ticks)


def test_a_forecast_is_said_by_its_span_and_not_by_its_grid(known: Known) -> None:
    for said in of(known, "weather.forecast"):
        assert "issued 1" in said
        assert " to 1" in said
        assert "waves" in said
        for raw in ("columns", "rows", "steps", "variables", "_"):
            assert raw not in said


def test_a_report_on_a_task_says_which_task(known: Known) -> None:
    # SALTMARSH and GREY HERON had tasks at 131200Z (demo_data/watch)
    assert any("of No. " in said and "task" in said and "SALTMARSH" in said
               for said in of(known, "watch.task_report"))  # fmt: skip


def test_an_alarm_is_said_as_on_every_page_and_a_ship_without_what_a_form_asks(
    known: Known,
) -> None:
    said = KINDS["watch.alarm"].says
    assert said is not None
    when = {"said": "recovery: the window closes", "when": "2027-03-16T08:30:00+00:00"}
    assert said(when, known) == "recovery: the window closes, 160830Z MAR 27"
    assert payload_words({"subject": "mmsi:299000101", "speed_kn": 11.1}) == (
        "ship MMSI 299000101; speed 11.1 kn"
    )


def test_a_long_row_of_figures_is_said_by_how_many_and_how_far(known: Known) -> None:
    for said in of(known, "transponders.profile"):
        assert " figures, " in said
        assert said.count(",") < 12


def test_points_on_a_road_are_positions_in_the_one_spelling(known: Known) -> None:
    for said in of(known, "forward_port.road"):
        assert "51.8413" not in said
        assert "′N" in said


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("m3_per_h", 0.8, "0.8 m³/h"),  # a volume an hour, never a time
        ("deck_strength_t_m2", 7.5, "7.5 t/m²"),  # a load on an area, never an area
        ("above_bar_abs", 1.3, "1.3 bar absolute"),
        ("ceiling_ft", 3000, "3000 ft"),
        ("oxygen_kg_each", 2.6, "2.6 kg"),
        ("oxygen_l_min", 1.5, "1.5 l/min"),
        ("reliability_c", 0.5, "0.5"),  # a letter of the grading, no temperature
        ("salinity_psu", 35.1, "35.1 ‰"),
    ],
)
def test_a_figure_has_the_unit_its_name_ends_with(name: str, value: float, said: str) -> None:
    assert payload_words({name: value}).endswith(f" {said}")


def numbers(schema: dict[str, Any], defs: dict[str, Any]) -> Iterator[str]:
    """Every field of a model, however deep, that holds a number."""
    schema = defs[schema["$ref"].rsplit("/", 1)[-1]] if "$ref" in schema else schema
    for name, field in schema.get("properties", {}).items():
        for one in (field, *field.get("anyOf", ()), field.get("items", {})):
            if one.get("type") == "number":
                yield name
            elif "$ref" in one:
                yield from numbers(one, defs)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_list_and_a_form_give_a_number_the_same_unit(kind: str) -> None:
    schema = KINDS[kind].model.model_json_schema()
    for name in dict.fromkeys(numbers(schema, schema.get("$defs", {}))):
        if name.endswith(("latitude_deg", "longitude_deg")):
            continue
        unit = unit_of(name)
        said, label = payload_words({name: 1.0}, kind=kind), field_label(name, kind)
        assert said.endswith(unit), said
        assert f"({unit})" in label if unit else "(°C)" not in label


def test_no_gas_is_called_another_s_name() -> None:
    """What stands beside the name of a gas is how much of that gas, whatever it is called."""
    assert "monoxide" not in field_label("ppm", "survivors.level")
    assert field_label("carbon_monoxide_ppm", "survivors.air") == "Carbon monoxide (ppm)"
