"""What many viewers look at is projected and written once; another mark is another text."""

from __future__ import annotations

import gzip
import json
from dataclasses import replace

import numpy as np

from dashboard.chart.marks_address import marks_address
from dashboard.chart.shared import KeptTexts
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.chart.marks import LineMark, PointMark, Style
from layers.earth.position import Position
from layers.scene.browser import feature_collection
from layers.scene.ink import INKS
from layers.scene.scene import scene

FRAME = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
MARK = PointMark(key="p", style=Style.SHIP, tooltip="a </script><b>ship</b>", source="r1",
                 label="LIMPET", position=Position(49.8, -8.5))  # fmt: skip


def test_the_same_marks_are_written_once() -> None:
    held = KeptTexts()
    first = held.part("tracks", [MARK], FRAME, INKS["night"])
    assert held.part("tracks", [MARK], FRAME, INKS["night"]) is first
    assert held.made == 1


def test_another_mark_frame_or_ink_is_another_text() -> None:
    held = KeptTexts()
    moved = replace(MARK, label="MOVED")
    near = frame_for(Position(50.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
    parts = [
        held.part("tracks", [MARK], FRAME, INKS["night"]),
        held.part("tracks", [MARK], FRAME, INKS["day"]),
        held.part("tracks", [MARK], near, INKS["night"]),
        held.part("tracks", [moved], FRAME, INKS["night"]),
    ]
    assert len(set(parts)) == held.made == 4
    written = json.loads(gzip.decompress(parts[3]))
    assert written["features"][0]["properties"]["l"] == "MOVED"


def test_old_texts_go_and_the_same_marks_have_the_same_address() -> None:
    held = KeptTexts(most=2)
    before = marks_address("tracks", held.part("tracks", [MARK], FRAME, INKS["day"]))
    for number in range(5):
        held.part("tracks", [replace(MARK, key=str(number))], FRAME, INKS["day"])
    made = held.made
    again = marks_address("tracks", held.part("tracks", [MARK], FRAME, INKS["day"]))
    assert held.made == made + 1
    assert again == before


def test_a_flight_over_an_ocean_is_thinned_and_stays_where_it_was() -> None:
    ends = [Position(62.0, -6.0), Position(38.0, -75.0)]
    line = LineMark(
        key="f", style=Style.AIRCRAFT, tooltip="flight", source="r1",
        latitudes_deg=np.array([p.latitude_deg for p in ends]),
        longitudes_deg=np.array([p.longitude_deg for p in ends]),
    )  # fmt: skip
    placed = scene([("forward_port", line)], FRAME)
    whole = placed.placed[0].parts[0]
    sent = feature_collection(placed, INKS["night"])["features"][0]["geometry"]["coordinates"][0]
    assert len(whole) > 2_000
    assert len(sent) < len(whole) / 3
    # every point of the whole line lies within ten metres of what is sent, on a line of 5,000 km
    sent = np.array(sent)
    a, b = sent[:-1], sent[1:]
    for point in whole[::50]:
        along = np.clip(((point - a) * (b - a)).sum(1) / ((b - a) ** 2).sum(1), 0.0, 1.0)
        assert np.hypot(*(a + along[:, None] * (b - a) - point).T).min() < 10.0
