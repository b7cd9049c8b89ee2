"""What the watch keeps at its desk: offices, circuits, promises, help asked for, what was told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from layers.contract import Moment
from layers.journal.known import Entry, Known


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A request for help with its last answer."""

    asked: Entry
    answered: Entry | None
    past: bool  # nobody has said yes, and the hour at which it helps is over

    @property
    def open(self) -> bool:
        """Whether an answer is still waited for."""
        return self.answered is None or self.answered.value.answer == "not yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class TellAgain:
    """People outside who were told what no longer holds."""

    told: Entry
    now_reads: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The watch's own lists at a moment, each with the newest word."""

    in_charge: tuple[Entry, ...]
    circuits: tuple[Entry, ...]
    promised: tuple[Entry, ...]
    asked: tuple[Asked, ...]
    told: tuple[Entry, ...]

    def office(self, *words: str) -> Entry | None:
        """Return who holds the first office whose name holds one of the words."""
        for word in words:
            for entry in self.in_charge:
                if word.casefold() in entry.value.office.casefold():
                    return entry
        return None

    def tell_again(self, answers: Mapping[str, str]) -> tuple[TellAgain, ...]:
        """Return who must be told again, by how each answer reads now.

        Parameters
        ----------
        answers : mapping of str to str
            How each answer of the plot reads, by its name.
        """
        last: dict[tuple[str, str], Entry] = {}
        for entry in self.told:
            if entry.value.answer:
                last[(entry.value.whom.casefold(), entry.value.answer)] = entry
        return tuple(
            TellAgain(told=entry, now_reads=answers[entry.value.answer])
            for entry in last.values()
            if answers.get(entry.value.answer, entry.value.answer_said) != entry.value.answer_said
        )


def desk(known: Known, moment: Moment) -> Desk:
    """Return the watch's lists as they hold at a moment."""
    answered: dict[str, Entry] = {}
    for entry in _standing(known, "watch.help_answered", moment.at):
        answered[entry.value.target] = entry
    circuits = _newest(known, "watch.circuit", moment.at, "who", "how")
    return Desk(
        in_charge=_newest(known, "watch.in_charge", moment.at, "office"),
        circuits=tuple(entry for entry in circuits if entry.value.in_use),
        promised=_standing(known, "watch.promised", moment.at),
        asked=tuple(
            _asked(entry, answered.get(entry.id), moment.at)
            for entry in _standing(known, "watch.help_asked", moment.at)
        ),
        told=_standing(known, "watch.told_outside", moment.at),
    )


def _standing(known: Known, kind: str, at: datetime) -> tuple[Entry, ...]:
    entries = [entry for entry in known.entries(kind) if entry.record.valid_at <= at]
    return tuple(sorted(entries, key=lambda entry: (entry.record.valid_at, entry.record.seq)))


def _newest(known: Known, kind: str, at: datetime, *fields: str) -> tuple[Entry, ...]:
    """Return the newest record for each value of these fields, in order of first mention."""
    found: dict[tuple[str, ...], Entry] = {}
    for entry in _standing(known, kind, at):
        found[tuple(getattr(entry.value, field).casefold() for field in fields)] = entry
    return tuple(found.values())


def _asked(entry: Entry, answer: Entry | None, at: datetime) -> Asked:
    until = entry.value.helps_until
    said_yes = answer is not None and answer.value.answer in ("yes", "in part")
    return Asked(
        asked=entry, answered=answer, past=until is not None and until < at and not said_yes
    )
