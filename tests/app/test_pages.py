"""Every page opens on the exercise, and says what it should."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.page_table import SCREENS, TABLE
from demo_data.scenario import DEMO_NOW
from layers.journal.actor import Actor, Role
from layers.journal.store import Journal
from tests.app.conftest import on_page, texts

NAMES = [link.address for link in TABLE]


def test_the_table_of_pages_is_the_folder_of_pages() -> None:
    files = {path.name for path in SCREENS.glob("*.py") if path.name != "__init__.py"}
    assert files == {link.file.name for link in TABLE if link.file.exists()}


@pytest.mark.parametrize("name", NAMES)
def test_a_page_opens_without_an_exception(app: AppTest, name: str) -> None:
    on_page(app, name)
    assert not app.exception, app.exception
    assert not app.error, [error.value for error in app.error]
    assert texts(app).strip(), "a page that says nothing"


def test_every_page_stands_under_the_line_that_says_exercise(app: AppTest) -> None:
    """The test runner runs a page without the shell; the browser journeys see both together."""
    assert "EXERCISE <br>SABLE TIDE" in texts(app.run())


def test_a_task_says_where_who_has_it_is(app: AppTest) -> None:
    said = re.sub(r"<[^>]+>", " ", texts(on_page(app, "watch")))
    # in the exercise the ships are on scene, about 49°50′N 008°30′W
    assert re.search(r"NORTHERN LANTERN\s+proceed .+? 49°50\.\d′N 008°30\.\d′W at 0\d{3}Z", said)
    assert re.search(r"LIMPET\s+lift from A.+? 49°50\.0′N 008°30\.0′W at 0415Z, STALE", said)
    assert re.search(r"Listening times: next in (3\d|40) min, 0715Z, both refuges", said)


def test_a_link_opens_the_log_at_a_record(app: AppTest, journal: Journal) -> None:
    decision = journal.log(upto_seq=journal.revision(), kinds=["watch.decision"], limit=1)[0]
    app.query_params["record"] = str(decision.seq)
    said = texts(on_page(app, "log"))
    assert f"Record {decision.seq}" in said
    assert decision.id not in said  # nobody reads those
    assert decision.payload["what"] in said


@pytest.mark.parametrize("forged", ["0", "-1", "1e3", "9" * 12, "<b>", "٤", "999999999"])
def test_a_forged_record_in_a_link_opens_none(app: AppTest, forged: str) -> None:
    app.query_params["record"] = forged
    said = texts(on_page(app, "log"))
    assert not app.exception
    assert "<b>Record" not in said
    assert ("is not in the journal" in said) == (forged == "999999999")


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_short(name: str) -> None:
    assert len((SCREENS / f"{name}.py").read_text().splitlines()) <= 80


def test_the_plot_says_who_is_out_and_that_it_is_now(app: AppTest) -> None:
    said = texts(on_page(app, "plot"))
    assert 'data-mode="now"' in said
    assert "SUBSUNK" in said
    assert 'data-answer="persons' in said


def test_a_reader_is_offered_no_form(app: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MUSTERPLOT_LISTENS", "0.0.0.0")
    assert "reading only" in texts(app.run())
    on_page(app, "watch")
    assert not app.exception
    assert not [button for button in app.button if button.label == "Record it"]


def test_a_readers_write_is_refused_by_the_journal(journal: Journal) -> None:
    from layers.earth.errors import NotAllowed

    before = journal.head()
    with pytest.raises(NotAllowed, match="may read but not write"):
        journal.append(Actor(name="reader", role=Role.READER), [])
    assert journal.head() == before


def test_an_earlier_time_shows_what_was_known_then(app: AppTest) -> None:
    at = DEMO_NOW - timedelta(days=2)
    app.query_params["as_of"] = str(int(at.timestamp() * 1e6))
    said = texts(on_page(app, "plot"))
    assert 'class="cell time moved" data-answer="time" data-mode="as known then"' in said


def test_a_forged_link_shows_the_plot_and_nothing_else(app: AppTest) -> None:
    app.query_params["as_of"] = "9" * 400
    app.query_params["frame"] = "<script>alert(1)</script>"
    app.query_params["hide"] = "../../etc/passwd,<b>"
    app.query_params["ink"] = "javascript:alert(1)"
    on_page(app, "plot")
    assert not app.exception
    assert "<script>alert" not in texts(app)
    assert 'data-mode="now"' in texts(app)


def test_what_the_watch_withholds_is_gone_from_a_readers_plot(
    app: AppTest, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    from layers.journal.record import Draft

    now = journal.now()
    journal.append(
        Actor(name="watch officer", role=Role.WATCH),
        [
            Draft(
                kind="watch.withholding",
                payload={"audience": "readers", "exact_position": False, "reason": "press"},
                valid_at=now, heard_at=now, source="watch officer", identity="form:withhold",
            )
        ],
    )  # fmt: skip
    monkeypatch.setenv("MUSTERPLOT_LISTENS", "0.0.0.0")
    on_page(app, "plot")
    said = texts(app.segmented_control(key="side_choice").set_value("State").run())
    assert "withheld here" in said
    assert "49°50" not in said
    for address in ("log", "watch", "feeds"):  # a record tells everything it says
        said = texts(on_page(app, address))
        assert "The records are kept back here" in said
        assert not re.search(r"49[.°](8|50)", said)
