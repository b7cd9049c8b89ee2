"""``python -m tests.pictures``: the pictures in README, made anew from the exercise.

They are screenshots of the real page in Chromium, so that they never show what it does not do.
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, expect, sync_playwright

from tests.browser.conftest import ARGUMENTS, Server, chromium, start, wait_for_land

FOLDER = Path(__file__).resolve().parent.parent / "dashboard" / "pictures"
PATIENCE_MS = 120_000
FIRST_HOUR = (  # what is heard before each of the four frames
    ("lkp 4320N 00840E 1044Z within 2 nmi", "course 215 speed 6"),
    ("52 on board",),
    ("submiss 1400Z",),
    ("TENACE 4310N 00820E 240/12", "TENACE bearing 060M 1352"),
)


def save(png: bytes, name: str) -> None:
    """Keep a picture as small as it gets without loss."""
    FOLDER.mkdir(exist_ok=True)
    Image.open(io.BytesIO(png)).convert("RGB").save(FOLDER / name, optimize=True)


def settled(page: Page) -> bytes:
    """Return the page when its chart has its marks and nothing is being worked out."""
    page.wait_for_timeout(2_000)
    expect(page.locator(".stSpinner")).to_have_count(0, timeout=PATIENCE_MS)
    frame = page.frame_locator("iframe[title='streamlit_folium.st_folium']")
    frame.locator("[data-marks]").wait_for(state="attached", timeout=PATIENCE_MS)
    expect(page.locator(".mp-nowhere")).to_have_count(0, timeout=PATIENCE_MS)
    page.wait_for_timeout(3_000)
    return page.screenshot()


def exercise(page: Page, server: Server) -> None:
    """Plot and wall of the exercise."""
    page.set_viewport_size({"width": 1366, "height": 768})
    page.goto(f"{server.address}/lifts")  # the margin's first look is rough: wait for the whole
    expect(page.get_by_text("What gains most")).to_be_visible(timeout=PATIENCE_MS)
    page.wait_for_timeout(20_000)
    expect(page.get_by_text("rough: ")).to_have_count(0, timeout=PATIENCE_MS)
    page.goto(f"{server.address}/plot")
    save(settled(page), "plot.png")
    page.goto(f"{server.address}/wall")
    save(settled(page), "wall.png")


def first_hour(page: Page, server: Server) -> None:
    """Four lines as they were heard, on an empty exercise: a picture after each, two by two."""
    page.set_viewport_size({"width": 1366, "height": 768})
    page.goto(f"{server.address}/plot")
    sheet = Image.new("RGB", (1366, 768))
    for number, lines in enumerate(FIRST_HOUR):
        for line in lines:
            heard = page.get_by_label("What was heard")
            heard.wait_for(timeout=PATIENCE_MS)
            heard.fill(line)
            heard.press("Enter")
            expect(page.get_by_text("Understood:").first).to_be_visible(timeout=PATIENCE_MS)
            heard.press("Enter")
            expect(heard).to_have_value("", timeout=PATIENCE_MS)
        frame = Image.open(io.BytesIO(settled(page))).convert("RGB")
        small = frame.resize((681, 383), Image.Resampling.LANCZOS)
        sheet.paste(small, ((number % 2) * 685, (number // 2) * 385))
    out = io.BytesIO()
    sheet.save(out, "PNG")
    save(out.getvalue(), "first_hour.png")


def main() -> None:
    """Make all pictures."""
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        told, empty = Path(folder) / "told", Path(folder) / "empty"
        told.mkdir()
        empty.mkdir()
        server = start(told, "--server", "plot")
        try:
            wait_for_land(server)
            exercise(browser.new_page(), server)
        finally:
            server.end()
        server = start(
            empty,
            "--server",
            "plot",
            "--empty",
            "--exercise",
            "COLD HARBOUR",
            "--clock",
            "131400Z MAR 27",
        )
        try:
            wait_for_land(server)
            first_hour(browser.new_page(), server)
        finally:
            server.end()


if __name__ == "__main__":
    main()
