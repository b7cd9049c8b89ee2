"""A layer added by the book is seen everywhere, and no file but the catalogue knows of it."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from layers.catalogue import BY_KEY

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "tests" / "data"
LAYER, CHECKS = DATA / "ice_layer.py", DATA / "ice_checks.py"
MOST_LINES = 150
# what holds for every layer, run again where there is one more
AGAIN = (
    "tests/contract/test_layers.py",
    "tests/contract/test_recompute_by_need.py",
    "tests/unit/test_worker_parts.py",
    "tests/unit/test_log_bears_on.py",
)
MANIFEST = '[{"file": "ice.csv", "feed": "ice_csv", "source": "ice reports", "delay_s": 600}]'
# 20 nmi south of the place of the wreck, drifting east
FEED = (
    "time,berg,lat,lon,drift_set_true_deg,drift_kn\n"
    "2027-03-16T03:00Z,B-1,49.50,-8.5,090,0.3\n"
    "2027-03-16T03:00Z,B-2,48.90,-9.5,,\n"
)


def tracked() -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT, capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    return [name for name in listed.stdout.splitlines() if (ROOT / name).is_file()]


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program with the small layer in it: its package, its demo, two lines."""
    top = tmp_path_factory.mktemp("program")
    for name in tracked():
        (top / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, top / name)
    package = top / "layers" / "ice"
    package.mkdir()
    shutil.copy(LAYER, package / "__init__.py")
    demo = top / "demo_data" / "ice"
    demo.mkdir()
    (demo / "manifest.json").write_text(MANIFEST)
    (demo / "ice.csv").write_text(FEED)
    catalogue = top / "layers" / "catalogue.py"
    text = catalogue.read_text()
    text = text.replace(
        "from layers import datum, forward_port,", "from layers import datum, forward_port, ice,"
    )
    catalogue.write_text(
        text.replace("    survivors.LAYER,\n", "    ice.LAYER,\n    survivors.LAYER,\n")
    )
    assert text.count("ice.LAYER") == 0
    assert "ice.LAYER" in catalogue.read_text()
    shutil.copy(CHECKS, top / "tests" / "contract" / "test_ice.py")
    for words in ("init -q", "add -A"):  # some tests ask git what belongs to the program
        subprocess.run(["git", *words.split()], cwd=top, check=True)
    return top


@pytest.fixture(scope="module")
def found(tree: Path) -> dict[str, str]:
    """By test: what went wrong in the copy, empty when nothing did."""
    out = tree / "found.xml"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:randomly",
         f"--junitxml={out}", "tests/contract/test_ice.py", *AGAIN],
        cwd=tree, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert out.exists(), done.stdout[-3000:] + done.stderr[-3000:]
    cases = {}
    for case in Xml.parse(out).getroot().iter("testcase"):
        wrong = [part for part in case if part.tag in ("failure", "error")]
        name = f"{case.get('classname', '').rsplit('.', 1)[-1]}::{case.get('name')}"
        cases[name] = "\n".join(part.text or "" for part in wrong)
    return cases


def names_of(path: Path) -> list[str]:
    return [
        node.name
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]


@pytest.mark.parametrize("name", names_of(CHECKS))
@pytest.mark.timeout(900)
def test_of_the_new_layer(found: dict[str, str], name: str) -> None:
    held = {case: wrong for case, wrong in found.items() if case.startswith(f"test_ice::{name}")}
    assert held, f"{name} did not run; these did: {sorted(found)}"
    for case, wrong in held.items():
        assert not wrong, f"{case}: {wrong[-3000:]}"


@pytest.mark.timeout(900)
def test_what_holds_for_every_layer_holds_for_the_new_one(found: dict[str, str]) -> None:
    again = {case: wrong for case, wrong in found.items() if not case.startswith("test_ice::")}
    assert any("[ice]" in case for case in again)
    assert {case: wrong[-1500:] for case, wrong in again.items() if wrong} == {}


def test_one_file_outside_its_folder_is_touched(tree: Path) -> None:
    changed = [
        name for name in tracked() if (tree / name).read_bytes() != (ROOT / name).read_bytes()
    ]
    assert changed == ["layers/catalogue.py"]


def test_imports_go_one_way_with_the_new_layer_too(tree: Path) -> None:
    command = [str(Path(sys.executable).with_name("lint-imports"))]
    done = subprocess.run(command, cwd=tree, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]


@pytest.mark.parametrize("bad", ["layers.tracks", "layers.scene.scene"])
def test_an_import_that_goes_the_wrong_way_is_found(tree: Path, bad: str) -> None:
    package = tree / "layers" / "ice"
    (package / "astray.py").write_text(f"import {bad}\n")
    try:
        command = [str(Path(sys.executable).with_name("lint-imports"))]
        done = subprocess.run(command, cwd=tree, capture_output=True, text=True, check=False)
    finally:
        (package / "astray.py").unlink()
    assert done.returncode != 0
    assert "layers.ice" in done.stdout


def test_the_small_layer_is_small() -> None:
    assert len(LAYER.read_text().splitlines()) <= MOST_LINES


def test_no_list_of_layers_stands_outside_the_catalogue() -> None:
    assert lists_of_layers(ROOT) == []


def lists_of_layers(top: Path) -> list[str]:
    """Return every literal with two or more keys of layers, `needs` and `patient` set aside."""
    found = []
    for folder in ("layers", "dashboard", "demo_data"):
        for path in sorted((top / folder).rglob("*.py")):
            if path == top / "layers" / "catalogue.py":
                continue
            tree = ast.parse(path.read_text())
            own = {
                id(word.value)
                for call in ast.walk(tree)
                if isinstance(call, ast.Call)
                for word in call.keywords
                if word.arg in ("needs", "patient")
            }
            for node in ast.walk(tree):
                if isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict) and (
                    id(node) not in own
                ):
                    parts = node.keys if isinstance(node, ast.Dict) else node.elts
                    keys = [
                        part.value
                        for part in parts
                        if isinstance(part, ast.Constant) and part.value in BY_KEY
                    ]
                    if len(set(keys)) > 1:
                        found.append(f"{path.relative_to(top)}:{node.lineno} {keys}")
    return found


def test_a_list_of_layers_would_be_found(tmp_path: Path) -> None:
    (tmp_path / "dashboard").mkdir()
    (tmp_path / "dashboard" / "x.py").write_text('ORDER = ("datum", "weather")\n')
    assert len(lists_of_layers(tmp_path)) == 1
