"""What must be seen of the small layer in a copy of the program that has it.

`tests/contract/test_new_layer.py` puts this file into that copy and runs it there.
"""

from __future__ import annotations

import csv
import io
import json
import pickle
import re
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.page_table import TABLE
from dashboard.tools.forms.record_form import typed_kinds
from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.answers import Answers, answers
from layers.catalogue import BY_KEY, FEEDS, KINDS, OWN_STYLES
from layers.contract import Moment, Shown
from layers.earth.chart.marks import PointMark
from layers.earth.shore.land import Land
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, Record, as_record
from layers.journal.releases.released import read_as
from layers.journal.store import Journal
from layers.picture import Picture, picture
from layers.scene.ink import INKS
from layers.scene.release import Release, Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.scene.snapshot import FORMATS, About, snapshot
from layers.scene.spread import table_csv
from layers.watch.state import state
from tests.app.conftest import app, data_folder, journal, on_page, texts
from tests.published.test_ink_contrast import contrast

__all__ = ["app", "data_folder", "journal"]  # fixtures

Demo = tuple[Picture, Known]
ALL = Release(names=True, to="the watch")
ABOUT = About("Exercise Sable Tide", 1, "ab" * 32)
BERG = "B-1"


def ice(demo: Demo) -> Shown:
    shown = demo[0].layers["ice"]
    assert isinstance(shown, Shown), shown
    return shown


def layers_verb(*given: str, status: int = 0) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "layers", *given], capture_output=True, text=True, check=False
    )
    assert done.returncode == status, done.stderr
    return done.stdout


def generic_page() -> None:
    from dashboard.panels import layer

    layer.page("ice")


def test_the_sentence_and_the_table_say_the_range_from_the_datum(demo: Demo) -> None:
    shown = ice(demo)
    found = re.fullmatch(rf"Nearest ice is {BERG}, (\d+\.\d) nmi from the datum\.", shown.sentence)
    assert found
    # the berg was written 20 nmi south of the place of the wreck, and has drifted 1.2 nmi east
    assert 17.0 < float(found[1]) < 23.0
    assert shown.table.heads[0] == "Berg"
    assert shown.table.rows[0][0] == BERG
    assert shown.table.rows[0][2] == found[1]


def test_the_map_has_it_in_an_ink_of_its_own(demo: Demo) -> None:
    marks = ice(demo).marks
    assert {mark.style for mark in marks} == {"ice"}
    assert all(isinstance(mark, PointMark) for mark in marks)
    for ink in INKS.values():
        for own in OWN_STYLES:
            for ground in (ink.sea, ink.land, ink.panel):
                assert contrast(ink.of(own.name), ground) >= 4.5


def answered(demo: Demo) -> Answers:
    return answers(demo[0], state(demo[1], demo[0].moment))


@pytest.mark.parametrize("form", FORMATS)
def test_every_export_has_it(demo: Demo, form: str, tmp_path: Path) -> None:
    land = Land(tmp_path / "land")
    made = snapshot(
        demo[0], form, answers=answered(demo), about=ABOUT, ink=INKS["day"], land=land, release=ALL,
        half_width_m=80_000.0,
    )  # fmt: skip
    if form in ("png", "pdf"):
        assert len(made.content) > 10_000
    else:
        text = made.content.decode("utf-8-sig")
        assert BERG in text or "ice reported" in text, form


def test_the_paper_and_the_report_say_its_sentence(demo: Demo, tmp_path: Path) -> None:
    # the sheet has room for so many sentences and says how many are left out: only these two
    two = replace(demo[0], layers={key: demo[0].layers[key] for key in ("datum", "ice")})
    sheet = snapshot(
        two, "svg", answers=answered(demo), about=ABOUT, ink=INKS["day"],
        land=Land(tmp_path / "land"), release=ALL,
    )  # fmt: skip
    assert "Nearest ice" in sheet.content.decode()
    stamp = Stamp(title="Report", exercise="", moment=demo[0].moment, head_seq=1, head_hash="ab")
    text = sitrep(demo[0], demo[1], answered(demo), stamp, ALL, StaffWords())
    assert "Nearest ice is B-1" in text.split("N. ADDITIONAL INFORMATION")[1]
    assert "(record" in text.split("Nearest ice is B-1")[1][:60]


def test_the_brief_says_its_sentence(demo: Demo) -> None:
    from pptx import Presentation

    from layers.scene.deck import deck

    stamp = Stamp(title="Brief", exercise="", moment=demo[0].moment, head_seq=1, head_hash="ab")
    from matplotlib.figure import Figure

    out = io.BytesIO()
    Figure(figsize=(1, 1)).savefig(out, format="png")
    watch = state(demo[1], demo[0].moment)
    slides = Presentation(
        io.BytesIO(deck(demo[0], answered(demo), watch, stamp, out.getvalue()))
    ).slides
    said = [s.text_frame.text for slide in slides for s in slide.shapes if s.has_text_frame]
    assert any("Nearest ice" in text for text in said)


def test_its_table_can_be_saved_as_csv(demo: Demo) -> None:
    stamp = Stamp(title="Ice", exercise="", moment=demo[0].moment, head_seq=1, head_hash="ab")
    lines = [
        line for line in table_csv(ice(demo).table, stamp).splitlines() if not line.startswith("#")
    ]
    rows = list(csv.DictReader(lines))
    assert rows[0]["Berg"] == BERG
    assert "Range from the datum (nmi)" in rows[0]


def test_it_has_a_page_with_sentence_caution_chart_and_tables(app: AppTest) -> None:
    assert "ice" in [link.address for link in TABLE]
    assert BY_KEY["ice"].address == "ice"
    page = AppTest.from_function(generic_page, default_timeout=120).run()
    assert not page.exception
    said = texts(page)
    assert "Nearest ice is B-1" in said
    assert "growlers are not seen by radar" in said
    assert any(BERG in frame.value.to_string() for frame in page.dataframe)


def test_the_plot_says_its_sentence_and_has_its_switch(app: AppTest) -> None:
    on_page(app, "plot")
    app.segmented_control(key="side_choice").set_value("State").run()
    assert not app.exception
    assert "Nearest ice is B-1" in texts(app)
    app.segmented_control(key="side_choice").set_value("Layers").run()
    assert any(toggle.label == "Ice" for toggle in app.toggle)


def test_the_wall_has_its_line(app: AppTest) -> None:
    on_page(app, "wall")
    assert not app.exception
    assert "Nearest ice is B-1" in texts(app)


def test_the_log_opens_its_record_and_links_to_its_page(app: AppTest, journal: Journal) -> None:
    record = journal.log(upto_seq=journal.revision(), kinds=["ice.report"], limit=1)[0]
    app.query_params["record"] = str(record.seq)
    said = texts(on_page(app, "log"))
    assert not app.exception
    assert f"Record {record.seq}" in said
    assert "Nearest ice" in said
    assert "/ice" in said or "ice?" in said


def test_it_can_be_typed() -> None:
    assert "ice.report" in typed_kinds()


def test_the_command_line_reads_and_tells_it(tmp_path: Path) -> None:
    file = tmp_path / "bergs.csv"
    file.write_text(
        "time,berg,lat,lon,drift_set_true_deg,drift_kn\n"
        "2027-03-16T05:00Z,B-7,49.5,-8.5,090,0.3\n"
        "2027-03-16T05:00Z,B-8,95.1,-8.5,,\n"
    )
    told = json.loads(layers_verb("read", str(file), "--json"))["files"][0]
    assert told["format"] == "ice_csv"
    assert told["records"] == {"ice.report": 1}
    assert told["rejects"] == 1
    assert "95.1" in next(iter(told["reasons"]))
    shown = json.loads(layers_verb("picture", "--demo", "--layer", "ice", "--json"))
    assert shown["layers"]["ice"]["sentence"].startswith("Nearest ice is B-1")
    assert "| ice " in layers_verb("--help")


def test_a_heard_line_is_read_back_and_recorded(tmp_path: Path) -> None:
    url = str(tmp_path / "heard.sqlite")
    line = KINDS["ice.report"].heard.example
    told = json.loads(layers_verb("hear", line, "--into", url, "--exercise", "Ice", "--json"))[
        "understood"
    ]
    assert [one["kind"] for one in told] == ["ice.report"]
    assert told[0]["payload"]["name"] == "B-3"
    assert told[0]["payload"]["latitude_deg"] == pytest.approx(49.0 + 40.0 / 60.0)
    shown = json.loads(layers_verb("picture", "--journal", url, "--layer", "ice", "--json"))
    assert shown["layers"]["ice"]["sentence"] == "Nearest ice is B-3."  # there is no datum yet


def test_the_catalogue_checks_it() -> None:
    from dashboard import page_table

    page_table.check()
    assert "ice.report" in KINDS
    assert "ice_csv" in [feed.key for feed in FEEDS]
    assert DEMO_NOW


def told(where: dict[str, float] | None, north_deg: float, release: Release) -> Shown:
    """The layer as a release reads it, her evidence moved north, after a block was told."""
    held, seq = demo_journal(DEMO_NOW)
    records = [moved(r, north_deg) if r.kind.startswith("datum.") else r for r in held.records]
    if where is not None:
        draft = Draft(kind="watch.place_told", payload=where, valid_at=DEMO_NOW - DAY,
                      heard_at=DEMO_NOW - DAY, source="watch", identity="form:told")  # fmt: skip
        records.append(as_record(draft, seq=seq + 1, recorded_at=DEMO_NOW, author="watch"))
    shelf = read_as(ListShelf(records, held.blobs), KINDS, release)
    made = picture(shelf, Moment(DEMO_NOW, DEMO_NOW), seq + 1, ["ice"])
    found = made.layers["ice"]
    assert isinstance(found, Shown), found
    return found


def moved(record: Record, north_deg: float) -> Record:
    payload = dict(record.payload)
    if "latitude_deg" in payload:
        payload["latitude_deg"] += north_deg
    return replace(record, payload=payload)


DAY = timedelta(days=1)
READERS = Release(exact_position=False)
BLOCK = {"south_deg": 49.5, "north_deg": 50.5, "west_deg": -9.0, "east_deg": -8.0}


@pytest.mark.parametrize("block", [None, BLOCK])
def test_it_leaks_nothing_under_a_release(block: dict[str, float] | None) -> None:
    one, other = (told(block, north_deg, READERS) for north_deg in (0.0, 0.04))
    assert pickle.dumps((one.sentence, one.table, one.marks)) == pickle.dumps(
        (other.sentence, other.table, other.marks)
    )
    assert BERG in one.sentence  # and still serves
    words = re.search(r"(\d+) to (\d+) nmi from the datum", one.sentence)
    assert (words is None) == (block is None)
    if words:
        true_nmi = 20.0  # as the berg was written
        assert float(words[1]) <= true_nmi <= float(words[2])
    watch_one, watch_other = (told(block, north_deg, ALL).sentence for north_deg in (0.0, 0.04))
    assert watch_one != watch_other  # what was moved is what the watch's own answer rests on


def test_a_kind_that_declares_nothing_is_told_to_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(KINDS, "ice.report", replace(KINDS["ice.report"], release=None))
    with pytest.raises(AssertionError, match="withheld here"):
        told(None, 0.0, READERS)
