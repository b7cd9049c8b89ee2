"""The same picture gives the same bytes, also in another process with another hash seed."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from layers.contract import Moment
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.scene.ink import DAY
from layers.scene.paper.sheet import PaperFormat, draw
from layers.scene.paper.words import Sheet
from layers.scene.scene import scene
from tests.unit.test_exports import AT, STAMP, marks

FRAME = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
FORMS: tuple[PaperFormat, ...] = ("png", "svg", "pdf")


def drawn(form: PaperFormat, at: datetime = AT) -> bytes:
    """Return the example's marks on one sheet."""
    placed = [(name, replace(mark, label="LIMPET", tooltip="t")) for name, mark in marks()]
    sheet = Sheet(stamp=replace(STAMP, moment=Moment(at, at)), notes=("a note",), ages=("1 h",))
    return draw(scene(placed, FRAME), sheet, DAY, None, form)


@pytest.mark.parametrize("form", FORMS)
def test_the_same_picture_is_the_same_file(form: PaperFormat) -> None:
    first = drawn(form)
    assert drawn(form) == first
    assert drawn(form, AT + timedelta(minutes=1)) != first  # the declared time is on it


def test_another_process_writes_the_same_file() -> None:
    code = (
        "import hashlib; from tests.unit.test_paper_same_bytes import drawn; "
        "print(hashlib.sha256(drawn('svg')).hexdigest())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          env={**os.environ, "PYTHONHASHSEED": "77"})  # fmt: skip
    assert done.stdout.strip() == hashlib.sha256(drawn("svg")).hexdigest()


def test_no_clock_is_in_the_file() -> None:
    this_year = str(datetime.now(UTC).year).encode()
    assert b"CreationDate" not in drawn("pdf") or this_year not in drawn("pdf")
