"""Every layer of the catalogue, from the exercise's feeds to chart, table and sentence."""

from __future__ import annotations

import json
import pickle
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from dashboard.panels.plot.snapshot import KINDS as EXPORT_KINDS
from demo_data.scenario import TRUTH
from layers.catalogue import BY_KEY, FEEDS, KINDS, LAYERS
from layers.contract import Moment, Shown
from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.chart.marks import GridMark, PointMark, Symbol
from layers.journal.known import Known
from layers.picture import Picture, compute_order, picture
from layers.scene.browser import feature_collection
from layers.scene.ink import INKS
from layers.scene.scene import STYLE_WORDS, scene
from layers.scene.snapshot import FORMATS

ROOT = Path(__file__).resolve().parents[2]
Demo = tuple[Picture, Known]
KEYS = [layer.key for layer in LAYERS]


def test_the_six_layers_are_there_once() -> None:
    assert len(set(KEYS)) == len(KEYS)
    six = {"datum", "transponders", "tracks", "forward_port", "weather", "survivors"}
    assert six <= set(KEYS)


@pytest.mark.parametrize("key", KEYS)
def test_a_layer_shows_the_exercise(demo: Demo, key: str) -> None:
    shown = demo[0].layers[key]
    assert isinstance(shown, Shown), getattr(shown, "reason", "")
    assert re.match(r"^[A-Z0-9]", shown.sentence)
    assert shown.sentence.rstrip().endswith((".", "?", ")")), shown.sentence
    assert shown.table.rows, "an empty table says nothing"
    assert shown.result.rests_on, "a result says which records it rests on"
    held = {record.id for record in demo[1].records(*KINDS)}
    assert set(shown.result.rests_on) <= held


@pytest.mark.parametrize("key", KEYS)
def test_every_mark_says_what_it_is_and_where_from(demo: Demo, key: str) -> None:
    shown = demo[0].layers[key]
    assert isinstance(shown, Shown)
    keys = [mark.key for mark in shown.marks]
    assert len(keys) == len(set(keys)), "a mark's key is its own"
    for mark in shown.marks:
        assert mark.tooltip.strip(), mark.key
        assert mark.source.strip(), mark.key
        assert "<" not in mark.tooltip or "< " in mark.tooltip, "a tooltip is text, not markup"
        assert mark.style in STYLE_WORDS
        if isinstance(mark, PointMark) and mark.symbol is Symbol.WIND_BARB:
            assert mark.heading_true_deg is not None
            assert mark.speed_kn is not None
        if isinstance(mark, GridMark):
            rows, columns = mark.values.shape
            assert mark.latitudes_deg.shape == (rows + 1, columns + 1)


@pytest.mark.parametrize("key", KEYS)
def test_a_table_has_units_in_its_heads_and_can_be_written_as_json(demo: Demo, key: str) -> None:
    shown = demo[0].layers[key]
    assert isinstance(shown, Shown)
    for table in (shown.table, *shown.tables.values()):
        assert all(head.strip() for head in table.heads)
        json.dumps([[str(cell) for cell in row] for row in table.rows], allow_nan=False)
        for row in table.rows:
            assert not any(isinstance(cell, float) and cell != cell for cell in row), "NaN shown"


@pytest.mark.parametrize("key", KEYS)
def test_a_result_can_be_kept_and_shared(demo: Demo, key: str) -> None:
    shown = demo[0].layers[key]
    assert isinstance(shown, Shown)
    again = pickle.loads(pickle.dumps(shown))  # as layers/results.py keeps it
    assert again.sentence == shown.sentence
    assert len(again.marks) == len(shown.marks)


@pytest.mark.parametrize("name", list(FrameName))
@pytest.mark.parametrize("ink", list(INKS))
def test_the_whole_picture_is_drawn_in_every_frame(demo: Demo, name: FrameName, ink: str) -> None:
    marks = [
        (key, mark)
        for key, shown in demo[0].layers.items()
        if isinstance(shown, Shown)
        for mark in shown.marks
    ]
    drawn = scene(marks, ChartFrame(name, TRUTH, 40_000.0))
    collection = feature_collection(drawn, INKS[ink])
    text = json.dumps(collection, allow_nan=False)
    assert len(collection["features"]) >= len(drawn.placed) * 0.9
    # what one viewer is sent for a change; the target is 60 kB
    assert len(text) < 400_000


def test_a_picture_is_the_same_whenever_it_is_asked_for(demo: Demo) -> None:
    """Pure: the records up to the cut decide, not those that came after."""
    made, known = demo
    shelf = known._shelf
    earlier = Moment(made.moment.at, made.moment.at)
    again = picture(shelf, earlier, known.upto_seq, ("survivors", "tracks"))
    for key in ("survivors", "tracks"):
        one, other = made.layers[key], again.layers[key]
        assert isinstance(one, Shown)
        assert isinstance(other, Shown)
        assert one.sentence == other.sentence
        assert one.table == other.table


def test_no_layer_needs_a_slow_one_and_slow_ones_come_last() -> None:
    for layer in LAYERS:
        assert not any(BY_KEY[need].slow for need in layer.needs)
    order = compute_order()
    slow = [BY_KEY[key].slow for key in order]
    assert slow == sorted(slow)
    place = {key: number for number, key in enumerate(order)}
    assert all(place[need] < place[key] for key in order for need in BY_KEY[key].needs)


def test_kinds_and_feeds_have_names_of_their_own() -> None:
    owners = {"journal", "watch", *KEYS}
    for name, kind in KINDS.items():
        assert name == kind.name
        assert name.split(".")[0] in owners
    keys = [feed.key for feed in FEEDS]
    assert len(keys) == len(set(keys))


def test_help_tells_every_layer_with_its_page() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "layers", "--help"], cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    for layer in LAYERS:
        row = next(line for line in done.stdout.splitlines() if line.startswith(f"| {layer.key} "))
        assert layer.title in row
        assert f"/{layer.address}" in row


def test_every_export_format_has_its_words() -> None:
    assert set(EXPORT_KINDS) == set(FORMATS)


def test_imports_go_one_way() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports"))], cwd=ROOT, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:]


def test_the_top_of_the_tree_holds_what_belongs_there() -> None:
    files = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    top = {name.split("/")[0] for name in files}
    visible = {name for name in top if not name.startswith(".")}
    assert visible == {
        "README.md", "DEVELOPERS.md", "requirements.txt",
        "dashboard", "layers", "demo_data", "tests",
    }  # fmt: skip


def test_no_figure_in_a_mark_is_infinite(demo: Demo) -> None:
    for shown in demo[0].layers.values():
        if isinstance(shown, Shown):
            for mark in shown.marks:
                for name in ("latitudes_deg", "longitudes_deg", "values"):
                    values = getattr(mark, name, None)
                    assert values is None or not np.isinf(values).any(), (mark.key, name)
