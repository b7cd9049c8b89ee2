"""Where the real sample files are; they are read from beside the repository, never copied in."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = Path(os.environ.get("MUSTERPLOT_SAMPLES", ROOT.parent / "shared" / "samples"))


def sample(name: str) -> Path:
    """Return the path of a real sample; say plainly that the test did not run without it."""
    path = SAMPLES / name
    if not path.exists():
        pytest.skip(f"not run: the real sample {name} is not in the samples folder")
    return path
