"""People in the water and the way to a hospital."""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st

from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools import need
from dashboard.tools.forms import record_form
from dashboard.view import Seen
from layers.contract import View
from layers.earth.clock import clock_words, duration_words, relative_words
from layers.earth.said.written import distance_words
from layers.earth.table import Cell, Table
from layers.survivors.decisions.report import escape_table
from layers.survivors.muster.cold_water import NEVER_A_REASON, SOURCE
from layers.survivors.muster.hospital import HospitalOutlook
from layers.survivors.muster.people_report import flight_table, hospital_table
from layers.survivors.muster.ready import WORDS, SurfaceReady
from layers.survivors.muster.surface import WaterGroup

OLD_PLACE = timedelta(hours=1)  # our choice: a ship is somewhere else by then
TYPED = (
    "survivors.ready",
    "survivors.in_water",
    "survivors.craft",
    "survivors.hospital",
    "survivors.flight_limit",
)


def show_water(seen: Seen) -> None:
    """Show who is in the water, where, and who can be there; a survival time stops no search."""
    found = seen.picture.shown("survivors")
    if found is None:
        return
    if found.result.guarded:
        panel(words("Who is in the water, and where, is withheld here; the counts are beside it."))
        return
    groups: tuple[WaterGroup, ...] = found.result.surface
    if not groups:
        need.said(seen, "Nobody is recorded as in the water.", "water", "survivors.in_water")
        return
    for group in groups:
        panel(_group(group, seen.moment.at))
        if group.reach:
            st.markdown("**Who can be there**")
            panel(table(_reach(group, seen.moment.at), ("Craft", "nmi", "There", "Places")))
    reckoned = any(group.cold.minutes is not None for group in groups)
    how = f" Predicted times: {SOURCE}; mean of a few people, some live far longer."
    caution(f"{NEVER_A_REASON}{how if reckoned else ''}")


def _group(group: WaterGroup, now: datetime) -> str:
    in_water = duration_words(timedelta(hours=group.in_water_h))
    parts = [
        line(words(group.persons, "mp-big mp-people"), f"<b>{words('in the water')}</b>"),
        line(words(in_water, "mp-big"), words(f"since about {clock_words(group.since, now)}")),
    ]
    if group.cold.minutes is None:
        said = f"no time is worked out: {group.cold.why_not}"
    else:
        hours = group.cold.minutes / 60.0
        said = f"{group.clothing}; predicted to 30 °C core temperature {hours:.1f} h."
    parts.append(line(words(said, "mp-quiet")))
    if group.position is None:
        parts.append(line(words("no drift is worked out for this group")))
    else:
        within = f"95 % within {distance_words(group.radius_95_m or 0.0)}"
        parts.append(line(f"<b>{words(group.position)}</b>", words("reckoned now", "mp-quiet")))
        parts.append(line(words(within, "mp-quiet")))
    return "".join(parts)


def _reach(group: WaterGroup, now: datetime) -> list[tuple[str, str, str, str]]:
    rows = []
    for one in group.reach:
        from_what = "fix" if one.tracked else "told"
        age = relative_words(one.fixed_at, now)
        there = clock_words(now + timedelta(hours=one.hours), now) if one.within_radius else "no"
        old = "? " if now - one.fixed_at > OLD_PLACE else ""
        rows.append(
            (
                f"{one.craft} ({from_what} {clock_words(one.fixed_at, now)}, {age})",
                f"{old}{one.distance_nmi:.1f}",
                f"{old}{there}",
                str(one.seats + one.stretchers),
            )
        )
    return rows


def show_ready(seen: Seen) -> None:
    """Show what stands ready at the surface now against those who may come up."""
    found = seen.picture.shown("survivors")
    if found is None or found.result.guarded or not found.result.ready.may_come_up:
        return
    ready: SurfaceReady = found.result.ready
    # what stands ready is as told; at a time ahead the plan has moved whom it is held against
    ahead = seen.moment.view is View.EXPECTED
    st.markdown("**If they come up, nobody lifted**" if ahead else "**If they come up now**")
    rows = []
    for thing in ready.things:
        age = "not told" if thing.told_at is None else relative_words(thing.told_at, seen.moment.at)
        count = "–" if thing.count is None else str(thing.count)
        rows.append((WORDS[thing.what], count, f"{age}{', old' if thing.old else ''}"))
    some = f", {ready.not_heard_said} of them not heard of" if ready.not_heard_of else ""
    head = line(words(ready.may_come_up, "mp-big"), words(f"may come up{some}"))
    panel(head + table(rows, ("Ready", "", "Told"), figures=(1,)))


def show_escape(seen: Seen) -> None:
    """Show what follows from escaping and from waiting."""
    margin = seen.picture.shown("margin")
    if seen.release.guarded:
        panel(words("Withheld here."))
        return
    if margin is None or margin.result.outlook.decisions is None:
        panel(words("Not worked out: it needs a plan of lifts and the air of the refuges."))
        return
    escape = escape_table(margin.result.outlook)
    panel(table([[_said(c) for c in row] for row in escape.rows], escape.heads))


def show_hospital(seen: Seen) -> None:
    """Show the patients, the flights and the places."""
    found = seen.picture.shown("survivors")
    if found is not None:
        _hospital(seen, found.result.hospital, guarded=found.result.guarded)


def _hospital(seen: Seen, hospital: HospitalOutlook, *, guarded: bool) -> None:
    for said in hospital.said:
        panel(words(f"! {said}"))
    if not hospital.hospitals:
        need.said(seen, "No hospital is recorded; add one with the places it has free.",
                  "hospital", "survivors.hospital")  # fmt: skip
        return
    if guarded:
        _shown(hospital_table(hospital, flights=False))
        return
    if hospital.flights:
        _shown(flight_table(hospital))
    else:
        panel(words("Nobody on deck, picked up or in a chamber is injured or on a stretcher."))
    if hospital.not_placed:
        panel(words(f"{hospital.not_placed} have no place in any hospital recorded", "mp-late"))
    _shown(hospital_table(hospital))
    limit = hospital.limit
    told = (
        f"After more than {limit.above_bar_abs:g} bar absolute: not above {limit.height_m:g} m "
        f"for {limit.after_pressure_h:g} h; {limit.source}, entered by {limit.entered_by}. "
        if limit
        else ""
    )
    caution(
        f"{told}A first order, sickest first to the nearest with room; the medical officer "
        "decides. Places are as told, not held."
    )


def _shown(found: Table) -> None:
    panel(table([[_said(cell) for cell in row] for row in found.rows], found.heads))


def _said(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return "" if cell is None else cell


def show_forms(seen: Seen) -> None:
    """Show the forms for people in the water, craft, hospitals and what stands ready."""
    record_form.show_one_of(seen, TYPED, chooser="survivors.surface.kind", key="survivors.surface")
