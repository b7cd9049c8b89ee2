"""What is imported late is there when something of it is asked for, and not before."""

from __future__ import annotations

import subprocess
import sys

from dashboard.server.processes import ROOT


def said_by(program: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return done.stdout.split()


def test_a_package_is_imported_when_something_of_it_is_asked_for() -> None:
    program = """
import sys
from dashboard.chart.late import late
with late("decimal"):
    import decimal
    inspected = hasattr(decimal, "__file__")
print("decimal" in sys.modules, inspected)
print(decimal.Decimal("1.5") + 1, "decimal" in sys.modules)
import decimal as whole
print(whole is sys.modules["decimal"], hasattr(whole, "__file__"))
"""
    assert said_by(program) == ["False", "False", "2.5", "True", "True", "True"]


def test_one_that_is_there_already_is_itself() -> None:
    program = """
import decimal, sys
from dashboard.chart.late import late
with late("decimal"):
    import decimal as again
print(again is decimal, sys.modules["decimal"] is decimal)
"""
    assert said_by(program) == ["True", "True"]


def test_a_part_of_it_can_be_asked_for_meanwhile() -> None:
    program = """
from dashboard.chart.late import late
with late("xml"):
    import xml.dom
    from xml import dom
print(dom is xml.dom)
"""
    assert said_by(program) == ["True"]


def test_the_map_asks_for_no_tables() -> None:
    program = """
import logging, sys
logging.disable(logging.CRITICAL)
from dashboard.chart import folium_map
from layers.earth.chart.frames import frame_for
from layers.earth.position import Position
from layers.scene.browser import ChartBase
from layers.scene.ink import INKS
frame = frame_for(Position(50.0, -8.0), None, 25000.0)
made = folium_map.chart(ChartBase(frame=frame, ink=INKS["night"], attribution=""))
print(made.location == [0.0, 0.0], "pandas" in sys.modules, "matplotlib" in sys.modules)
"""
    assert said_by(program) == ["True", "False", "False"]
