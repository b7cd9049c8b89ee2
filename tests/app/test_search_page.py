"""The search page on the exercise: the answer, the reports, and weighing one of them."""

from __future__ import annotations

from datetime import timedelta

from streamlit.testing.v1 import AppTest

from demo_data.scenario import DEMO_NOW
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal
from tests.app.conftest import on_page, texts


def _keyed(widgets: object, ending: str) -> object:
    for widget in widgets:  # type: ignore[attr-defined]  # a widget list of the test runner
        if str(widget.key).endswith(ending):
            return widget
    raise AssertionError(f"no widget whose key ends in {ending}")


def test_the_answer_and_what_does_not_fit_are_read_without_touching_anything(app: AppTest) -> None:
    on_page(app, "search")
    assert not app.exception, app.exception
    said = texts(app)
    assert "Position by fix 49°50.0′N 008°30.0′W, 95 % within" in said
    assert "from GREY HERON at 131721Z does not fit the other reports" in said
    assert "A datum is not a fix" in said
    assert "a low one is never a reason to stop" in said
    assert "She is found." in said
    assert "This page looks for:" in said
    assert "patrol aircraft" in said


def test_a_weight_needs_its_reason_and_then_counts(app: AppTest, journal: Journal) -> None:
    on_page(app, "search")
    before = journal.last_seq(("datum.weighting",), 10**9)
    send = next(b for b in app.button if b.label == "Count it with this weight")
    send.click()
    app.run()
    assert any("reason" in error.value for error in app.error)
    assert journal.last_seq(("datum.weighting",), 10**9) == before
    _keyed(app.text_input, ".reason").set_value("heard on a whale bearing")  # type: ignore[attr-defined]  # as above
    next(b for b in app.button if b.label == "Count it with this weight").click()
    app.run()
    assert not app.exception, app.exception
    assert journal.last_seq(("datum.weighting",), 10**9) > before


def test_after_a_pick_up_the_page_counts_who_is_adrift_by_the_muster(
    app: AppTest, journal: Journal
) -> None:
    on_page(app, "search")
    assert "<b>2</b> adrift" in texts(app)
    at = DEMO_NOW - timedelta(minutes=2)
    journal.append(
        Actor(name="watch officer", role=Role.WATCH),
        [
            Draft(
                kind="survivors.move",
                payload={
                    "from_place": "on the surface",
                    "to_place": "picked up",
                    "reason": "recovered by sea boat",
                    "groups": [{"persons": 1, "fitness": "stretcher"}],
                },
                valid_at=at, heard_at=at, source="SALTMARSH",
                identity=form_identity("one of two picked up"),
            )
        ],
    )  # fmt: skip
    app.run()
    said = texts(app)
    assert "<b>1</b> adrift" in said
    assert "<b>2</b> adrift" not in said
    assert "told with 2 at first" in said
