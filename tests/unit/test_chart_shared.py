"""What many viewers look at is projected and written once; another mark is another text."""

from __future__ import annotations

from dataclasses import replace

from dashboard.chart.shared import Written
from layers.earth.frames import FrameName, frame_for
from layers.earth.marks import PointMark, Style
from layers.earth.position import Position
from layers.scene.ink import INKS

FRAME = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
MARK = PointMark(key="p", style=Style.SHIP, tooltip="a </script><b>ship</b>", source="r1",
                 label="LIMPET", position=Position(49.8, -8.5))  # fmt: skip


def test_the_same_marks_are_written_once() -> None:
    held = Written()
    first = held.text([("tracks", MARK)], FRAME, INKS["night"])
    assert held.text([("tracks", MARK)], FRAME, INKS["night"]) is first
    assert held.made == 1


def test_another_mark_frame_or_ink_is_another_text() -> None:
    held = Written()
    moved = replace(MARK, label="MOVED")
    near = frame_for(Position(50.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
    texts = [
        held.text([("tracks", MARK)], FRAME, INKS["night"]),
        held.text([("tracks", MARK)], FRAME, INKS["day"]),
        held.text([("tracks", MARK)], near, INKS["night"]),
        held.text([("tracks", moved)], FRAME, INKS["night"]),
    ]
    assert len(set(texts)) == held.made == 4
    assert "MOVED" in texts[3]


def test_old_texts_go_and_markup_cannot_end_the_script() -> None:
    held = Written(most=2)
    for number in range(5):
        text = held.text([("tracks", replace(MARK, key=str(number)))], FRAME, INKS["day"])
        assert "<" not in text
    first = held.made
    held.text([("tracks", MARK)], FRAME, INKS["day"])
    assert held.made == first + 1
