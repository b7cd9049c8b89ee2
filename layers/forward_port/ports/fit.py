"""Does it fit: each piece against each thing that must carry, lift, pass or hold it.

Every answer says *fits*, *does not fit* or *not known*, with the limit and the figure. A limit
that nobody has given is not known: never yes, never no.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from layers.forward_port import model
from layers.forward_port.legs.off_tracking import swept_width_m

ROAD_CLEARANCE_M = 0.10  # under a bridge; our own, common practice, no source


class Verdict(StrEnum):
    """The three answers."""

    FITS = "fits"
    DOES_NOT = "does not fit"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """One answer.

    Parameters
    ----------
    subject, against : str
        ``"launch frame"``, ``"crane Quay 3 of Port Tressick"``.
    what : str
        ``"capacity at 18 m outreach"``.
    need, limit : float or None
        What is needed and what there is, in ``unit``; None when not known.
    at_least : bool
        The limit must be at least the need (otherwise at most: a width, a height).
    note : str
        What would settle it, or why it is so.
    """

    subject: str
    against: str
    what: str
    verdict: Verdict
    need: float | None
    limit: float | None
    unit: str
    note: str = ""
    at_least: bool = True

    def words(self) -> str:
        """Return the answer as one clause."""
        if self.limit is None:
            return f"{self.subject}, {self.against}: {self.what} not known{_because(self.note)}"
        if self.verdict is Verdict.NOT_KNOWN:
            return (
                f"{self.subject}, {self.against}: {self.what} {self.limit:g} {self.unit}, needs "
                f"{_figure(self.need)} {self.unit}, not settled{_because(self.note)}"
            )
        return (
            f"{self.subject} {self.verdict} {self.against}: {self.what} {self.limit:g} "
            f"{self.unit}, needs {_figure(self.need)} {self.unit}{_because(self.note)}"
        )


def _because(note: str) -> str:
    return f" ({note})" if note else ""


def _figure(value: float | None) -> str:
    return "an unknown" if value is None else f"{value:.4g}"


def compared(
    subject: str,
    against: str,
    what: str,
    need: float | None,
    limit: float | None,
    unit: str,
    note: str = "",
    basis: str = "",
) -> Fit:
    """Return whether a need is within a limit; not known when either is missing.

    A limit that somebody only assumed settles nothing when it would fit.
    """
    verdict = (
        Verdict.NOT_KNOWN
        if need is None or limit is None
        else Verdict.FITS
        if need <= limit + 1e-9
        else Verdict.DOES_NOT
    )
    if basis == "assumed" and verdict is Verdict.FITS:
        verdict = Verdict.NOT_KNOWN
    if basis in ("surveyed", "assumed") and limit is not None:
        note = f"{note}, {basis}" if note else basis
    return Fit(
        subject=subject,
        against=against,
        what=what,
        verdict=verdict,
        need=need,
        limit=limit,
        unit=unit,
        note=note,
    )


def settled(answers: Sequence[Fit]) -> Fit:
    """Return one answer from those by different reports: where they disagree, not known."""
    first = answers[0]
    if len({answer.verdict for answer in answers}) == 1:
        return min(answers, key=lambda a: a.limit if a.limit is not None else float("inf"))
    known = [f"{a.limit:g} {a.unit}" for a in answers if a.limit is not None]
    return Fit(
        subject=first.subject,
        against=first.against,
        what=first.what,
        verdict=Verdict.NOT_KNOWN,
        need=first.need,
        limit=None,
        unit=first.unit,
        note=f"reports disagree: {', '.join(known)}; adopt one",
    )


def road(piece: model.Piece, trailer: model.Trailer, leg: model.Road) -> tuple[Fit, ...]:
    """Return whether a piece on its trailer passes a road leg at its worst places."""
    high = trailer.bed_height_m + piece.height_m + ROAD_CLEARANCE_M
    gross = trailer.mass_t + piece.mass_t
    wide = max(piece.width_m, trailer.width_m)
    checks = [
        ("overhead with the bed's height and 0.1 m clear", high, leg.overhead_m, "m"),
        ("width", wide, leg.width_m, "m"),
        ("bridge load", gross, leg.bridge_t, "t"),
    ]
    found = [
        compared(piece.name, f"road {leg.name}", what, need, limit, unit, basis=leg.basis)
        for what, need, limit, unit in checks
    ]
    return (*found, _corner(piece, trailer, leg))


def _corner(piece: model.Piece, trailer: model.Trailer, leg: model.Road) -> Fit:
    against, what = f"road {leg.name}", "width in the tightest corner"
    if leg.corner_radius_m is None:
        return compared(
            piece.name, against, what, None, None, "m", "radius of the tightest corner not known"
        )
    need = swept_width_m(
        leg.corner_radius_m,
        trailer.width_m,
        max(piece.width_m, trailer.width_m),
        trailer.tractor_wheelbase_m,
        trailer.trailer_wheelbase_m,
    )
    if need is None:
        return Fit(
            subject=piece.name,
            against=against,
            what=what,
            verdict=Verdict.DOES_NOT,
            need=None,
            limit=leg.corner_width_m,
            unit="m",
            note=f"the trailer cannot turn on a radius of {leg.corner_radius_m:g} m",
        )
    return compared(piece.name, against, what, need, leg.corner_width_m, "m")


def not_entered(subject: str, against: str, what: str, note: str) -> Fit:
    """Return that something an option needs was never entered: not known, and what to ask."""
    return Fit(
        subject=subject,
        against=against,
        what=what,
        verdict=Verdict.NOT_KNOWN,
        need=None,
        limit=None,
        unit="",
        note=note,
    )


ARRIVAL_NOT_KNOWN = "arrival not known"


def arrival_withheld(found: Fit) -> Fit:
    """Return an answer that waits for an arrival which a release does not tell."""
    said = "arrival withheld here"
    return replace(found, note=said) if found.note == ARRIVAL_NOT_KNOWN else found
