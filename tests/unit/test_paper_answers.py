"""The four answers on what is printed or sent: those of the command, of the same release and time.

Each sheet is read back as a person has it, the words out of the PDF and the slides.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from layers.__main__ import main

CASES = (
    ("watch",), ("outside",),
    ("watch", "--as-of", "131730Z MAR 27"),  # searched for, nobody has read her air
    pytest.param(  # ahead: the plan as known now is carried on
        ("watch", "--at", "170700Z MAR 27"), marks=pytest.mark.long
    ),
)  # fmt: skip


def asked(capsys: pytest.CaptureFixture[str], release: str, *times: str) -> list[str]:
    """Return the answers in words, as ``python -m layers answers --json`` gives them."""
    assert main(["answers", "--demo", "--json", "--release", release, *times]) == 0
    return list(json.loads(capsys.readouterr().out)["words"])


def four_of(words: list[str]) -> tuple[list[str], str, str, str]:
    """Return people, margin, dive and oldest of all the answers' words."""
    board = next(n for n, one in enumerate(words) if "POB" in one or "withheld" in one)
    people = words[: board + 1]
    margin, dive = words[board + 1 : board + 3]
    ends = ("oldest", "input", "withheld")
    oldest = next(one for one in words[::-1] if any(end in one for end in ends))
    return people, margin, dive, oldest


@pytest.mark.parametrize("case", CASES, ids=" ".join)
def test_the_four_answers_stand_on_the_sheet_as_the_command_gives_them(
    case: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    release, *times = case
    people, margin, dive, oldest = four_of(asked(capsys, release, *times))
    sheet = tmp_path / "sheet.pdf"
    centre = ["--centre", "49-50N 008-30W"]
    assert main(["snapshot", "--demo", str(sheet), "--release", release, *centre, *times]) == 0
    found = plain(PdfReader(sheet).pages[0].extract_text())
    # the words without the signs between them, which stand otherwise in a row and in a column
    for name, said in (("", people[0]), ("margin", margin), ("dive", dive), ("", oldest)):
        figure = re.match(r"\S+( h( \d\d)?\b| d \d+ h| min)?", said)
        assert figure is not None
        rest = said[figure.end() :]
        assert plain(f"{figure[0]} {name} {rest}") in found, said
    for one in people[1:]:
        assert plain(one) in found, one
    if release != "outside" and not times:
        assert plain("air read 0315Z, 3 h 20 ago") in found
        assert plain("told 0555Z, 40 min ago") in found
        assert plain("sea and forecast from 0550Z, 45 min ago") in found


def plain(text: str) -> str:
    return " ".join(re.sub(r"[,:;·]", " ", text).split())
