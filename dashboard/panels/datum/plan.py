"""The planned legs: look at them, save them, say that they were sent, and that nothing was seen."""

from __future__ import annotations

from typing import Any

import streamlit as st

from dashboard.cache import opened
from dashboard.panels.datum import change, from_track, width
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.forms import record_form, refusal
from dashboard.tools.send import draft_now, pressed
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.datum.result import DatumResult, Planned, SearchPlan
from layers.datum.search.detection import hours_to_cover
from layers.datum.search.model import SearchSent
from layers.datum.search.patterns import Pattern, keep_off_land
from layers.datum.search.plan_files import FORMATS, title
from layers.datum.search.ready import told_over
from layers.earth.clock import clock_words, dtg, duration_words, iso, parse_time
from layers.earth.errors import InputError
from layers.earth.uncertain import chance_words
from layers.earth.units import M_PER_NMI
from layers.journal.known import Entry

SWEPT_AT_KN, APART_M = 1.5, 0.25 * M_PER_NMI  # a vehicle's search; common practice, no source


def show(seen: Seen) -> None:
    """Show the legs of each searcher, what was sent, and the form of a searcher."""
    result: DatumResult | None = seen.picture.result("datum")
    if result is None:
        return
    from_track.show(seen)
    items = {
        f"{item.searcher.name} for {plan.object}, {clock_words(item.begins, seen.moment.at)}": (
            plan,
            item,
        )
        for plan in result.plans
        for item in plan.planned
    }
    if items:
        name = st.selectbox("Legs of", list(items), key="datum.plan.item")
        plan, item = items[name]
        _about(result, plan.object)
        _legs(seen, plan, change.shown(result, plan, item))
    elif not result.is_fix:
        _localisation(result)
    _sent(seen)
    if seen.writable:
        st.markdown("**Who can search, from where, from when, for how long**")
        record_form.show(seen, KINDS["datum.searcher"], key="datum.plan.searcher")
    width.show()


def _about(result: DatumResult, name: str) -> None:
    """Show how well the place of what this plan is for is known: hers, or that object's own."""
    floating = next((one for one in result.adrift if one.name == name), None)
    if floating is not None:
        across = 2.0 * floating.radius_95_m / M_PER_NMI
        said = f"{name}, {floating.state}: the circle that holds 95 % is {across:.2f} nmi across."
        panel(line(words(said)))
    elif not result.is_fix:
        _localisation(result)


def _localisation(result: DatumResult) -> None:
    across = 2.0 * result.circle_radius_m
    hours = hours_to_cover(across, APART_M, SWEPT_AT_KN)
    straight = 3.14159 * (across / 2.0) ** 2 / APART_M / (SWEPT_AT_KN * M_PER_NMI)
    why = f" ({result.not_localised_for})" if result.not_localised_for else ""
    panel(
        line(
            words(
                f"Localisation of the DISSUB: {'yes' if result.localised else 'no'}{why}. The "
                f"circle that holds 95 % is {across / M_PER_NMI:.2f} nmi across, the limit "
                f"{result.limit_across_nmi:g} nmi. Searching it at {SWEPT_AT_KN:g} kn with tracks "
                f"{APART_M / M_PER_NMI:g} nmi apart takes {hours:.1f} h, of which "
                f"{max(hours - straight, 0.0):.1f} h between the tracks (1 to 2 kn is common "
                "practice, no source)."
            )
        )
    )


def _legs(seen: Seen, plan: SearchPlan, item: Planned) -> None:
    pattern, now = item.pattern, seen.moment.at
    try:
        warning = keep_off_land(pattern, opened.land())
    except InputError as reason:
        panel(words(str(reason)))
        return
    if warning:
        panel(words(warning))
    if item.ends > item.must_leave:
        late = duration_words(item.ends - item.must_leave)
        panel(words(f"These legs end {late} after it must leave: they are not sent. "
                    "A wider spacing or another pattern fits."))  # fmt: skip
        return
    panel(
        line(
            words(
                f"{pattern.title} for {pattern.searcher}: {pattern.track_m / M_PER_NMI:.1f} nmi of "
                f"search, {clock_words(item.begins, now)} to {clock_words(item.ends, now)}; finds "
                f"{plan.object} with {chance_words(item.pos)} if it is there. Leaves for it "
                f"{clock_words(item.leaves_for_it, now)}, must leave "
                f"{clock_words(item.must_leave, now)}. Commence search at "
                f"{pattern.turns[0].position}.{_height(item)}"
            )
        )
    )
    panel(table([(t.name, str(t.position), dtg(t.at)) for t in pattern.turns[:60]],
                ("Corner", "Position", "Time")))  # fmt: skip
    _downloads(seen, pattern)
    if seen.writable and st.button("Record these legs as sent", key="datum.plan.sent"):
        _record(seen, "datum.search_sent", _sent_payload(plan, item), "datum.plan.sent")
    refusal.show("datum.plan.sent")


def _height(item: Planned) -> str:
    """Return the height an aircraft is kept apart by, in words."""
    if item.height_m is None:
        return ""
    return (
        f" At {item.height_m:.0f} m ({item.height_m / 0.3048:.0f} ft), 500 ft from others there "
        "meanwhile (common practice, no source): the commanders agree what is flown."
    )


def _sent_payload(plan: SearchPlan, item: Planned) -> dict[str, Any]:
    return {
        "searcher": item.searcher.name,
        "object": plan.object,
        "pattern": item.pattern.title,
        "waypoints": [
            {
                "latitude_deg": round(turn.position.latitude_deg, 6),
                "longitude_deg": round(turn.position.longitude_deg, 6),
                "at": iso(turn.at),
            }
            for turn in item.pattern.turns
        ],
        "sweep_width_m": item.searcher.sweep_width_m,
        "spacing_m": item.spacing_m,
        "speed_kn": item.pattern.speed_kn,
        "pos": item.pos,
        "searching": list(item.pattern.searching),
        "height_m": item.height_m,
        "sensor": item.searcher.sensor,
    }


def _sent(seen: Seen) -> None:
    """Show the plans that were sent, each to be turned into a search that saw nothing."""
    sent = list(seen.known.entries("datum.search_sent"))
    if not sent:
        return
    searched = {entry.value.note for entry in seen.known.entries("datum.negative_search")}
    for entry in sent[-6:]:
        value: SearchSent = entry.value
        ends = value.waypoints[-1].at
        told = told_over(entry)
        panel(
            line(
                words(
                    f"Sent to {value.searcher} for {value.object}: {value.pattern}, "
                    f"{dtg(entry.record.heard_at)}, then worth {chance_words(value.pos)}."
                )
            )
        )
        if not seen.writable or told in searched or ends is None or ends > seen.moment.at:
            continue
        if st.button(
            f"{value.searcher} steered this and saw nothing", key=f"datum.plan.nothing.{entry.id}"
        ):
            _record(seen, "datum.negative_search", _nothing_seen(entry, told), "datum.plan.nothing")
    refusal.show("datum.plan.nothing")


def _nothing_seen(entry: Entry, told: str) -> dict[str, Any]:
    value: SearchSent = entry.value
    first = value.waypoints[0].at or entry.record.valid_at
    return {
        "searcher": value.searcher,
        "waypoints": [point.model_dump(mode="json") for point in value.waypoints],
        "sweep_width_m": value.sweep_width_m,
        "object": value.object,
        "started_at": iso(first),
        "sensor": value.sensor,
        "note": told,
    }


def _record(seen: Seen, kind: str, payload: dict[str, Any], key: str) -> None:
    ends = payload["waypoints"][-1]["at"] if kind == "datum.negative_search" else None
    at = parse_time(ends, "end") if ends else None
    pressed(seen, draft_now(seen, kind, payload, valid_at=at), key=key)


def _downloads(seen: Seen, pattern: Pattern) -> None:
    exercise = f"EXERCISE {seen.exercise}".replace("EXERCISE Exercise", "EXERCISE")
    name = title(pattern).replace(" ", "_")
    for column, (ending, (write, mime)) in zip(st.columns(len(FORMATS)), FORMATS.items(),
                                               strict=True):  # fmt: skip
        column.download_button(
            f"Save as {ending.upper()}",
            write(pattern, exercise if seen.exercise else ""),
            file_name=f"{name}.{ending.partition(' ')[0]}",
            mime=mime,
            key=f"datum.plan.{ending}",
        )
