"""The plot of an empty journal shows the first report's card; recording it puts her on the plot."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.cache import opened
from layers.catalogue import KINDS
from layers.journal.store import open_journal

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def app(tmp_path, monkeypatch):
    monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("MUSTERPLOT_DATABASE_URL", str(tmp_path / "j.sqlite"))
    open_journal(tmp_path / "j.sqlite", KINDS, name="HEATH", exercise=True).close()
    import streamlit as st

    st.cache_resource.clear()
    yield AppTest.from_file(str(ROOT / "dashboard/app.py"), default_timeout=240)
    opened.pen().close()
    st.cache_resource.clear()


def field(app, label):
    return next(one for one in app.text_input if one.label == label)


def test_the_card_is_there_records_and_goes(app):
    app.run()
    assert not app.exception
    field(app, "Last known position").set_value("4320N 00840E")
    field(app, "Good to: within, 95 %").set_value("2 nmi")
    field(app, "Last heard").set_value("-90 min")
    app.run()
    bodies = " ".join(element.proto.body for element in app.get("html"))
    assert "read: 43°20.0′N 008°40.0′E" in bodies
    next(b for b in app.button if b.label == "Record the first report").click()
    app.run()
    assert not app.exception
    entries = opened.known(opened.pen().revision(), opened.pen().now()).entries("datum.lkp")
    assert [round(entry.value.sigma_m) for entry in entries] == [1513]
    assert not [b for b in app.button if b.label == "Record the first report"]
