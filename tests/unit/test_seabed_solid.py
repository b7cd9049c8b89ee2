"""The seabed in three dimensions: the same numbers as the chart, and nothing fetched."""

from __future__ import annotations

import json
import math

import pytest

from dashboard.panels.transponders.solid import hull_faces, solid
from dashboard.panels.transponders.three_d import HALF_PX, VIEWS, deck
from demo_data import scenario
from layers.scene.ink import DAY, NIGHT
from layers.transponders.hull import Hull
from tests.unit.test_transponders_layer import at_demo


def hull(**more: float | None) -> Hull:
    told = {
        "length_m": 60.0,
        "beam_m": 6.0,
        "heading_true_deg": 0.0,
        "list_deg": 0.0,
        "bow_down_deg": 0.0,
        "depth_m": 134.0,
        **more,
    }
    return Hull(seats=(), rests_on=(), **told)


def bow(lies: Hull) -> tuple[float, float, float]:
    """The foremost corner of the upper deck."""
    return hull_faces(lies, 60.0, 6.0)[0][2]


def test_she_points_where_she_heads() -> None:
    for heading, east, north in ((0.0, 0.0, 30.0), (90.0, 30.0, 0.0), (200.0, -10.26, -28.19)):
        found = bow(hull(heading_true_deg=heading))
        assert found[:2] == pytest.approx((east, north), abs=0.01)


def test_a_bow_that_is_down_lies_deeper_and_a_list_lowers_the_starboard_side() -> None:
    level = bow(hull())[2]
    assert bow(hull(bow_down_deg=10.0))[2] == pytest.approx(
        level * math.cos(math.radians(10)) - 30.0 * math.sin(math.radians(10))
    )
    stern_port, stern_starboard = (hull_faces(hull(list_deg=12.0), 60.0, 6.0)[0][k] for k in (0, 4))
    assert stern_starboard[0] > stern_port[0]  # heading north, starboard is east
    assert stern_starboard[2] < stern_port[2]


def test_turning_moves_no_corner_nearer_or_farther() -> None:
    plain = hull_faces(hull(), 60.0, 6.0)
    turned = hull_faces(hull(heading_true_deg=217.0, list_deg=-25.0, bow_down_deg=8.0), 60.0, 6.0)
    for before, after in zip(plain, turned, strict=True):
        for a, b in zip(before, after, strict=True):
            assert math.hypot(*a) == pytest.approx(math.hypot(*b))


@pytest.mark.parametrize("ink", [NIGHT, DAY])
@pytest.mark.parametrize("heights", [1.0, 3.0])
def test_the_exercise_shows_what_the_tables_say(ink, heights) -> None:
    result = at_demo(scenario.DEMO_NOW).result
    made = solid(result, (), None, ink, heights)
    assert made is not None
    said = [row["text"] for row in made.texts]
    for one in result.transponders:
        assert any(text.startswith(one.name) for text in said)
        heads = [row["at"] for row in made.points]
        assert any(abs(z + one.depth_m * heights - 12.0) < 1e-6 for _, _, z in heads)
    for name, path in result.paths.items():
        told = made.said if path[-1].stale else said  # an old fix is told, not drawn: it has moved
        assert any(text.startswith(name) and f"{path[-1].depth_m:.0f} m" in text for text in told)
        assert any(text.startswith(name) for text in said) is not path[-1].stale
    assert any("after seat 132.0 m" in text for text in said)
    assert not any("heading not told" in words for words in made.said), "it is told by now"
    assert "current at the seat not known" in made.said


def test_the_deck_asks_for_nothing_outside() -> None:
    result = at_demo(scenario.DEMO_NOW).result
    made = solid(result, (), None, NIGHT)
    assert made is not None
    for side in VIEWS:
        told = deck(made, side, 1.0).to_json()
        assert "http" not in told
        parsed = json.loads(told)
        assert parsed["views"][0]["@@type"] == "OrbitView"
        assert parsed.get("mapProvider") is None
        assert [layer["@@type"] for layer in parsed["layers"]] == [
            "PolygonLayer",
            "LineLayer",
            "PointCloudLayer",
            "TextLayer",
        ]


def test_with_nothing_down_there_there_is_nothing_to_draw() -> None:
    from dataclasses import replace

    result = at_demo(scenario.DEMO_NOW).result
    bare = replace(result, transponders=(), fixes=(), paths={}, tracks={})
    assert solid(bare, (), None, NIGHT) is None


@pytest.mark.parametrize("side", VIEWS)
def test_no_name_lies_on_another_as_one_first_looks(side: str) -> None:
    """Boxes of the letters by their place in the view, worked here anew."""
    made = solid(at_demo(scenario.DEMO_NOW).result, (), None, NIGHT)
    assert made is not None
    rows = json.loads(deck(made, side, 1.0).to_json())
    names = next(layer for layer in rows["layers"] if layer["id"] == "names")["data"]
    tilt, turn = (math.radians(v) for v in {
        "from above": (89.0, 0.0), "along her": (18.0, made.heading_true_deg or 0.0),
        "from the south": (25.0, 0.0), "from the side": (35.0, 30.0),
    }[side])  # fmt: skip
    scale, boxes = HALF_PX / made.reach_m, []
    for name in names:
        e, n, u = name["at"]
        x = scale * (e * math.cos(turn) - n * math.sin(turn))
        away = e * math.sin(turn) + n * math.cos(turn)
        y = name["offset"][1] - scale * (away * math.sin(tilt) + u * math.cos(tilt))
        wide = 0.5 * name["size"] * len(name["text"])
        x -= {"start": 0.0, "middle": wide / 2, "end": wide}[name["anchor"]]
        boxes.append((x, y - name["size"] / 2, x + wide, y + name["size"] / 2, name["text"]))
    assert len(boxes) >= 4
    for k, one in enumerate(boxes):
        for other in boxes[:k]:
            clear = one[0] >= other[2] or other[0] >= one[2]
            clear = clear or one[1] >= other[3] or other[1] >= one[3]
            assert clear, f"{one[4]} on {other[4]}"
