"""The sound of alarms: it comes with an alarm, comes again, and ends when all are acknowledged.

The browser makes it from the script alone, so no server is asked here; the clock is the test's.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.panels import sound

pytestmark = pytest.mark.browser
SCRIPT = Path(sound.__file__).with_name("sound.js").read_text()
TELLS = "(many) => { document.querySelector('[data-sounds]').dataset.sounds = String(many); }"
SOUNDED = "() => window.musterplotSound.sounded"
MUTE = "#mp-mute"


@pytest.fixture
def wall(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    page.clock.install()
    page.set_content("<div hidden data-may-sound></div><div data-sounds='0'>foot</div>")
    page.add_script_tag(content=SCRIPT)
    yield page
    page.close()


def _seconds(page: Page, many: int) -> int:
    page.clock.run_for(many * 1_000)
    return int(page.evaluate(SOUNDED))


def _let_it_sound(page: Page) -> None:
    page.keyboard.press("Shift")
    page.wait_for_timeout(0)
    expect(page.locator(MUTE)).to_have_text("")


def test_an_alarm_sounds_and_sounds_again_until_it_is_acknowledged(wall: Page) -> None:
    _let_it_sound(wall)
    assert _seconds(wall, 60) == 0  # nothing to tell
    wall.evaluate(TELLS, 1)
    assert _seconds(wall, 2) == 1
    assert _seconds(wall, 31) == 2  # nobody has taken it
    wall.evaluate(TELLS, 2)
    assert _seconds(wall, 2) == 3  # another one is heard at once
    wall.evaluate(TELLS, 0)
    assert _seconds(wall, 120) == 3


def test_a_page_that_may_not_sound_is_silent(wall: Page) -> None:
    _let_it_sound(wall)
    wall.evaluate("() => document.querySelector('[data-may-sound]').remove()")
    wall.evaluate(TELLS, 1)
    assert _seconds(wall, 60) == 0
