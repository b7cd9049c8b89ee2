"""What is installed is pinned by hash, and lies within the ranges that people read."""

from __future__ import annotations

import re
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PIN = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^ ;\\]+)")


def _asked() -> list[Requirement]:
    lines = [
        line.split("#")[0].strip()
        for name in ("requirements.txt", "tests/requirements.txt")
        for line in (ROOT / name).read_text().splitlines()
    ]
    return [Requirement(line) for line in lines if line and not line.startswith("-r")]


def test_every_package_is_pinned_with_a_hash_within_its_range() -> None:
    text = (ROOT / ".requirements.lock").read_text()
    entries = re.split(r"\n(?=\S)", text.strip())
    pins: dict[str, set[str]] = {}
    for entry in entries:
        found = PIN.match(entry)
        assert found, entry[:80]
        assert "--hash=sha256:" in entry, entry[:80]
        pins.setdefault(canonicalize_name(found[1]), set()).add(found[2])
    asked = _asked()
    assert len(asked) > 50
    for one in asked:
        held = pins.get(canonicalize_name(one.name), set())
        assert held, f"{one.name} is not in the lock"
        assert all(one.specifier.contains(Version(pin)) for pin in held), one


def test_what_is_checked_installs_from_the_lock() -> None:
    assert "--require-hashes -r .requirements.lock" in (ROOT / ".ci" / "run").read_text()
