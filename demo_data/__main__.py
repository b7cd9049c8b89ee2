"""``python -m demo_data``: write every file of the exercise anew, the same each time."""

from __future__ import annotations

import pkgutil
from importlib import import_module

from demo_data import writers
from demo_data.scenario import FOLDER


def main() -> int:
    """Run every ``writers/write_*.py``."""
    for info in pkgutil.iter_modules(writers.__path__):
        if info.name.startswith("write_"):
            import_module(f"demo_data.writers.{info.name}").write(FOLDER)
            print(f"wrote the part of {info.name.removeprefix('write_')}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
