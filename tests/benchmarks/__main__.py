"""``python -m tests.benchmarks``: every figure as a ratio to its reference in the same run."""

from __future__ import annotations

import argparse
import json
import pkgutil
import sys
from dataclasses import asdict
from importlib import import_module
from pathlib import Path

import pytest

import tests.benchmarks as here

KEPT = Path(".benchmarks") / "last.json"


def main() -> int:
    """Print the figures, compare with the last run, keep this one."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("names", nargs="*", help="only these files, e.g. geodesy")
    parser.add_argument("--keep", type=Path, default=KEPT, help="file to write and compare with")
    chosen = parser.parse_args()
    before = json.loads(chosen.keep.read_text()) if chosen.keep.exists() else {}
    now = dict(before)
    left_out = 0
    for info in sorted(pkgutil.iter_modules(here.__path__), key=lambda found: found.name):
        subject = info.name.removeprefix("bench_")
        if not info.name.startswith("bench_") or (chosen.names and subject not in chosen.names):
            continue
        try:
            figures = list(import_module(f"tests.benchmarks.{info.name}").figures())
        except (pytest.skip.Exception, FileNotFoundError, RuntimeError) as reason:
            left_out += 1
            print(f"{subject}: not measured: {reason}", flush=True)
            continue
        for figure in figures:
            last = before.get(figure.name, {}).get("ratio")
            was = f", was {last:.3g}" if last is not None else ""
            verdict = "meets" if figure.met else "MISSES"
            print(
                f"#{figure.issue} {figure.name}: {figure.ratio:.3g} {figure.unit} of "
                f"{figure.reference}{was}; {verdict} {figure.direction} {figure.target:g}"
                + (f" ({figure.note})" if figure.note else ""),
                flush=True,
            )
            now[figure.name] = asdict(figure)
    if left_out:
        print(f"{left_out} subjects were not measured: what they need is not on this machine")
    chosen.keep.parent.mkdir(exist_ok=True)
    chosen.keep.write_text(json.dumps(now, indent=1, sort_keys=True))
    return 0


if __name__ == "__main__":
    sys.exit(main())
