"""Clock, sleep and disk: said on every page in plain words, and no longer once it is past.

The faults are made in what the program asks (its two clocks, its disk), as the system would answer.
"""

from __future__ import annotations

import errno
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import faults, settings
from dashboard.cache import opened
from dashboard.faults import Faults
from dashboard.panels import health
from tests.app.conftest import on_page, texts

HOUR = timedelta(hours=1)


class System:
    """This computer's clocks and disk, as they are asked for."""

    def __init__(self, patch: pytest.MonkeyPatch, folder: Path) -> None:
        self.wall, self.boot = datetime(2027, 3, 16, 6, 35, tzinfo=UTC), 1000.0
        self.read_only = False
        system, write = self, Path.write_bytes

        class Wall(datetime):
            @classmethod
            def now(cls, tz: object = None) -> datetime:  # type: ignore[override]  # a stand-in
                return system.wall

        def written(path: Path, content: bytes) -> int:
            if system.read_only and path.name.startswith(".probe"):
                raise OSError(errno.EROFS, "Read-only file system")
            return write(path, content)

        patch.setattr(faults, "datetime", Wall)
        patch.setattr(faults, "boot_s", lambda: system.boot)
        patch.setattr(faults, "SLEEP_COUNTS", True)
        patch.setattr(Path, "write_bytes", written)
        self.asked = Faults(opened.book(), folder)
        patch.setattr(health, "found_now", lambda: self.asked.now)
        self.pass_(timedelta(seconds=1))

    def pass_(self, wall: timedelta, boot: timedelta | None = None) -> None:
        """Let time pass on both clocks, or by another span on the one that does not stop."""
        self.wall += wall
        self.boot += (wall if boot is None else boot).total_seconds()
        self.asked.look()


def back(system: System) -> None:
    system.pass_(timedelta(seconds=1) - HOUR, timedelta(seconds=1))


def asleep(system: System) -> None:
    system.pass_(HOUR)


def shut(system: System) -> None:
    system.read_only = True
    system.pass_(timedelta(seconds=1))


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        (back, "The clock of this computer was set back by 1 h 00; set it right"),
        (asleep, "This computer stood still for 1 h 00, until 160735Z MAR 27: feeds are catching "
                 "up, ask for what was missed"),
        (shut, "The disk can only be read: nothing can be recorded; what is typed stays in its "
               "form"),
    ],
    ids=["clock set back", "asleep for an hour", "read-only disk"],
)  # fmt: skip
def test_it_stands_on_every_strip_and_goes_when_it_is_past(
    app: AppTest, monkeypatch: pytest.MonkeyPatch, cause: Callable[[System], None], words: str,
) -> None:  # fmt: skip
    system = System(monkeypatch, settings.data_folder())
    on_page(app, "watch")
    assert words not in texts(app)
    cause(system)
    app.run()
    assert not app.exception
    assert words in texts(app)
    for page in ("plot", "log", "wall"):
        app.switch_page(f"screens/{page}.py").run()
        # on the wall the gravest stands, cut to what is read from afar
        assert (words[:40] if page == "wall" else words) in texts(app), page

    # what ten minutes ago was told as news is no news; what holds still stands until it is mended
    system.read_only = False
    system.pass_(timedelta(minutes=11))
    app.run()
    assert words not in texts(app)
