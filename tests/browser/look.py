"""What can be measured of how a page looks, in the browser, on the page as it stands.

Contrast by WCAG 2.2: 4.5 to 1 for letters, 3 to 1 from 24 px, or from 18.7 px in bold.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

SCRIPT = Path(__file__).with_name("look.js").read_text()
MEASURED = ("cut", "contrast", "number without unit", "overlap", "first screen scrolls")
LOOKS, BETWEEN_MS = 20, 500


def wrong(page: Page, measured: tuple[str, ...] = MEASURED) -> dict[str, list[str]]:
    """Return what stays wrong with how a page looks, by what was measured; empty when nothing does.

    A chart that is mounted has a height of the framework's until it tells its own: what lasts is
    asked for, and a fault that lasts is found by the last look as by the first.
    """
    for _ in range(LOOKS):
        if not (told := _wrong_now(page, measured)):
            break
        page.wait_for_timeout(BETWEEN_MS)
    return told


def _wrong_now(page: Page, measured: tuple[str, ...]) -> dict[str, list[str]]:
    found = page.evaluate(
        f"(names) => {{ const by = {SCRIPT.strip()}; return names.map((name) => by[name]()); }}",
        list(measured),
    )
    return {name: told for name, told in zip(measured, found, strict=True) if told}
