"""What our style sheets and scripts name of the framework is there, in the version installed.

The world here is the framework's own files: a name that went from them, or an element that became
another, made what we hide or keep come to nothing without a word (drafts were lost that way).
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import streamlit

DASHBOARD = Path(__file__).resolve().parents[2] / "dashboard"
NAME = re.compile(r"(?:\.|testid=['\"])(st[A-Z]\w+)")
TIED = re.compile(r"\b[a-z]+\.st[A-Z]\w+\b(?!\()")  # section.stMain


@cache
def _theirs() -> str:
    static = Path(streamlit.__file__).parent / "static"
    found = [path for path in static.rglob("*") if path.suffix in (".js", ".css")]
    return "\n".join(path.read_text("utf-8", errors="ignore") for path in found)


@cache
def _ours() -> dict[str, str]:
    found = [p for p in DASHBOARD.rglob("*") if p.suffix in (".js", ".css", ".py")]
    return {str(path.relative_to(DASHBOARD)): path.read_text("utf-8") for path in found}


def test_every_name_of_the_framework_is_one_of_its_names() -> None:
    named = {(name, where) for where, text in _ours().items() for name in NAME.findall(text)}
    assert len(named) > 20  # they are found at all
    assert [each for each in sorted(named) if each[0] not in _theirs()] == []


def test_no_name_of_the_framework_is_tied_to_an_element() -> None:
    """`section.stMain` held until the framework made it a `main`."""
    assert [(w, TIED.findall(t)) for w, t in _ours().items() if TIED.findall(t)] == []
