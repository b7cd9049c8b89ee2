"""What many tests share: the exercise in memory and its picture, made once a run."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

import pytest

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.known import Known
from layers.picture import Picture, picture
from layers.results import Results
from tests import prepare
from tests.worked_out import shared_folder


@pytest.fixture(scope="session")
def demo_at(
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[[datetime], tuple[Picture, Known]]:
    """Return the exercise's picture and records as known at a time, computed once a run."""
    place = shared_folder(tmp_path_factory) / "pictures"

    @lru_cache(maxsize=8)
    def picture_at(at: datetime) -> tuple[Picture, Known]:
        shelf, upto_seq = demo_journal(at)
        kept = Results(place, f"the exercise at {at.isoformat()}")
        made = picture(shelf, Moment(at, at), upto_seq, kept=kept)
        return made, Known(shelf, KINDS, upto_seq, at)

    return picture_at


@pytest.fixture(scope="session")
def demo(demo_at: Callable[[datetime], tuple[Picture, Known]]) -> tuple[Picture, Known]:
    """The exercise as it opens."""
    return demo_at(DEMO_NOW)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave out, counted, what needs a program that is not here; where CI is set it then fails."""
    if os.environ.get(prepare.CI):
        return
    for need in prepare.missing((prepare.CHROMIUM, prepare.NGINX)):
        reason = f"{need.name} is not here: sudo apt-get install {need.package}"
        for item in items:
            if need.marks_item(item.keywords, item.path.name):
                item.add_marker(pytest.mark.skip(reason=reason))
