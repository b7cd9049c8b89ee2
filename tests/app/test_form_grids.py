"""A table that is typed in a form: its columns offer what exists, as other fields do."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft
from layers.journal.store import open_journal
from tests.app.test_form_helps import NOW, drawn, press

WATCH = Actor(name="watch officer", role=Role.WATCH)


def journal(path: Path) -> Path:
    """Return a journal with two transponders dropped."""
    store = open_journal(str(path), KINDS, clock=lambda: NOW)
    try:
        for n, name in enumerate(("T1", "T2")):
            drop = {"transponder": name, "latitude_deg": 43.25 + n / 100.0, "longitude_deg": 8.5,
                    "water_depth_m": 142.0, "turn_round_s": 0.2}  # fmt: skip
            store.append(WATCH, [Draft(kind="transponders.drop", payload=drop, valid_at=NOW,
                                       heard_at=NOW, source="telephone",
                                       identity=f"drop {name}")])  # fmt: skip
    finally:
        store.close()
    return path


def grids(app: AppTest) -> list[dict[str, Any]]:
    """Return of each table its columns as the browser is told to draw them."""
    return [json.loads(one.proto.columns) for one in app.dataframe]


def options(column: dict[str, Any]) -> list[str]:
    listed = column["type_config"]["options"]
    return [one["value"] if isinstance(one, dict) else one for one in listed]


def test_a_column_of_one_of_some_words_is_a_list_of_them(tmp_path: Path) -> None:
    app = drawn(tmp_path / "j.sqlite", "survivors.move")
    (columns,) = grids(app)
    fitness = columns["Fitness"]
    assert fitness["type_config"]["type"] == "selectbox"
    assert {"walking", "injured", "stretcher", "dead"} <= set(options(fitness))
    assert "" not in options(fitness)


def test_a_name_that_exists_is_pressed_and_begins_a_row_and_a_new_one_can_be_typed(
    tmp_path: Path,
) -> None:
    app = drawn(journal(tmp_path / "j.sqlite"), "transponders.typed_fix")
    (columns,) = grids(app)
    assert "Transponder" not in columns, "a column of text: any name can be typed"
    (pills,) = [one for one in app.button_group if "Transponder" in one.label]
    assert set(pills.options) == {"T1", "T2"}
    pills.set_value("T2").run()
    assert not app.exception
    (pills,) = [one for one in app.button_group if "Transponder" in one.label]
    pills.set_value("T1").run()
    assert not app.exception
    (table,) = app.dataframe
    assert list(table.value["Transponder"]) == ["T2", "T1"]
    press(app, "Record it")  # what else the form needs is asked; the rows stay
    (table,) = app.dataframe
    assert list(table.value["Transponder"]) == ["T2", "T1"]
