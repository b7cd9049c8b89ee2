"""What an installation weighs, told by package: all that `requirements.txt` brings."""

from __future__ import annotations

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

from tests.benchmarks.figure import Figure

BEFORE_MB = 1300.0  # as it was when this was first asked for
TOLD = 12  # the heaviest, by name


def figures() -> list[Figure]:
    """Return the sum; the heaviest packages stand in the note."""
    sizes = sorted(sizes_mb().items(), key=lambda one: -one[1])
    for name, size_mb in sizes[:TOLD]:
        print(f"  {name}: {size_mb:.0f} MB", flush=True)
    total = sum(size for _, size in sizes)
    named = ", ".join(f"{name} {size:.0f}" for name, size in sizes[:TOLD])
    return [
        Figure(
            issue=23, name="an installation's packages", ratio=total / BEFORE_MB, target=1.0,
            direction="at most", reference=f"the {BEFORE_MB:.0f} MB of before",
            note=f"{total:.0f} MB in {len(sizes)} packages; MB: {named}",
        )
    ]  # fmt: skip


def sizes_mb() -> dict[str, float]:
    """Return what each package that is needed takes on disk, compiled files with it."""
    found: dict[str, float] = {}
    queue = [Requirement(line) for line in _lines()]
    asked: set[tuple[str, frozenset[str]]] = set()
    while queue:
        want = queue.pop()
        key = (_plain(want.name), frozenset(want.extras))
        if key in asked:
            continue
        asked.add(key)
        try:
            held = distribution(want.name)
        except PackageNotFoundError:
            continue  # another system's
        found[key[0]] = _size_mb(held)
        for line in held.requires or ():
            further = Requirement(line)
            marker = further.marker
            if marker is None or any(
                marker.evaluate({"extra": extra}) for extra in ("", *want.extras)
            ):
                queue.append(further)
    return found


def _lines() -> list[str]:
    text = Path("requirements.txt").read_text(encoding="utf-8")
    lines = (line.partition("#")[0].strip() for line in text.splitlines())
    return [line for line in lines if line]


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _size_mb(held: Distribution) -> float:
    paths = [Path(str(held.locate_file(file))) for file in held.files or ()]
    return sum(path.stat().st_size for path in paths if path.is_file()) / 1e6
