"""The house itself: file and folder sizes, one name for one thing, no imports in a circle."""

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

TOP = Path(__file__).parents[2]
PARTS = ("layers", "dashboard", "demo_data")
MOST_LINES, MOST_FILES = 400, 20


@cache
def sources() -> dict[str, tuple[Path, ast.Module]]:
    """Return every module outside the tests by its dotted name."""
    found = {}
    for part in PARTS:
        for path in sorted((TOP / part).rglob("*.py")):
            dotted = ".".join(path.relative_to(TOP).with_suffix("").parts)
            found[dotted.removesuffix(".__init__")] = path, ast.parse(path.read_text("utf-8"))
    return found


def imports(module: str, tree: ast.Module, every: set[str]) -> set[str]:
    """Return the modules of the house that a module imports, at its head or inside a function.

    What stands under ``TYPE_CHECKING`` is a name in annotations: nothing is imported when it runs.
    """
    names_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if id(node) in names_only:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            inside = {f"{node.module}.{alias.name}" for alias in node.names} & every
            found |= inside or {node.module}
    return (found & every) - {module}


def circles(graph: dict[str, set[str]]) -> list[list[str]]:
    """Return the groups of modules that import each other."""
    every = nx.strongly_connected_components(nx.DiGraph(graph))
    return [sorted(group) for group in every if len(group) > 1]


def test_no_file_is_over_four_hundred_lines():
    long = {
        module: lines
        for module, (path, _) in sources().items()
        if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES
    }
    assert not long, f"part them by subject: {long}"


def test_no_folder_has_over_twenty_files():
    count: dict[Path, int] = defaultdict(int)
    for path, _ in sources().values():
        count[path.parent] += 1
    full = {str(place.relative_to(TOP)): n for place, n in count.items() if n > MOST_FILES}
    assert not full, f"give a part of its own to what belongs together: {full}"


def test_no_public_class_name_stands_for_two_things():
    where: dict[str, list[str]] = defaultdict(list)
    for module, (_, tree) in sources().items():
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].append(module)
    twice = {name: modules for name, modules in where.items() if len(modules) > 1}
    assert not twice, f"who searches for one of these finds two: {twice}"


def test_no_modules_import_each_other_in_a_circle():
    every = set(sources())
    graph = {module: imports(module, tree, every) for module, (_, tree) in sources().items()}
    assert sum(map(len, graph.values())) > len(every), "the imports were not read"
    assert not circles(graph)


@pytest.mark.parametrize("text", ["from layers.b import x", "def f():\n    from layers import b"])
def test_a_circle_is_found_also_when_it_is_hidden_in_a_function(text):
    every = {"layers", "layers.a", "layers.b"}
    graph = {
        "layers.a": imports("layers.a", ast.parse(text), every),
        "layers.b": imports("layers.b", ast.parse("import layers.a"), every),
    }
    assert circles(graph) == [["layers.a", "layers.b"]]
