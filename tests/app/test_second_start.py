"""Just started, a page shows the last picture, dated; the newest takes its place."""

from __future__ import annotations

from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.cache import last_shown, opened
from layers.earth.clock import dtg
from tests.app.conftest import texts


def test_the_last_picture_is_dated_and_gives_way(
    app: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = opened.present()
    at = here.shown - timedelta(minutes=7)
    seq = opened.book().seq_at(at)
    monkeypatch.setattr(last_shown, "stands", lambda here, release: (at, seq))
    app.run()
    said = texts(app)
    assert not app.exception
    assert dtg(at).split(" ")[0] in said
    assert "as of then, newer to come" in said
    assert "JUST STARTED: the newest is being worked out" in said
    assert 'data-part="strip"' not in said, "nothing is swapped into what is not of now"
    monkeypatch.setattr(last_shown, "stands", lambda here, release: None)
    app.run()
    said = texts(app)
    assert "JUST STARTED" not in said
    assert "newer to come" not in said
