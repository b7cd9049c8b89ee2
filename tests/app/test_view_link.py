"""A link holds the view: frame, centre, reach, layers and times; the log links to the chart."""

from __future__ import annotations

import re
from ast import literal_eval
from html import unescape
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from streamlit.testing.v1 import AppTest

from demo_data.scenario import DEMO_NOW
from layers.journal.store import Journal
from tests.app.conftest import on_page, texts

AT = str(int(DEMO_NOW.timestamp() * 1e6) - 3_600_000_000)
VIEW = {
    "frame": "mercator", "centre": "49.750000,-8.250000", "reach": "30", "ink": "day",
    "hide": "weather,tracks", "shaded": "1", "every": "1", "as_of": AT,
}  # fmt: skip


def _view() -> None:
    import streamlit as st

    from dashboard import state

    state.read_query()
    st.code(state.link("plot"))
    st.code(str((state.get(state.Key.CENTRE), state.get(state.Key.HALF_WIDTH))))
    state.write_query()


def view(**query: str) -> AppTest:
    app = AppTest.from_function(_view)
    for name, value in query.items():
        app.query_params[name] = value
    return app.run()


def asked(app: AppTest) -> dict[str, Any]:
    return {name: value[0] if isinstance(value, list) else value
            for name, value in app.query_params.items()}  # fmt: skip


def test_the_whole_view_comes_back_out_of_its_own_link() -> None:
    app = view(**VIEW)
    assert not app.exception
    assert asked(app) == VIEW
    assert dict(parse_qsl(urlsplit(app.code[0].value).query)) == VIEW
    # a nautical mile is 1852 m (BIPM, The SI Brochure, table 8 of its 8th edition; VERIFIED)
    assert app.code[1].value == str(("49.75 -8.25", 30 * 1852.0))


def test_a_view_at_its_defaults_says_nothing() -> None:
    assert asked(view()) == {}
    assert view().code[0].value == "./plot"


def _choices() -> None:
    import streamlit as st

    from dashboard import state
    from dashboard.panels.plot import chart_choice

    state.read_query()
    chart_choice.show(None)  # type: ignore[arg-type]  # asks for what is seen at a press only
    st.code(str(state.get(state.Key.HALF_WIDTH)))
    state.write_query()


@pytest.mark.parametrize("query", [{}, {"reach": "12"}, {"reach": "77.5"}])
def test_to_open_the_choices_chooses_nothing(query: dict[str, str]) -> None:
    """A reach between the slider's steps stays what it is, and the chart is not built anew."""
    app = AppTest.from_function(_choices)
    for name, value in query.items():
        app.query_params[name] = value
    before = view(**query).code[1].value
    app.run().run()
    assert not app.exception
    assert asked(app) == query
    assert app.code[0].value in before
    app.select_slider[0].set_value(30.0).run()  # and a press on it chooses
    assert asked(app) == {"reach": "30"}
    assert app.code[0].value == str(30 * 1852.0)


@pytest.mark.parametrize(
    "forged",
    [
        {"centre": "<script>,1"}, {"centre": "91,0"}, {"centre": "49,8,1"}, {"centre": "nan,nan"},
        {"centre": "1e3,0"}, {"centre": "٤٩,٨"}, {"centre": "4" * 400}, {"centre": "49.8"},
        {"reach": "0"}, {"reach": "-5"}, {"reach": "9999"}, {"reach": "1e1"}, {"reach": "x"},
        {"centre": "89.9,0", "frame": "mercator"}, {"centre": "-89.9,0", "frame": "utm"},
        {"shaded": "yes"}, {"every": "<b>"},
    ],
)  # fmt: skip
def test_a_forged_extent_is_left_at_its_default(forged: dict[str, str]) -> None:
    app = view(**forged)
    assert not app.exception
    assert app.code[1].value == str(("", 25_000.0))
    assert set(asked(app)) <= {"frame"}


def test_the_plot_opens_where_a_link_says(app: AppTest) -> None:
    for name, value in VIEW.items():
        app.query_params[name] = value
    on_page(app, "plot")
    assert not app.exception
    assert asked(app) == VIEW  # also after the panels of frame and layers have run


def _record(kind: str) -> None:
    from types import SimpleNamespace

    import streamlit as st

    from dashboard import state
    from dashboard.cache import opened
    from dashboard.panels.journal import entries as log_entries
    from layers.catalogue import KINDS
    from layers.journal.known import Known

    state.read_query()
    journal = opened.book()
    record = journal.log(upto_seq=journal.revision(), kinds=[kind], limit=1)[0]
    known = Known(journal, KINDS, journal.revision(), journal.now())
    entry: Any = next((e for e in known.entries(kind) if e.id == record.id), None)
    result = SimpleNamespace(rests_on=(record.id,))
    from layers.contract import Shown
    from layers.earth.table import Table

    empty: Any = Table(heads=(), rows=())
    shown = Shown(result=result, sentence="Datum <b>.", marks=(), table=empty, tables={})
    bears = log_entries.bears_on({"datum": shown}, record.id)
    log_entries.whole(record, entry, names=True, bears=bears)
    st.code(str(log_entries.place_of(record.payload)))


def test_a_record_of_the_log_links_to_its_place_and_to_the_numbers_that_rest_on_it(
    data_folder: object, journal: Journal
) -> None:
    assert data_folder
    kind = next(
        record.kind
        for record in journal.log(upto_seq=journal.revision(), limit=5_000)
        if record.kind != "tracks.position" and "latitude_deg" in record.payload
        and "longitude_deg" in record.payload
    )  # fmt: skip
    app = AppTest.from_function(_record, args=(kind,), default_timeout=60)
    app.query_params["as_of"] = AT
    app.query_params["hide"] = "weather"
    app.run()
    assert not app.exception
    said = texts(app)
    links = [unescape(link) for link in re.findall(r'href="([^"]+)"', said)]
    assert [urlsplit(link).path for link in links] == ["./plot", "./search"]
    query = dict(parse_qsl(urlsplit(links[0]).query))
    latitude, longitude = map(float, query["centre"].split(","))
    assert (latitude, longitude) == pytest.approx(literal_eval(app.code[0].value), abs=1e-6)
    assert query["as_of"] == AT
    assert query["hide"] == "weather"
    assert "Datum &lt;b&gt;." in said
