"""Names that came by a file and look like another are told apart on pages and in their lists."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from demo_data.scenario import DEMO_NOW
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, file_identity
from layers.journal.store import Journal
from tests.app.conftest import on_page, texts
from tests.contract.test_names_typed_apart import last_of_each

FEED = Actor(name="feed reader", role=Role.FEED, via="feed")
# by the exercise: chamber 1 and TP1; by the file: a capital I, which looks the same
TWINS = {"survivors.chamber": {"name": "chamber I"}, "transponders.drop": {"transponder": "TPI"}}
BARE = re.compile(r"\b(chamber I|TPI)\b(?! ‹with )")
# a name is completed as it is typed: what tells it apart stands beside it, not in it
SCRIPT = re.compile(r"<script.*?</script>", re.DOTALL)
TOLD = ("chamber I ‹with capital I", "TPI ‹with capital I")  # a long row of the log is cut


@pytest.fixture(scope="module")
def twins() -> list[Draft]:
    demo, at = last_of_each(), DEMO_NOW - timedelta(minutes=20)
    return [
        Draft(kind=kind, payload={**demo[kind].payload, **named}, valid_at=at, heard_at=at,
              source="list.csv", identity=file_identity("cd" * 32, kind))
        for kind, named in TWINS.items()
    ]  # fmt: skip


def lists(app: AppTest) -> set[str]:
    return {str(one) for box in (*app.selectbox, *app.multiselect) for one in box.options}


def test_pages_and_lists_to_choose_from_tell_them_apart(
    app: AppTest, journal: Journal, twins: list[Draft]
) -> None:
    done = journal.append(FEED, twins)
    assert not done.rejects
    said, offered = {}, set()
    for page in ("log", "lifts", "seabed"):
        shown = on_page(app, page)
        assert not shown.exception
        said[page] = SCRIPT.sub("", texts(shown))
        offered |= lists(shown)
        bare = [said[page][at.start() - 200 : at.end() + 60] for at in BARE.finditer(said[page])]
        assert not bare, (page, bare)
    assert all(told in said["log"] for told in TOLD)
    assert TOLD[1] in said["seabed"]
    assert offered
    assert not [one for one in offered if BARE.search(one)]
