"""The words that stand on everything that leaves the program, and what of a picture is drawn.

Nothing is cut here: a picture was computed from what its release may read (`layers.journal.
released`), and an export of a picture that was read otherwise is refused.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from layers.contract import Moment, Shown, View
from layers.earth.chart.marks import AnyMark
from layers.earth.clock import dtg, iso_s
from layers.earth.errors import NotAllowed
from layers.earth.said.alike import visible
from layers.earth.tells import POSITION_WITHHELD
from layers.journal.releases.rules import OUTSIDE, WATCH, Release
from layers.picture import Picture

__all__ = ["CAUTION", "OUTSIDE", "POSITION_WITHHELD", "WATCH", "Release", "Stamp", "marks_for"]

PLAIN = Release()
CAUTION = "Not for navigation. A datum is not a fix."


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """The words on every export: what it is, of when, for whom, and from which journal.

    An export for a release that withholds names no record and no head of the journal: how many
    records lie between two of its exports would tell. ``number`` counts that release's exports
    by themselves.
    """

    title: str
    exercise: str  # the exercise's name, "" for a real operation
    moment: Moment
    head_seq: int
    head_hash: str
    marking: str = ""
    releasable_to: str = "operations room"
    attribution: str = ""
    release: Release = PLAIN
    number: int | None = None

    def __post_init__(self) -> None:
        for name in ("title", "exercise", "marking", "releasable_to", "attribution"):
            object.__setattr__(self, name, one_line(getattr(self, name)))

    @property
    def banner(self) -> str:
        """EXERCISE and its name, or nothing."""
        if not self.exercise:
            return ""
        name = self.exercise.upper()
        return name if name.startswith("EXERCISE") else f"EXERCISE {name}"

    @property
    def time_words(self) -> str:
        """Which of the three times is shown."""
        at, as_of = dtg(self.moment.at), dtg(self.moment.as_of)
        if self.moment.view is View.KNOWN:
            return f"{at}, as known then"
        if self.moment.view is View.HINDSIGHT:
            return f"{at} in hindsight, as known at {as_of}"
        return f"EXPECTED at {at}, as known at {as_of}"

    @property
    def origin_words(self) -> str:
        """Which state of which journal it was made from, or of which release it is."""
        if not self.release.guarded:
            return f"Journal: record {self.head_seq}, head {self.head_hash[:16]}"
        counted = "" if self.number is None else f", export {self.number}"
        return f"Release: {self.release.audience}{counted}; {self.release.words()}"

    def lines(self) -> tuple[str, ...]:
        """Return the stamp as lines of text, empty ones left out."""
        told = (
            self.banner,
            self.title,
            self.time_words,
            self.marking,
            f"For: {self.releasable_to}" if self.releasable_to else "",
            self.origin_words,
            CAUTION,
        )
        return tuple(line for line in told if line)

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the stamp for a machine-readable export."""
        guarded = self.release.guarded
        return {
            "title": self.title,
            "exercise": self.banner,
            "at": iso_s(self.moment.at),
            "as_of": iso_s(self.moment.as_of),
            "view": self.moment.view.value,
            "marking": self.marking,
            "releasable_to": self.releasable_to,
            "release": self.release.audience,
            "withheld": self.release.words(),
            "export_number": self.number,
            "journal_record": None if guarded else self.head_seq,
            "journal_head": None if guarded else self.head_hash,
            "caution": CAUTION,
            "attribution": self.attribution,
        }


def one_line(text: str) -> str:
    """Return a text on one line, with nothing in it that a file or a printer takes for a sign."""
    return visible(" ".join(text.split()))


def checked(picture: Picture, release: Release) -> Picture:
    """Return a picture that was read for a release, or refuse it.

    Raises
    ------
    NotAllowed
        The picture was read by somebody who may see more.
    """
    read_for = None if picture.reading is None else picture.reading.release
    if release.guarded and (read_for is None or read_for.cuts != release.cuts):
        raise NotAllowed(
            f"this picture was not read for the release {release.audience!r} and may not leave so"
        )
    return picture


def marks_for(
    picture: Picture, release: Release, hidden: Collection[str] = ()
) -> Iterator[tuple[str, AnyMark]]:
    """Yield ``(layer key, mark)`` of what is drawn, from below to above."""
    for key, shown in checked(picture, release).layers.items():
        if key not in hidden and isinstance(shown, Shown):
            for mark in shown.marks:
                yield key, mark
