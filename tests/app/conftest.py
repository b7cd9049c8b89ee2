"""The app through Streamlit's own test runner, on a journal of its own with the exercise in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.panels.layer import EVERYTHING
from layers.catalogue import KINDS
from layers.journal.store import Journal, open_journal
from tests.worked_out import DRAWS, FEW_DRAWS, exercise_into, shared_folder

APP = Path(__file__).resolve().parents[2] / "dashboard" / "app.py"
PATIENCE_S = 240


@pytest.fixture(scope="module")
def data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data folder whose journal this module may write to; the clock stands at the opening."""
    folder = tmp_path_factory.mktemp("data")
    path = exercise_into(folder, shared_folder(tmp_path_factory))
    patch = pytest.MonkeyPatch()
    patch.setenv("MUSTERPLOT_DATA_FOLDER", str(folder))
    patch.setenv("MUSTERPLOT_DATABASE_URL", str(path))
    patch.setenv("MUSTERPLOT_LISTENS", "127.0.0.1")
    patch.setenv(DRAWS, FEW_DRAWS)
    st.cache_resource.clear()
    yield folder
    st.cache_resource.clear()
    patch.undo()


@pytest.fixture
def journal(data_folder: Path) -> Iterator[Journal]:
    opened = open_journal(data_folder / "exercise.sqlite", KINDS)
    yield opened
    opened.close()


@pytest.fixture
def app(data_folder: Path) -> AppTest:
    """The app, not yet run."""
    assert data_folder.exists()
    return AppTest.from_file(str(APP), default_timeout=PATIENCE_S)


def on_page(app: AppTest, name: str) -> AppTest:
    """Return the app run on a page with everything open that it folds."""
    app.session_state[f"{name}.more"] = EVERYTHING
    app.run()
    if name != "plot":
        app.switch_page(f"screens/{name}.py")
        app.run()
    return app


def texts(app: AppTest) -> str:
    """Return everything a person reads on the page, as one text."""
    parts = [element.body for element in app.get("html")]
    parts += [element.value for element in (*app.markdown, *app.caption, *app.error)]
    return "\n".join(str(part) for part in parts)
