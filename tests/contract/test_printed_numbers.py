"""No number that the program prints could be taken for another: no thousands commas anywhere."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
COMMA = re.compile(r"""\{[^{}"']*:[+\- 0-9<>^]*,[.0-9a-z]*\}|["'][+\-]?,(?:\.\d)?[df]["']""")
THREE = re.compile(r"\{[^{}]*:[+\-]?\.3f\}")
# minutes of a position, which are never thousands, and a link's query, which no person reads
POSITIONS = {"layers/earth/chart/graticule.py", "layers/earth/said/written.py",
             "dashboard/state.py"}  # fmt: skip


def sources() -> list[Path]:
    return [p for part in ("layers", "dashboard") for p in (ROOT / part).rglob("*.py")]


def test_nothing_prints_a_thousands_comma() -> None:
    found = [f"{p.name}: {m}" for p in sources() for m in COMMA.findall(p.read_text())]
    assert not found
    assert COMMA.search('f"{metres:,.0f} m"'), "the search itself finds one"


def test_no_number_is_printed_with_three_decimals_that_might_be_thousands() -> None:
    found = [
        f"{p.relative_to(ROOT)}: {m}"
        for p in sources()
        if str(p.relative_to(ROOT)) not in POSITIONS
        for m in THREE.findall(p.read_text())
    ]
    assert not found, "use quantity.figure, which adds a nought"


def test_no_script_in_the_browser_groups_by_commas() -> None:
    files = [p for part in ("layers", "dashboard") for p in (ROOT / part).rglob("*")
             if p.suffix in (".py", ".js", ".html", ".css")]  # fmt: skip
    assert not [p.name for p in files if "toLocaleString" in p.read_text(errors="replace")]
