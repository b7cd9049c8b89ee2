"""The end of an incident on the Watch page: no single press closes what people still wait in.

Written from how an operation is closed: what stands open is read first, and who closes says that
it is meant so.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from layers import incidents
from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.naming import FOLDER
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal

ROOM = Actor(name="AB", role=Role.WATCH, room="North", server="plot-1")
MEANT = "Close it all the same: people or objects of search stand open"


def _page(path: str) -> None:
    from types import SimpleNamespace
    from typing import Any

    from dashboard.panels.watch import incidents as panel
    from layers.answers import answers
    from layers.catalogue import KINDS
    from layers.contract import Moment
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.releases.rules import Release
    from layers.journal.store import open_journal
    from layers.picture import picture
    from layers.watch.state import state

    journal = open_journal(path, KINDS)
    now, upto = journal.now(), journal.revision()
    known, moment = Known(journal, KINDS, upto, now), Moment(now, now)
    watch = state(known, moment)
    made = picture(journal, moment, upto, ("survivors",))
    seen: Any = SimpleNamespace(
        journal=journal, pen=journal, known=known, watch=watch, picture=made, moment=moment,
        answers=answers(made, watch), writable=True, release=Release(), now=now,
        actor=Actor(name="AB", role=Role.WATCH, room="North", server="plot-1"),
    )  # fmt: skip
    panel.show(seen)
    journal.close()


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setenv(FOLDER, str(tmp_path))
    monkeypatch.delenv("MUSTERPLOT_DATABASE_URL", raising=False)
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path, KINDS, name="Longship")
    incidents.claim(journal, path)
    now = journal.now()
    payload = {"part": "sailing list", "persons": 3}
    draft = Draft(kind="survivors.complement", payload=payload, valid_at=now, heard_at=now,
                  source="AB", identity=form_identity("pob"))  # fmt: skip
    journal.append(ROOM, [draft])
    journal.close()
    return AppTest.from_function(_page, args=(str(path),), default_timeout=60)


def _closed(tmp_path: Path) -> bool:
    journal = open_journal(tmp_path / "journal.sqlite", KINDS, readonly=True)
    try:
        return incidents.is_closed(journal)
    finally:
        journal.close()


def test_one_press_closes_nothing_that_people_still_wait_in(page: AppTest, tmp_path: Path) -> None:
    page.run()
    assert not page.exception
    assert any("persons not heard of: 3" in each.body for each in page.html)
    page.text_input[0].set_value("Trawler")
    page.button[0].click().run()
    assert "persons not heard of: 3: the incident is closed all the same?" in page.error[0].value
    assert not _closed(tmp_path)
    meant = next(box for box in page.checkbox if box.label == MEANT)
    assert not meant.value
    meant.check()
    page.button[0].click().run()
    assert not page.exception
    assert not page.error
    assert _closed(tmp_path)
    page.run()
    assert any("by AB, room North; the next is Trawler" in each.body for each in page.html)
