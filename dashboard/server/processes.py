"""The four processes: started, watched, started again when they die, ended together."""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 30.0
RAN_WELL_S = 60.0
GRACE_S = 8.0
AFTER_FIRST_S = 8.0
_PR_SET_PDEATHSIG = 1
# Tells a process to get ready: its journal is the first line of its input, a byte lets it go.
HELD = "MUSTERPLOT_HELD"
REFUSED = 2  # the status of a process that can not be, and has said why


def die_with_parent() -> None:
    """Ask the kernel to end this process when its parent dies, even by kill -9 (Linux only)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


def _before_it_runs(gives_way: int) -> None:
    die_with_parent()
    if gives_way:
        # Linux shares time between sessions first, and each of these is one of its own: what a
        # process says of itself by `nice` would count among its own children alone.
        with contextlib.suppress(OSError):
            Path("/proc/self/autogroup").write_text(str(gives_way))


@dataclass(slots=True)
class Child:
    """One process, and when it may be started again.

    Parameters
    ----------
    name : str
        As said on the terminal: ``"feed reader"``.
    words : sequence of str
        The command after the interpreter.
    environment : mapping
        Its environment variables.
    waits : bool
        Not started before somebody can see the plot: it would only slow that down.
    held : bool
        It gets ready and goes no further than it may until `let_go`; not when it is started again.
    gives_way : int
        To the other processes, 0 (not) to 19, from its first moment on (Linux).
    """

    name: str
    words: Sequence[str]
    environment: Mapping[str, str]
    waits: bool = False
    held: bool = False
    gives_way: int = 0
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    next_start: float = 0.0
    deaths: int = 0
    _said: set[str] = field(default_factory=set)

    def start(self) -> None:
        """Start it."""
        self.process = subprocess.Popen(
            [sys.executable, *self.words],
            cwd=ROOT,
            env={**self.environment, **({HELD: "1"} if self.held else {})},
            stdin=subprocess.PIPE if self.held else None,
            preexec_fn=partial(_before_it_runs, self.gives_way) if os.name == "posix" else None,
            # Ctrl-C goes to the whole group of a terminal: the parent alone decides how to end.
            start_new_session=os.name == "posix",
        )
        self.started_at = time.monotonic()

    def tell(self, line: str) -> None:
        """Tell it a line while it is held; it may have died meanwhile."""
        if self.process is not None and self.process.stdin is not None:
            with contextlib.suppress(OSError):
                self.process.stdin.write(f"{line}\n".encode())
                self.process.stdin.flush()

    def let_go(self) -> None:
        """Let it go on; it may have died meanwhile."""
        self.held = False
        if self.process is not None and self.process.stdin is not None:
            with contextlib.suppress(OSError):
                self.process.stdin.write(b"1")
                self.process.stdin.close()

    def running(self) -> bool:
        """Return whether it runs."""
        return self.process is not None and self.process.poll() is None

    def code(self) -> int | None:
        """Return the status that it ended with, None while it runs or was not started."""
        return None if self.process is None else self.process.poll()

    def tend(self, say: Callable[[str], None]) -> None:
        """Start it again when it has died, waiting longer each time it dies young."""
        if self.running():
            return
        now = time.monotonic()
        if self.process is not None:
            code = self.process.returncode
            self.process = None
            ran_s = now - self.started_at
            self.deaths = 1 if ran_s > RAN_WELL_S else self.deaths + 1
            wait_s = min(FIRST_WAIT_S * 2 ** (self.deaths - 1), LONGEST_WAIT_S)
            self.next_start = now + wait_s
            why = f"was ended by signal {-code}" if code < 0 else f"ended with status {code}"
            say(f"the {self.name} {why}; starting it again in {wait_s:.0f} s")
        if now >= self.next_start:
            self.start()

    def ask_to_end(self) -> None:
        """Ask it to end."""
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()

    def end(self, by: float) -> None:
        """Wait for its end until a time of the monotonic clock, then make it end."""
        if self.process is None:
            return
        try:
            self.process.wait(max(by - time.monotonic(), 0.1))
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def end_all(children: Sequence[Child]) -> None:
    """End all of them together, within a few seconds."""
    for child in children:
        child.ask_to_end()
    by = time.monotonic() + GRACE_S
    for child in children:
        child.end(by)


def cut_coastline(folder: Path, say: Callable[[str], None]) -> None:
    """Cut the coastline when that was not done yet, with a bar; it ends when this process does."""
    from layers.earth.shore.land_cut import READY

    if (folder / "land" / READY).exists():
        time.sleep(AFTER_FIRST_S)  # who looks first is not held up by what is most likely there
    from layers.earth.shore.land import Land

    land = Land(folder / "land")
    if land.ready():
        return
    say("cutting the coastline, once; the plot can be used meanwhile")
    with subprocess.Popen(
        [sys.executable, "-m", "layers.earth.shore.land_cut", str(land.folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=die_with_parent if os.name == "posix" else None,
    ) as cutting:
        for line in cutting.stdout or ():
            fraction, _, text = line.strip().partition(" ")
            if sys.stderr.isatty():
                _bar(float(fraction), text)
        complaint = (cutting.stderr.read() if cutting.stderr else "").strip().splitlines()
    if land.ready():
        say("the coastline is ready")
    else:
        say(f"the coastline could not be cut: {complaint[-1] if complaint else 'no reason given'}")


def _bar(fraction: float, text: str) -> None:
    done = round(fraction * 30)
    end = "\n" if fraction >= 1.0 else ""
    sys.stderr.write(f"\r[{'#' * done}{'.' * (30 - done)}] {fraction:4.0%} {text:<40.40}{end}")
    sys.stderr.flush()
