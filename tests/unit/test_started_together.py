"""Processes that begin at once, and a terminal: nothing of it is seen but words."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

import pytest

from layers.__main__ import main
from layers.results import Results


def test_who_comes_while_another_makes_the_kept_results_waits_and_has_them(tmp_path: Path) -> None:
    path = Results(tmp_path, "journal").path
    for kept in path.parent.glob(f"{path.name}*"):
        kept.unlink()
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN EXCLUSIVE")  # as the first of two does at the very first start
    threading.Timer(0.3, lambda: (other.execute("ROLLBACK"), other.close())).start()
    assert "nothing" not in Results(tmp_path, "journal")


@pytest.mark.parametrize("name", ["\x1b]0;title\x07\x1b[2J.csv", "a\x9b31mb.csv", "\u202egpj.csv"])
def test_a_files_name_commands_no_terminal(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_text(f"what is this\x1b[31m {name}\n")
    main(["read", str(path)])
    said = capsys.readouterr()
    for sign in "\x1b\x07\x9b\u202e":
        assert sign not in said.out + said.err
    assert "‹U+" in said.out + said.err
