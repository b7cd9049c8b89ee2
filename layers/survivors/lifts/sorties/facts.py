"""What has happened to each lift: the phases of its sortie as they were reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from layers.earth.clock import US_PER_MIN, dtg, to_us
from layers.journal.known import Entry, Known
from layers.survivors.lifts.model import PHASES, Lift, Phase, SortiePhase
from layers.survivors.lifts.sorties.depth import (
    AT_SURFACE_M,
    BELOW_M,
    ON_DECK_MIN,
    Depth,
    against_told,
    gone_untold,
    seen_by_depth,
)

OVER = (Phase.BACK, Phase.GIVEN_UP)
FIX_BY_NET = "transponders.typed_fix"  # of another layer: read, never written


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftFact:
    """The sortie that last went down for a lift.

    Parameters
    ----------
    began_us : mapping of Phase to int
        When each phase reported so far began, UTC microseconds.
    phase : Phase
        The last one.
    walking, stretcher : int or None
        Aboard, as last reported.
    booked : tuple of int, or None
        ``(walking, stretcher)`` that the muster moved out of the refuge with it since it dived.
    unmoved : tuple of int
        ``(walking, stretcher)`` told aboard when its hatch shut, still booked in the refuge, and
        taken to be out of it.
    chamber : str or None
        Where they went under pressure.
    again_us : int or None
        When a mating was last told to have failed: the phase goes on with another one from there.
    battery_kwh : float or None
        As last reported with a phase, and when.
    depths : tuple of Depth
        The vehicle's own depth as told since its phase began.
    by_depth : tuple of Phase
        Phases that nobody told and its depth or its track shows; ``by_track`` those of them that
        more than its depth shows.
    odd : tuple of str
        Phases told out of their order and left out, and where the vehicle's depth speaks against
        what was told or not told, as sentences without a full stop.
    """

    lift: str
    vehicle: str
    began_us: Mapping[Phase, int]
    phase: Phase
    walking: int | None = None
    stretcher: int | None = None
    booked: tuple[int, int] | None = None
    unmoved: tuple[int, int] = (0, 0)
    chamber: str | None = None
    again_us: int | None = None
    battery_kwh: float | None = None
    battery_us: int | None = None
    depths: tuple[Depth, ...] = ()
    by_depth: tuple[Phase, ...] = ()
    by_track: tuple[Phase, ...] = ()
    odd: tuple[str, ...] = ()
    rests_on: tuple[str, ...] = ()

    @property
    def done(self) -> bool:
        """Whether its people are on deck."""
        return self.phase is Phase.BACK

    @property
    def under_way(self) -> bool:
        """Whether the vehicle is down on it."""
        return self.phase not in OVER

    @property
    def goes_on_us(self) -> int:
        """Since when its phase lasts, or the mating that follows on a failed one."""
        return max(self.began_us[self.phase], self.again_us or 0)

    def taken_us(self, phase: Phase) -> int | None:
        """Return how long a phase took, microseconds; None while it is not over.

        None too for a way down of which only the depth told, some time after it began; and for
        one that the track shows to be over, some time after it was.
        """
        began = self.began_us.get(phase)
        if began is None or (phase is Phase.DOWN and phase in self.by_depth):
            return None
        later = [(at, _rank(k), k) for k, at in self.began_us.items() if _rank(k) > _rank(phase)]
        if not later or min(later)[2] in self.by_track:
            return None
        return min(later)[0] - began


def _rank(phase: Phase) -> int:
    return PHASES.index(phase) if phase in PHASES else len(PHASES)


def lift_facts(
    known: Known,
    at: datetime,
    seat_m: float | None = None,
    lifts: Iterable[Lift] = (),
    seen: Mapping[str, Sequence[Depth]] | None = None,
) -> dict[str, LiftFact]:
    """Return by lift what was reported of its last sortie up to a time.

    A dive after a sortie was given up begins the lift again. With the depth of the seat the
    vehicle's own depth counts too; ``lifts`` are then those of the plan, in their order. ``seen``
    is by vehicle where its track has it.
    """
    entries = [e for e in known.entries("survivors.sortie_phase") if e.record.valid_at <= at]
    entries.sort(key=lambda entry: (entry.record.valid_at, entry.record.seq))
    found: dict[str, LiftFact] = {}
    for entry in entries:
        said: SortiePhase = entry.value
        found[said.lift] = _next(found.get(said.lift), said, entry)
    found = {key: _mating_again(fact, known, at) for key, fact in found.items()}
    if seat_m is None:
        return found
    told = _depths(known, at, seen or {})
    found = {key: _by_depth(fact, told.get(fact.vehicle, ()), seat_m)
             for key, fact in found.items()}  # fmt: skip
    for vehicle, depths in told.items():
        if (dived := _dived_untold(vehicle, depths, found, lifts)) is not None:
            found[dived.lift] = _by_depth(dived, depths, seat_m)
    return found


def _depths(
    known: Known, at: datetime, seen: Mapping[str, Sequence[Depth]]
) -> dict[str, tuple[Depth, ...]]:
    """Return by vehicle its depth: by its reports, its fixes by the net, and where it was seen."""
    found = {name: [one for one in all_ if one.at_us <= to_us(at)] for name, all_ in seen.items()}
    placed = {one.record for all_ in found.values() for one in all_}
    entries = [*known.entries("survivors.sortie_report"), *known.entries(FIX_BY_NET)]
    for entry in sorted(entries, key=lambda one: (one.record.valid_at, one.record.seq)):
        said = entry.value
        if said.depth_m is None or entry.disputed or entry.record.valid_at > at:
            continue
        if entry.id in placed:
            continue
        fix = entry.record.kind == FIX_BY_NET
        name, lift = (said.subject, "") if fix else (said.vehicle, said.lift)
        one = Depth(to_us(entry.record.valid_at), said.depth_m, entry.id, lift)
        found.setdefault(name, []).append(one)
    by_time = {name: sorted(all_, key=lambda one: one.at_us) for name, all_ in found.items()}
    return {name: tuple(depths) for name, depths in by_time.items() if depths}


def _dived_untold(
    vehicle: str,
    depths: tuple[Depth, ...],
    facts: Mapping[str, LiftFact],
    lifts: Iterable[Lift],
) -> LiftFact | None:
    """Return the sortie of a vehicle that is below though nobody told that it dived.

    It is down for the lift that its depth was told for, else for the next that waits for it.
    """
    mine = [fact for fact in facts.values() if fact.vehicle == vehicle]
    if any(fact.under_way for fact in mine):
        return None
    last_us = max((max(fact.began_us.values()) for fact in mine), default=None)
    from_us = 0 if last_us is None else last_us + round(ON_DECK_MIN * US_PER_MIN)
    first = next((d for d in depths if d.at_us >= from_us and d.depth_m >= BELOW_M), None)
    waits = [
        lift.key
        for lift in lifts
        if lift.vehicle == vehicle
        and not (lift.withdrawn or lift.held)
        and (lift.key not in facts or facts[lift.key].phase is Phase.GIVEN_UP)
    ]
    if first is None or not waits or depths[-1].depth_m < AT_SURFACE_M:
        return None
    key = first.lift if first.lift in waits else waits[0]
    said = (
        f"{vehicle} is {depths[-1].words()} and nobody told that it dived: it is taken to "
        f"be down for lift {key}; say when it dived and for which"
    )
    return LiftFact(
        lift=key,
        vehicle=vehicle,
        began_us={Phase.DOWN: first.at_us},
        phase=Phase.DOWN,
        by_depth=(Phase.DOWN,),
        odd=(said,),
        rests_on=(first.record,),
    )


def _mating_again(fact: LiftFact, known: Known, at: datetime) -> LiftFact:
    """Return a sortie at its mating with the last one that was told to have failed."""
    if fact.phase is not Phase.MATE:
        return fact
    told = [
        entry
        for entry in known.entries("survivors.sortie_case")
        if entry.value.lift == fact.lift
        and (entry.value.case, entry.value.ended) == ("failed mating", False)
        and fact.began_us[Phase.MATE] <= to_us(entry.record.valid_at) <= to_us(at)
    ]
    if not told:
        return fact
    last = max(told, key=lambda entry: entry.record.valid_at)
    rests_on = (*fact.rests_on, last.id)
    return replace(fact, again_us=to_us(last.record.valid_at), rests_on=rests_on)


def _by_depth(fact: LiftFact, told: tuple[Depth, ...], seat_m: float) -> LiftFact:
    """Return a sortie with the phases that the vehicle's own depth shows, and what speaks against.

    What was told stands before what the depth shows.
    """
    began, phase = dict(fact.began_us), fact.phase
    since = tuple(one for one in told if one.at_us >= began[phase] and one.lift in ("", fact.lift))
    soon_us = began[phase] + round(ON_DECK_MIN * US_PER_MIN)
    if not fact.under_way:  # later than that it may be down for another lift
        since = tuple(one for one in since if one.at_us < soon_us)
    odd = fact.odd
    if against_told(phase, began[phase], since, seat_m):
        odd += (f"Lift {fact.lift}: {phase.value!r} was told, and {fact.vehicle} is "
                f"{since[-1].words()}: which is right?",)  # fmt: skip
    if not fact.under_way:
        return replace(fact, odd=odd)
    shown: list[Phase] = list(fact.by_depth)
    tracked: list[Phase] = []
    while (found := seen_by_depth(phase, since, seat_m)) is not None:
        phase, began[found[0]] = found
        shown.append(phase)
        since = tuple(one for one in since if one.at_us >= found[1])
        tracked += [phase] if since[0].tracked else []
    if gone := gone_untold(phase, since, seat_m):
        odd += (f"Lift {fact.lift}: {fact.vehicle} is {gone.words()} and nobody told that "
                "it left the seat: say who is aboard, or that it was given up",)  # fmt: skip
    if phase is Phase.BACK:
        odd += (f"Lift {fact.lift}: {fact.vehicle} is {since[0].words()}, and nobody told that it "
                "is back: say when, and into which chamber they went",)  # fmt: skip
    return replace(
        fact,
        odd=odd,
        phase=phase,
        began_us=began,
        depths=since,
        by_depth=tuple(shown),
        by_track=tuple(tracked),
        rests_on=(*fact.rests_on, *dict.fromkeys(one.record for one in since)),
    )


def out_of_order(
    said: SortiePhase, at: datetime, known: Known, facts: Mapping[str, LiftFact]
) -> str:
    """Return why a phase told for a time cannot be, or an empty text.

    Phases may be missed, and told late; none can go back to one that is over, and none be the
    end of what has not begun.
    """
    fact = facts.get(said.lift)
    under_way = fact is not None and fact.under_way
    if fact is not None and fact.done:
        return f"lift {said.lift} is back with its people; another lift takes the others"
    if said.phase in OVER and not under_way:
        return f"lift {said.lift} has not gone down"
    if fact is not None and under_way and _rank(said.phase) <= _rank(fact.phase):
        return f"lift {said.lift} is past {said.phase.value!r}: {fact.phase.value!r} was told"
    for entry in known.entries("survivors.sortie_phase"):
        later: SortiePhase = entry.value
        begins_again = later.phase is Phase.DOWN or said.phase is Phase.GIVEN_UP
        after = later.lift == said.lift and entry.record.valid_at > at
        if after and not begins_again and _rank(later.phase) <= _rank(said.phase):
            return f"{later.phase.value!r} was told for {dtg(entry.record.valid_at)}, later"
    return ""


def _next(before: LiftFact | None, said: SortiePhase, entry: Entry) -> LiftFact:
    if said.phase is Phase.DOWN or before is None or before.phase is Phase.GIVEN_UP:
        before = None
    elif _rank(said.phase) <= _rank(before.phase):
        told = f"Lift {said.lift}: {said.phase.value!r} at {dtg(entry.record.valid_at)}"
        odd = f"{told} comes after {before.phase.value!r} and is left out"
        return replace(before, odd=(*before.odd, odd), rests_on=(*before.rests_on, entry.id))
    at_us = to_us(entry.record.valid_at)
    began = {**(before.began_us if before else {})}
    began.setdefault(said.phase, at_us)
    heard = said.battery_kwh is not None
    return LiftFact(
        lift=said.lift,
        vehicle=said.vehicle,
        began_us=began,
        phase=said.phase,
        walking=_last(said.walking_aboard, before.walking if before else None),
        stretcher=_last(said.stretcher_aboard, before.stretcher if before else None),
        chamber=said.chamber or (before.chamber if before else None),
        battery_kwh=said.battery_kwh if heard else (before.battery_kwh if before else None),
        battery_us=at_us if heard else (before.battery_us if before else None),
        odd=before.odd if before else (),
        rests_on=(*(before.rests_on if before else ()), entry.id),
    )


def _last(now: int | None, before: int | None) -> int | None:
    return before if now is None else now
