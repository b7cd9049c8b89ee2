"""The app through Streamlit's own test runner, on a journal of its own with the exercise in it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard import settings
from dashboard.panels.layer import EVERYTHING
from demo_data.load import fill
from demo_data.scenario import DEMO_NOW, NAME
from layers.catalogue import KINDS
from layers.journal.store import Journal, open_journal

APP = Path(__file__).resolve().parents[2] / "dashboard" / "app.py"
PATIENCE_S = 240
FEW_DRAWS = "2000"  # what a page says of them is looked at here, not how fine they are


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A journal with the exercise in it, made once; tests work on copies."""
    path = tmp_path_factory.mktemp("exercise") / "exercise.sqlite"
    (path.parent / "computed").mkdir()
    journal = open_journal(path, KINDS, name=NAME, exercise=True)
    fill(journal)
    journal.set_clock(DEMO_NOW)
    journal.close()
    return path


@pytest.fixture(scope="module")
def data_folder(filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data folder whose journal this module may write to; the clock stands at the opening.

    What is worked out is shared by all modules: a result is kept under all that it rests on.
    """
    folder = tmp_path_factory.mktemp("data")
    shutil.copy(filled, folder / "exercise.sqlite")
    patch = pytest.MonkeyPatch()
    patch.setenv("MUSTERPLOT_DATA_FOLDER", str(folder))
    patch.setenv("MUSTERPLOT_DATABASE_URL", str(folder / "exercise.sqlite"))
    patch.setenv("MUSTERPLOT_LISTENS", "127.0.0.1")
    patch.setenv("MUSTERPLOT_DRAWS", FEW_DRAWS)
    place = settings.incident_folder()
    place.mkdir(parents=True, exist_ok=True)
    (place / "cache").symlink_to(filled.parent / "computed")
    journal = open_journal(folder / "exercise.sqlite", KINDS)
    journal.set_clock(DEMO_NOW)
    journal.close()
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
