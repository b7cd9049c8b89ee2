"""The page of the ground kept clear, on the exercise: who is below, and the drafts."""

from __future__ import annotations

from typing import Any

from streamlit.testing.v1 import AppTest

from tests.app.conftest import on_page, texts


def _page() -> None:
    from datetime import UTC, datetime
    from types import SimpleNamespace

    from dashboard.panels import layer
    from dashboard.panels.kept_clear import record, stands, warnings
    from demo_data.load import demo_journal
    from layers.contract import Moment
    from layers.picture import picture
    from layers.scene.ink import INKS

    at = datetime(2027, 3, 16, 3, 30, tzinfo=UTC)
    shelf, seq = demo_journal(at)
    seen: Any = SimpleNamespace(
        picture=picture(shelf, Moment(at, at), seq, ["kept_clear"]),
        ink=INKS["night"],
        writable=False,
        exercise="Exercise SABLE TIDE",
    )
    if layer.head(seen, "kept_clear"):
        stands.show(seen)
        warnings.show(seen)
    record.show(seen)


def test_the_page_says_who_is_below_and_drafts_both_warnings() -> None:
    app = AppTest.from_function(_page, default_timeout=120).run()
    assert not app.exception
    said = texts(app)
    assert "LIMPET" in said
    assert "towed gear" in said
    drafts = [each.value for each in app.code]
    assert any("SUBMARINE RESCUE OPERATIONS" in d and "WITHIN 5 MILES" in d for d in drafts)
    assert any("NOTAMN" in d for d in drafts)
    assert all(d.startswith("EXERCISE EXERCISE EXERCISE") for d in drafts)


def test_the_page_is_among_the_pages_and_takes_records(app: AppTest) -> None:
    shown = on_page(app, "clear")
    assert not shown.exception
    assert "Who is under water" in texts(shown)
    assert any(box.label == "What is reported" for box in shown.selectbox)
