"""Real files dropped on the plot, a corrupt one beside them, and a layer that cannot compute."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.chart import PATIENCE_MS, run
from tests.browser.conftest import ROOT, Server, Watched, start
from tests.browser.pages import OPENING_MS, at_rest, box, opened, unknown_misses
from tests.samples import sample

pytestmark = pytest.mark.browser
# read by Python itself as it starts: the layer of tracks then raises whatever it is given
FAULT = """
import sys
sys.path.insert(0, {root!r})
from layers.catalogue import LAYERS
def broken(*_):
    raise ZeroDivisionError("made to fail by a test")
for layer in LAYERS:
    if layer.key == "tracks":
        object.__setattr__(layer, "compute", broken)
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Server]:
    """A server of these tests' own: what is dropped stays in its journal."""
    running = start(tmp_path_factory.mktemp("dropped"), shared=shared)
    try:
        yield running
    finally:
        running.end()


def dropped(page: Page, *files: Path) -> None:
    page.locator('input[type="file"]').first.set_input_files([str(file) for file in files])


def said_of(page: Page, name: str, what: str) -> None:
    panel = page.locator(".mp-panel").filter(has_text=name)
    expect(panel.filter(has_text=re.compile(what)).first).to_be_visible(timeout=OPENING_MS)


@pytest.mark.long
def test_a_real_ship_log_is_read_and_its_old_ships_are_not_drawn_as_of_now(
    on: Watched, server: Server
) -> None:
    """Its base stations tell the time of years ago: that is when its ships were where they say."""
    log = sample("ais_nais400.log")
    page = opened(on, server)
    before = run(page, "() => musterplot.marks.length")
    box(page, "Add")
    dropped(page, log)
    said_of(page, log.name, r"position of a ship or aircraft\s*\d+")
    page = opened(on, server)
    after = run(page, "() => musterplot.marks.length")
    assert abs(after - before) <= 10, "hundreds of fixes, none of today"
    assert on.errors == []


def test_buoy_text_gps_log_and_profile_are_told_apart(on: Watched, server: Server) -> None:
    files = [sample(name) for name in
             ("ndbc_44013_stdmet.txt", "nmea_gps_nl.log", "xbt_C3_00005.edf")]  # fmt: skip
    page = opened(on, server)
    box(page, "Add")
    dropped(page, *files)
    said_of(page, "ndbc_44013_stdmet.txt", r"weather observation\s*\d+")
    said_of(page, "nmea_gps_nl.log", r"position of a ship or aircraft\s*\d+")
    said_of(page, "xbt_C3_00005.edf", r"profile")
    assert on.errors == []


def test_a_corrupt_file_is_said_and_takes_nothing_with_it(
    on: Watched, server: Server, tmp_path: Path
) -> None:
    corrupt = tmp_path / "forecast.nc"
    corrupt.write_bytes(b"CDF\x01" + bytes(range(256)) * 8)
    page = opened(on, server)
    names = set(run(page, "() => [...musterplot.seen.keys()]"))
    box(page, "Add")
    dropped(page, corrupt)
    said_of(page, "forecast.nc", r"rejected|not recognised|cannot be read")
    at_rest(page)
    assert names <= set(run(page, "() => [...musterplot.seen.keys()]"))
    expect(page.locator(".mp-strip [data-answer^='persons']").first).to_be_visible()


@pytest.fixture
def faulty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """A server of its own, just started, one of whose layers fails whatever it is given."""
    fault = tmp_path / "fault"
    fault.mkdir()
    (fault / "sitecustomize.py").write_text(FAULT.format(root=str(ROOT)))
    held = os.environ.get("PYTHONPATH", "")
    monkeypatch.setenv("PYTHONPATH", f"{fault}{os.pathsep}{held}".rstrip(os.pathsep))
    folder = tmp_path / "data"
    folder.mkdir()
    running = start(folder)
    try:
        yield running
    finally:
        running.end()


@pytest.mark.long
def test_one_layer_fails_on_a_cold_server_and_the_rest_stays(on: Watched, faulty: Server) -> None:
    # a link to a page, as the first thing that is asked of this server
    page = opened(on, faulty, "weather")
    expect(page.get_by_text(re.compile(r"Sea state \d")).first).to_be_visible(timeout=OPENING_MS)
    assert unknown_misses(on) == []
    page = opened(on, faulty, "plot")
    names = run(page, "() => [...musterplot.seen.keys()]")
    assert "DISSUB" in names
    assert "transponder" in names
    assert "other traffic" not in names
    expect(page.locator(".mp-strip [data-answer^='persons']").first).to_be_visible(
        timeout=PATIENCE_MS
    )
    box(page, "Layers")
    expect(page.get_by_text(re.compile("^Not shown: ")).first).to_be_visible(timeout=PATIENCE_MS)
    assert on.errors == []
