"""What each feed is doing, in a small file that the feeds page reads."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from layers.earth.clock import from_us, to_us

FILE = "feeds-state.json"
DEFAULT_STALE_S = 7_200.0
REPEATS_TOLD = 5  # a buoy asked every few minutes brings its hour's row several times


@dataclass(slots=True, kw_only=True)
class FeedState:
    """One feed as it stands.

    Parameters
    ----------
    name, address : str
        As set up.
    formats : list of str
        Kinds of what came, by feed key.
    asked_at, heard_at : datetime or None
        When it was last asked, and when something last came, on the journal's clock.
    records, rejects, files : int
        Since the reader started: new records, rejects, and files or pieces read.
    error : str
        What is wrong now; empty when all is well.
    failures : int
        In a row.
    next_at : datetime or None
        When it is asked again.
    stale_after_s : float or None
        Age at which what came is stale.
    repeats, ahead : int
        How many times in a row it brought only what was there already; records in the last
        batch that bear a time ahead of the clock.
    left_out : str
        What was found and not taken, and why.
    """

    name: str
    address: str
    formats: list[str]
    asked_at: datetime | None = None
    heard_at: datetime | None = None
    records: int = 0
    rejects: int = 0
    files: int = 0
    error: str = ""
    failures: int = 0
    next_at: datetime | None = None
    stale_after_s: float | None = None
    sources: list[str] | None = None
    repeats: int = 0
    ahead: int = 0
    left_out: str = ""

    def troubles(self) -> list[str]:
        """Return what is wrong with the feed, or with what it brings, in sentences."""
        said = [self.error] if self.error else []
        if self.repeats >= REPEATS_TOLD:
            said.append(f"the last {self.repeats} times it brought nothing that was not there")
        if self.ahead:
            said.append(
                f"{self.ahead} records bear a time ahead of the journal's clock: one of the two "
                "clocks is wrong"
            )
        if self.left_out:
            said.append(self.left_out)
        return said

    def stale(self, now: datetime) -> bool:
        """Whether what came last is older than it should be, or nothing ever came."""
        if self.stale_after_s is None:
            return False
        return self.heard_at is None or (now - self.heard_at).total_seconds() > self.stale_after_s


_TIMES = ("asked_at", "heard_at", "next_at")


def states_text(states: list[FeedState], trouble: str = "") -> str:
    """Return them as JSON text; ``trouble`` is about the settings or the journal."""
    rows = []
    for state in states:
        row = asdict(state)
        for name in _TIMES:
            row[name] = None if row[name] is None else to_us(row[name])
        rows.append(row)
    return json.dumps({"feeds": rows, "trouble": trouble})


def states_from(text: str) -> tuple[list[FeedState], str]:
    """Return what `states_text` wrote, nothing when it can not be read."""
    try:
        found = json.loads(text)
        states = []
        for row in found["feeds"]:
            for name in _TIMES:
                row[name] = None if row[name] is None else from_us(row[name])
            states.append(FeedState(**row))
        return states, str(found["trouble"])
    except (ValueError, KeyError, TypeError):
        return [], ""


def write_states(folder: Path, states: list[FeedState], trouble: str = "") -> None:
    """Write all of them, whole or not at all."""
    fresh = folder / f"{FILE}.part"
    fresh.write_text(states_text(states, trouble), "utf-8")
    fresh.replace(folder / FILE)


def read_states(folder: Path) -> tuple[list[FeedState], str]:
    """Return what was last written, and what trouble there is; nothing when there is no file."""
    try:
        return states_from((folder / FILE).read_text("utf-8"))
    except (OSError, UnicodeDecodeError):
        return [], ""


def stale_after_s(source: str, states: list[FeedState]) -> float:
    """Return the age at which a source is stale: its feed's, else two hours (a buoy's)."""
    for state in states:
        if source in (state.sources or ()) and state.stale_after_s is not None:
            return state.stale_after_s
    return DEFAULT_STALE_S
