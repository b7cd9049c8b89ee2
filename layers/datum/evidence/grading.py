"""What grading and dispute do to a report: the chance that it is simply wrong."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from layers.datum.model import WrongChances
from layers.earth.table import Table
from layers.journal.known import Entry, Known

LEAST, MOST = 0.005, 0.9
DISPUTED = 0.5  # neither believed nor left out: with it and without it count alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Grading:
    """The table in force, and who set it."""

    chances: WrongChances
    source: str

    def chance_wrong(self, entry: Entry) -> tuple[float, str]:
        """Return the chance that a report is wrong, and why it is not the one it came with.

        Reliability of the source gives the chance; credibility of the report multiplies it. What
        cannot be judged (F, 6) leaves the report's own.
        """
        chance, why = float(getattr(entry.value, "chance_wrong", 0.0)), ""
        grade = f"{entry.reliability or '–'}{entry.credibility or '–'}"
        if entry.reliability not in (None, "F"):
            chance = getattr(self.chances, f"reliability_{str(entry.reliability).lower()}")
            why = f"graded {grade}"
        if entry.credibility not in (None, 6):
            chance *= getattr(self.chances, f"credibility_{entry.credibility}")
            why = f"graded {grade}"
        if entry.disputed:
            chance = max(chance, DISPUTED)
            why = f"{why}{', ' if why else ''}disputed: counts half as right, half as wrong"
        return min(max(chance, LEAST), MOST), why


def grading_of(known: Known, at: datetime) -> Grading:
    """Return the table the watch set last, else the one the program begins with."""
    entries = [e for e in known.entries("datum.wrong_chances") if e.record.valid_at <= at]
    if entries:
        return Grading(chances=entries[-1].value, source=entries[-1].record.source)
    return Grading(chances=WrongChances(), source="common practice, no source")


def grading_table(grading: Grading) -> Table:
    """Return the table as it stands on the screen."""
    letters = [
        (f"source {letter}", f"{getattr(grading.chances, f'reliability_{letter.lower()}'):.0%}")
        for letter in "ABCDE"
    ]
    digits = [
        (f"report {digit}", f"times {getattr(grading.chances, f'credibility_{digit}'):g}")
        for digit in range(1, 6)
    ]
    rest = [
        ("source F, report 6", "the report's own chance"),
        ("disputed", f"{DISPUTED:.0%} at least"),
        ("table set by", grading.source),
    ]
    return Table(heads=("Grade", "Chance that it is wrong"), rows=tuple(letters + digits + rest))
