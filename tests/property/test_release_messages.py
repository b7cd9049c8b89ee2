"""What open pages of a release are offered is the same for journals that it can not tell apart."""

from __future__ import annotations

import random
from datetime import datetime
from pathlib import Path

import pytest

from dashboard.book import ShutBook
from dashboard.chart.chart_view import ChartView
from dashboard.live.made import CHART, State, made_parts, shape
from dashboard.live.parts import PARTS
from dashboard.view import Seen
from demo_data.scenario import NAME
from layers.answers import Answers, answers
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.position import Position
from layers.journal.actor import Actor, Role
from layers.journal.known import ListShelf
from layers.journal.releases.rules import OUTSIDE
from layers.scene.ink import NIGHT
from layers.watch.result import WatchState
from layers.watch.state import state
from tests.release_pairs import TIMES, TWINS, base, read_picture

VIEW = ChartView(frame=frame_for(Position(49.5, -9.0), FrameName.RANGE_TRUE, 50_000.0)).words()
READER = Actor(name="", role=Role.READER, via="changes")


class NamedOnly:
    """A journal of which a release has the name alone."""

    name, exercise = NAME, True


class SeenByHand(Seen):
    """What a reader sees, without a server's memory."""

    @property
    def watch(self) -> WatchState:
        """Where the watch stood."""
        return MADE[-1][0]

    @property
    def answers(self) -> Answers:
        """The answers of this picture."""
        return MADE[-1][1]


MADE: list[tuple[WatchState, Answers]] = []  # of the picture that is looked at


def message(shelf: ListShelf, at: datetime) -> bytes:
    picture, known = read_picture(shelf, at, OUTSIDE)
    watch = state(known, picture.moment)
    MADE.append((watch, answers(picture, watch)))
    seen = SeenByHand(
        picture=picture, now=at, revision=len(shelf.records), follows_now=True,
        journal=ShutBook(NamedOnly()), actor=READER, ink=NIGHT, release=OUTSIDE,  # type: ignore[arg-type]  # a stand-in with what is asked of it
        about=None, asked_ms=7,
    )  # fmt: skip
    names = {*PARTS, CHART}
    parts = made_parts(seen, names, VIEW)
    assert {*PARTS, CHART} <= parts.keys()
    return State(seen.version, parts, shape(seen)).message(dict.fromkeys(names, ""))


@pytest.mark.parametrize("twin", TWINS)
def test_messages_of_twins_are_the_same_byte_for_byte(
    twin: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("MUSTERPLOT_DATABASE_URL", str(tmp_path / "twin.sqlite"))
    at = TIMES[4]
    other = TWINS[twin](random.Random(20_270_313))
    assert message(base(), at) == message(other, at)
