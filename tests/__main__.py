"""``python -m tests``: the tests that need no browser on every core, then the browser's alone.

A browser with its server takes all the cores there are; beside others both wait. Where ``CI`` is
set two files of browser tests run side by side all the same, which takes half the time, and what
failed is run once more by itself and said: a busy machine holds up a browser, a real fault fails
again. Further words go to both runs of pytest.
"""

from __future__ import annotations

import os
import subprocess
import sys

from tests.prepare import CI

RUNS = (
    (("-m", "not browser and not long"), ("-n", "logical", "--dist", "loadfile")),
    (("-m", "browser and not long"), ("-n", "2", "--dist", "loadfile") if CI in os.environ else ()),
)
AGAIN = ("--last-failed", "--last-failed-no-failures", "none")
NOTHING_CHOSEN = 5  # pytest's own: what was asked for lies in the other run


def main(words: list[str]) -> int:
    """Run both; return 0 when all passed."""
    worst = 0
    for chosen, beside in RUNS:
        ended = _pytest(*chosen, *beside, "--durations", "10", *words)
        if ended == 1 and os.environ.get(CI):
            ended = _pytest(*chosen, *AGAIN, *words)
        worst = max(worst, 0 if ended == NOTHING_CHOSEN else ended)
    return worst


def _pytest(*words: str) -> int:
    return subprocess.run([sys.executable, "-m", "pytest", *words], check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
