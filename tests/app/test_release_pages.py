"""What a reader from whom place, medical detail and names are withheld is shown on every page."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from streamlit.testing.v1 import AppTest

import dashboard.screens
from dashboard import view
from dashboard.cache import opened, pictures
from dashboard.panels.plot import snapshot as export
from dashboard.view import Seen
from demo_data.scenario import DEMO_NOW
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.releases.rules import WATCH, Release
from layers.journal.store import Journal
from layers.scene.ink import INKS
from tests.app.conftest import on_page, texts
from tests.release_pairs import TOLD

PAGES = Path(dashboard.screens.__file__).parent
NAMES = sorted(path.stem for path in PAGES.glob("*.py") if path.stem != "__init__")
OFFICER = Actor(name="watch officer", role=Role.WATCH)
# her place to the half degree's tenth, in the ways that positions are written here
HER_PLACE = re.compile(r"49°50[.]0|49[.]8332\d|8[.]4993\d")
READERS = Release(medical=False, exact_position=False)
BLOCK = {"south_deg": 49.5, "north_deg": 50.5, "west_deg": -9.0, "east_deg": -8.0}


def say(journal: Journal, kind: str, payload: dict[str, object], mark: str) -> None:
    draft = Draft(
        kind=kind, payload=payload, valid_at=DEMO_NOW, heard_at=DEMO_NOW, source="watch officer",
        identity=form_identity(mark),
    )  # fmt: skip
    journal.append(OFFICER, [draft])


@pytest.fixture
def withheld(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Readers may see neither place nor medical detail; this viewer is one of them."""
    for audience in ("readers",):
        rule = {"audience": audience, "exact_position": False, "medical": False, "reason": "press"}
        say(journal, "watch.withholding", rule, f"rule {audience}")
    say(journal, "watch.place_told", BLOCK, "block")
    for number, (kind, _, payload) in enumerate(TOLD):
        if kind == "watch.told":
            say(journal, kind, {**payload, "audience": "readers"}, f"told {number}")
    monkeypatch.setenv("MUSTERPLOT_LISTENS", "0.0.0.0")


@pytest.mark.parametrize("name", NAMES)
def test_no_page_breaks_and_none_tells_where_she_is(
    app: AppTest, withheld: None, name: str
) -> None:
    on_page(app, name)
    assert not app.exception
    said = texts(app)
    assert not HER_PLACE.search(said), HER_PLACE.search(said)
    for told in ("nmi on 0", "nmi on 2", "from the datum", "stretcher ", "bar abs", "142 m"):
        assert told not in said, told


def test_a_reader_is_told_what_the_watch_told(app: AppTest, withheld: None) -> None:
    said = texts(on_page(app, "plot"))
    assert "60 h to spare, after, told at 0450Z" in said
    assert "withheld here" in said


def test_a_readers_chart_holds_the_block_that_he_is_told(app: AppTest, withheld: None) -> None:
    """By plane sailing: the block's corners lie 30 nmi up and 19.5 nmi across from its middle."""
    on_page(app, "plot")
    here = opened.present()
    made = pictures.shared_picture(here.shown, here.shown, here.revision, READERS)
    seen = SimpleNamespace(picture=made)
    half_m = view.reach_m(seen)  # type: ignore[arg-type]  # a place of this view
    assert half_m > 1.3 * 30.0 * 1852.0  # also on a chart that is a quarter wider than high
    assert half_m < 70.0 * 1852.0


def test_who_clicks_the_wall_sees_no_more_than_readers_may(app: AppTest, withheld: None) -> None:
    said = texts(on_page(app, "wall"))
    assert not app.exception
    assert not HER_PLACE.search(said)
    assert "EXERCISE" in said
    assert "to spare, after" not in said  # told to readers, not on the wall


def test_the_watch_sees_all_of_it_and_the_wall_what_is_meant_for_it(
    app: AppTest, withheld: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MUSTERPLOT_LISTENS", "127.0.0.1")
    assert HER_PLACE.search(texts(on_page(app, "search")))


def test_the_program_proposes_the_least_block_and_says_what_outsiders_are_told(
    app: AppTest, data_folder: Path
) -> None:
    on_page(app, "watch")
    said = texts(app)
    assert "Told to those who are not the watch" in said
    assert "the least block that holds her: 49°30′N to 50°00′N, 009°00′W to 008°00′W" in said
    app.selectbox(key="outsiders").set_value("watch.place_told").run()
    assert not app.exception
    held = [one.value for one in app.text_input]
    assert {"49.5", "50", "-9", "-8"} <= set(held)
    app.selectbox(key="outsiders").set_value("watch.told").run()
    assert not app.exception
    app.selectbox(key="outsiders").set_value("watch.let_go").run()
    assert not app.exception


@pytest.mark.parametrize("form", ["geojson", "csv", "kml", "gpx", "svg", "html"])
def test_the_watchs_own_export_without_her_place_does_not_carry_it(
    data_folder: Path, form: str
) -> None:
    """Read anew for that release, with a frame about the block; noted as withheld, and so it is."""
    here = opened.present()
    made = pictures.shared_picture(here.shown, here.shown, here.revision)
    datum = made.shown("datum")
    assert datum is not None
    seen = Seen(
        picture=made, now=here.now, revision=here.revision, follows_now=True,
        journal=opened.book(), actor=OFFICER, ink=INKS["day"], release=WATCH,
        about=datum.result.position,
    )  # fmt: skip
    whole = export.take(seen, form, "day", export.release_of(seen, "watch", "")).content
    press = export.release_of(seen, "outside", "press")
    cut = export.take(seen, form, "day", press).content.decode("utf-8-sig")
    assert HER_PLACE.search(_without_paths(whole.decode("utf-8-sig"), form))
    assert not HER_PLACE.search(_without_paths(cut, form)), form
    assert "outside" in cut
    assert "withheld" in cut
    export.note(seen, f"plot.{form}", press, cut.encode())
    (noted,) = [r for r in opened.book().log(upto_seq=10**9, kinds=["watch.export"], limit=1)]
    assert noted.payload["withheld"] == ["exact position of the DISSUB", "medical detail"]


def _without_paths(text: str, form: str) -> str:
    """Return an export without the paths of a drawing, which are in its own units."""
    return text if form in ("geojson", "csv", "kml", "gpx") else re.sub(r'd="[^"]*"', "", text)
