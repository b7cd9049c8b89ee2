"""What the survivors layer knows at a moment, put together for screens and exports."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.contract import Moment, Others
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.values import DatumValue, TracksValue
from layers.journal.known import Known
from layers.journal.releases.released import is_withheld
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.air.formulas import AirOutlook, air_outlook
from layers.survivors.air.stores import untold_stores
from layers.survivors.lifts.margin import DRAWS, AirGaps, outlook
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.run.ground import PressureAt
from layers.survivors.muster.boat import water_of
from layers.survivors.muster.hospital import HospitalOutlook, hospital_outlook
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState, muster
from layers.survivors.muster.on_board import in_order
from layers.survivors.muster.persons import persons_of
from layers.survivors.muster.ready import SurfaceReady, surface_ready
from layers.survivors.muster.surface import WaterGroup, water_groups

FEWEST_DRAWS = 2_000  # fewer would tell the tenths of a span roughly; common practice, no source
FIRST_DRAWS = 500  # of a first look: within a second of the record
DECISION_DRAWS = 2_000  # of the same draws: enough to rank, and the watch must not wait


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivorsResult:
    """The people: who is where, in the water, and on the way to a hospital.

    ``datum`` is where the DISSUB most probably is, for the marks; None when not known.
    """

    at: datetime
    muster: Muster
    refuges: tuple[RefugePeople, ...]
    surface: tuple[WaterGroup, ...]
    hospital: HospitalOutlook
    ready: SurfaceReady
    datum: DatumValue | None
    rests_on: tuple[str, ...]
    guarded: bool = False  # a release that withholds more than names: nothing of the boat's inside

    @property
    def pob(self) -> int:
        """Persons on board."""
        return self.muster.pob

    @property
    def by_place(self) -> dict[str, int]:
        """Persons by place; adds up to POB."""
        return self.muster.by_place


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginResult:
    """How long they can last, when the last will be out, and which decision gains most.

    ``rough``: from few draws, without the decisions, until the whole is worked out.
    """

    at: datetime
    refuges: tuple[RefugePeople, ...]
    air: AirOutlook
    outlook: Outlook
    datum: DatumValue | None
    stage: tuple[str, datetime] | None  # of alert, that the first out is counted from
    rests_on: tuple[str, ...]
    rough: bool = False


def nobody_left_adrift(who: Muster) -> datetime | None:
    """Return since when the muster has nobody in the water any more, None when it has or had none.

    Who was in the water was then picked up, found dead, or named as missing.
    """
    places = [place for place in who.places if place.sort is PlaceSort.SURFACE]
    changed = [place.changed_at for place in places if place.changed_at is not None]
    return max(changed) if changed and not any(place.persons for place in places) else None


def compute(known: Known, others: Others, moment: Moment) -> SurvivorsResult:
    """Return what is known of the people at a moment; at once, without the air's many draws.

    Raises
    ------
    InputError
        Nothing says how many were on board.
    """
    who = muster(known, moment)
    given = others.get("datum")
    datum = given if isinstance(given, DatumValue) else None
    tracks = others.get("tracks")
    ships = tracks.ships if isinstance(tracks, TracksValue) else ()
    brought_in = nobody_left_adrift(who)
    surface = tuple(
        group
        for group in water_groups(known, moment.at, datum, ships)
        if brought_in is None or group.since > brought_in
    )
    hospital = hospital_outlook(known, moment.at, who, datum)
    in_water = tuple(record for group in surface for record in group.rests_on)
    ready = surface_ready(known, moment.at, who)
    used = (who.rests_on, in_water, hospital.rests_on, ready.rests_on)
    return SurvivorsResult(
        at=moment.at,
        muster=who,
        refuges=refuge_people(known, moment, who, None),
        surface=surface,
        hospital=hospital,
        ready=ready,
        datum=datum,
        rests_on=tuple(dict.fromkeys(record for records in used for record in records)),
        guarded=is_withheld(known, "survivors.seat"),
    )


def first_look(known: Known, others: Others, moment: Moment) -> MarginResult:
    """Return a rough margin, within a second: few draws, no decisions compared.

    Raises
    ------
    InputError
        Nothing says how many were on board.
    """
    found = compute_margin(known, others, moment, FIRST_DRAWS, decision_draws=0)
    return replace(found, rough=True)


def draws() -> int:
    """Return of how many futures the margin is made, as `MUSTERPLOT_DRAWS` or the program says.

    Raises
    ------
    InputError
        What is told is no number of futures.
    """
    told = os.environ.get("MUSTERPLOT_DRAWS", "")
    if not told:
        return DRAWS
    if not told.isdecimal() or not FEWEST_DRAWS <= int(told) <= DRAWS:
        raise InputError(
            f"{told!r} is no number of futures",
            where="MUSTERPLOT_DRAWS",
            accepted=f"{FEWEST_DRAWS} to {DRAWS}",
        )
    return int(told)


def compute_margin(
    known: Known,
    others: Others,
    moment: Moment,
    n_draws: int | None = None,
    decision_draws: int = DECISION_DRAWS,
) -> MarginResult:
    """Return the air, the lifts and the margin at a moment; it takes seconds.

    Parameters
    ----------
    n_draws : int, optional
        Of everything uncertain together; `draws` of them where it is not told.
    decision_draws : int
        The first so many compare the decisions; 0 compares none.

    Raises
    ------
    InputError
        Nothing says how many were on board.
    """
    n_draws = n_draws or draws()
    who = muster(known, moment)
    air = air_outlook(known, moment, n_draws=n_draws)
    refuges = refuge_people(known, moment, who, air)
    gaps = air_gaps(refuges, air, who)
    ahead = outlook(
        known,
        others,
        moment,
        refuges,
        air.model,
        gaps=gaps,
        n_draws=n_draws,
        decision_draws=decision_draws,
    )
    given = others.get("datum")
    return MarginResult(
        at=moment.at,
        refuges=refuges,
        air=air,
        outlook=ahead,
        datum=given if isinstance(given, DatumValue) else None,
        stage=_stage(known, moment),
        rests_on=tuple(dict.fromkeys((*who.rests_on, *air.rests_on, *ahead.rests_on))),
    )


def _stage(known: Known, moment: Moment) -> tuple[str, datetime] | None:
    """Return the stage that times are counted from: SUBMISS, else the first declared."""
    told = [
        (entry.value.stage, entry.record.valid_at)
        for entry in in_order(known.entries("watch.stage"), moment.at)
        if entry.value.stage != "ended"
    ]
    return next((one for one in told if one[0] == "SUBMISS"), told[0] if told else None)


def air_gaps(refuges: tuple[RefugePeople, ...], air: AirOutlook, who: Muster) -> AirGaps:
    """Return what is not known of the air of each refuge where people wait, and whom to ask.

    A refuge that nobody has measured, or whose volume is not known, has no time at all; one of
    whose levels some are not worked out has at most that of the others.
    """
    missing: dict[str, tuple[str, ...]] = {}
    unread = set()
    for place in refuges:
        if not place.persons:
            continue
        found = air.of(place.refuge)
        open_ends = [one for one in air.unknown if one.refuge == place.refuge]
        asked = tuple(dict.fromkeys(m for one in open_ends for m in one.missing))
        told = next((o.otherwise for o in air.model.refuges if o.refuge == place.refuge), None)
        if found is None or not found.levels:
            unread.add(place.refuge)
            none = "no level of the air is entered: ask the medical officer, with its source"
            air_of = f"the {place.refuge} refuge's air"
            lasts = air_of if found is None else f"how long {air_of} lasts"  # it was read
            why = f"{lasts} is not known: ask for {', '.join(asked)}"
            missing[place.refuge] = (why if asked else none,)
        elif asked or (told is not None and told.sooner):
            missing[place.refuge] = (*asked, *((told.sooner,) if told and told.sooner else ()))
        if told is not None and told.both:
            unread.add(place.refuge)
            missing[place.refuge] = (*missing.get(place.refuge, ()), told.both)
    return AirGaps(
        missing=missing,
        unread=frozenset(unread),
        not_heard=who.not_accounted,
        not_heard_said=persons_of(who).figure("not_heard_of"),
        not_there={
            one.refuge: (one.otherwise.short, one.otherwise.fewer)
            for one in air.model.refuges
            if one.otherwise.short
        },
        pressure_at=_pressure_ahead(air),
        unstored={
            one.refuge: untold_stores(one.refuge, one.stocks, read, one.otherwise.fewer)
            for one, read in zip(air.model.refuges, air.model.read, strict=True)
        },
        curves=lambda n_draws: air.model.curves(n_draws=n_draws, pods=False, leaving=()),
    )


def _pressure_ahead(air: AirOutlook) -> PressureAt:
    """Return how the pressure in a refuge is expected to go on: the median of the forecast."""

    def at(refuge: str, hours: float) -> float | None:
        one = air.of(refuge)
        if one is None:
            return None
        start = to_us(one.curve.at[0])
        after_h = [(to_us(t) - start) / 3.6e9 for t in one.curve.at]
        return float(np.interp(hours, after_h, one.curve.pressure_bar[1]))

    return at


def refuge_people(
    known: Known, moment: Moment, who: Muster, air: AirOutlook | None
) -> tuple[RefugePeople, ...]:
    """Return who waits in each refuge, its pressure by the air model or as told, and its seat."""
    seats = {
        entry.value.refuge: entry.value.state
        for entry in in_order(known.entries("survivors.seat"), moment.at)
    }
    water = water_of(known, moment.at)
    return tuple(
        RefugePeople(
            refuge=place.name,
            persons=place.alive,
            stretcher=place.of("stretcher"),
            pressure_bar_abs=_pressure(place, air),
            seat=seats.get(place.name, "not known"),
            fitness_unknown=place.of("unknown"),
            water=water[place.name].value.state if place.name in water else "not known",
        )
        for place in who.places
        if place.sort is PlaceSort.REFUGE
    )


def _pressure(place: PlaceState, air: AirOutlook | None) -> float | None:
    modelled = None if air is None else air.of(place.name)
    if modelled is not None:
        return modelled.pressure_bar.p50
    told = [lot.exposure_bar_abs for lot in place.lots if lot.exposure_bar_abs is not None]
    return max(told, default=None)
