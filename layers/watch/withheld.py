"""What an audience may see, as the watch last said; what it was told exactly, and who looked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from pydantic import AwareDatetime, Field

from layers.contract import Moment
from layers.earth.clock import clock_words
from layers.earth.errors import InputError
from layers.journal.kinds import Payload
from layers.journal.known import Entry, Known
from layers.journal.releases.rules import OUTSIDE, WATCH, Release
from layers.watch.model import Short

NAMES = ("watch", "wall", "readers", "outside")


class Look(Payload):
    """Somebody who is not of the watch looked at the plot through a release: begun, or over.

    ``browser`` tells two of one name apart; ``upto`` is the journal's last record at the record's
    own time: later ones can not have been shown. ``lookers`` are told together.
    """

    who: Short
    browser: str = Field(default="", max_length=8)
    through: Literal["readers", "wall"]
    withheld: tuple[Short, ...] = ()
    began: AwareDatetime
    ended: AwareDatetime | None = None
    upto: int = Field(ge=0)
    lookers: int = Field(default=1, ge=1)


def release_for(known: Known, name: str, to: str = "") -> Release:
    """Return the release of an audience by the watch's newest word.

    The watch sees everything; ``outside`` has place, medical detail and names withheld always.
    The newest word counts also for who looks back in time.

    Parameters
    ----------
    known : Known
        The whole journal to its end.
    name : str
        One of `NAMES`.
    to : str
        To whom it goes, in words; the name if left out.

    Raises
    ------
    InputError
        There is no release of that name.
    """
    if name == "watch":
        return Release(names=True, to=to or WATCH.to, audience="watch")
    if name == "outside":
        return Release(medical=False, exact_position=False, to=to or OUTSIDE.to, audience=name)
    if name not in NAMES:
        raise InputError(f"{name!r} is no release", where="--release", accepted=", ".join(NAMES))
    said = [e.value for e in known.entries("watch.withholding") if e.value.audience == name]
    if not said:
        return Release(to=to or name, audience=name)
    last = said[-1]
    return Release(
        names=last.names,
        medical=last.medical,
        exact_position=last.exact_position,
        to=to or name,
        audience=name,
    )


def told_answers(known: Known, moment: Moment) -> dict[str, Entry]:
    """Return what the watch has told by a moment, the last by answer.

    Who reads a release finds those for its audience here, and no other.
    """
    found: dict[str, Entry] = {}
    for entry in known.entries("watch.told") if "watch.told" in known.kinds else ():
        if entry.record.valid_at <= moment.at and not entry.disputed:
            found[entry.value.answer] = entry
    return found


def told_words(entry: Entry, moment: Moment) -> str:
    """Return what was told with its time: ``60 h to spare, told at 0635Z``."""
    return f"{entry.value.value}, told at {clock_words(entry.value.at, moment.at)}"


def exports_before(known: Known, release: Release) -> int:
    """Return how many exports were made with the same things withheld: they count by themselves."""
    words = kept_back(release)
    made: Iterable[Entry] = known.entries("watch.export")
    return sum(tuple(entry.value.withheld) == words for entry in made)


def kept_back(release: Release) -> tuple[str, ...]:
    """Return what is withheld, as the record of an export says it."""
    found = () if release.exact_position else ("exact position of the DISSUB",)
    return found if release.medical else (*found, "medical detail")
