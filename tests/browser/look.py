"""What can be measured of how a page looks, in the browser, on the page as it stands.

Contrast by WCAG 2.2: 4.5 to 1 for letters, 3 to 1 from 24 px, or from 18.7 px in bold.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

SCRIPT = Path(__file__).with_name("look.js").read_text()
MEASURED = ("cut", "contrast", "number without unit", "overlap", "first screen scrolls")


def wrong(page: Page, measured: tuple[str, ...] = MEASURED) -> dict[str, list[str]]:
    """Return what is wrong with how a page looks, by what was measured; empty when nothing is."""
    found = page.evaluate(
        f"(names) => {{ const by = {SCRIPT.strip()}; return names.map((name) => by[name]()); }}",
        list(measured),
    )
    return {name: told for name, told in zip(measured, found, strict=True) if told}
