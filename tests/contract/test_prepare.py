"""What the tests need besides Python: found, asked for in one line, or failing in CI."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import prepare

ROOT = Path(__file__).resolve().parents[2]


def bare(tmp_path: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Run it where neither Chromium, nginx, LibreOffice nor an installer is in reach."""
    code = "from tests import prepare; prepare.BESIDE_PATH = (); raise SystemExit(prepare.main())"
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False,
        env={"PATH": str(tmp_path), **more},
    )  # fmt: skip


def test_what_is_missing_is_said_in_one_line_each_with_what_to_type(tmp_path: Path) -> None:
    done = bare(tmp_path)
    assert done.returncode == 0
    lines = done.stderr.splitlines()
    assert len(lines) == len(prepare.NEEDS)
    assert "Chromium is not here" in lines[0]
    assert "sudo apt-get install chromium" in lines[0]
    assert "nginx-light" in lines[1]


def test_in_ci_what_must_be_there_fails_when_it_is_not(tmp_path: Path) -> None:
    assert bare(tmp_path, CI="1").returncode == 1


def test_what_is_there_is_found_beside_the_path_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "nginx"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(prepare, "BESIDE_PATH", (str(tmp_path),))
    assert prepare.found(prepare.NGINX) == str(program)
    assert prepare.found(prepare.CHROMIUM) is None


def test_packages_are_installed_only_where_this_account_may(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[list[str]] = []

    def run(words: list[str]) -> int:
        asked.append(words)
        return 0

    monkeypatch.setattr(prepare, "installer", lambda: None)
    prepare.install(prepare.NEEDS, run)
    assert asked == []
    monkeypatch.setattr(prepare, "installer", lambda: ["apt-get", "install"])
    prepare.install([prepare.NGINX], run)
    assert asked == [["apt-get", "update", "-q"], ["apt-get", "install", "nginx-light"]]


@pytest.mark.skipif(os.name != "posix", reason="PATH tricks of a POSIX system")
def test_browser_tests_are_left_out_and_counted_where_chromium_is_out_of_reach(
    tmp_path: Path,
) -> None:
    code = (
        "import sys, pytest; from tests import prepare; prepare.BESIDE_PATH = (); "
        "sys.exit(pytest.main(['-q', '-p', 'no:cacheprovider', 'tests/browser/test_wall.py', "
        "'tests/browser/test_proxy.py', 'tests/published/test_deck_in_an_office.py']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False,
        env={"PATH": str(tmp_path), "HOME": str(tmp_path)},
    )  # fmt: skip
    last = done.stdout.strip().splitlines()[-1]
    assert done.returncode == 0, done.stdout[-2000:]
    assert "skipped" in last
    assert "failed" not in last
    assert "error" not in last
