"""The muster whole: every place by fitness, what does not agree, and moving people."""

from __future__ import annotations

import uuid
from typing import Any

import streamlit as st

from dashboard.panels.survivors import people
from dashboard.panels.text import line, panel, table, words
from dashboard.tools.forms import refusal, told_time
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.contract import View
from layers.earth.clock import dtg
from layers.earth.errors import InputError, MusterplotError
from layers.earth.told import PersonsNow
from layers.survivors.muster import by_plan
from layers.survivors.muster.model import FITNESS, PlaceSort
from layers.survivors.muster.muster import Muster, PlaceState

FORM = "survivors.move_form"


def show(seen: Seen) -> Muster | None:
    """Show everybody as marks, then what does not agree; return the muster."""
    found = seen.picture.shown("survivors")
    if found is None:
        return None
    who: Muster = found.result.muster
    st.markdown(people.drawing(then(seen, who), seen.ink), unsafe_allow_html=True)
    doubt = _tail(who)
    if doubt:
        panel(doubt)
    if who.conflicts:
        panel("".join(line(words(f"? {one.text}")) for one in who.conflicts))
    return who


def then(seen: Seen, who: Muster) -> Muster:
    """Return who is where at the time shown; ahead of now by the plan, as the strip counts."""
    if seen.moment.view is not View.EXPECTED:
        return who
    persons = seen.answers.persons
    return by_plan.carried_on(who, persons) if isinstance(persons, PersonsNow) else who


def show_table(seen: Seen, who: Muster) -> None:
    """Show every place by fitness, who goes first, and names when asked for."""
    figures = range(1, 2 + len(_fitness(who)))
    panel(table(_rows(who), _heads(who), figures=figures))
    _priorities(who)
    if seen.writable:
        _names(who)


def show_form(seen: Seen, who: Muster) -> None:
    """Show the form that moves people."""
    _form(seen, who)


def _fitness(who: Muster) -> list[str]:
    """Return the kinds of fitness there is anybody of; empty columns take room from the rest."""
    if who.counts_only:
        return []
    return [fitness for fitness, persons in who.by_fitness.items() if persons]


def _heads(who: Muster) -> tuple[str, ...]:
    exposure = () if who.counts_only else ("Exposure (bar abs.)",)
    return ("Place", "Persons", *_fitness(who), *exposure, "Changed")


def _rows(who: Muster) -> list[tuple[object, ...]]:
    fitness = _fitness(who)
    if who.counts_only:
        counted = [
            (row[0], row[1], row[-1])
            for place in who.places
            if place.persons or place.sort is PlaceSort.REFUGE
            for row in (_row(place, []),)
        ]
        return [*counted, ("on board", who.pob, "")]
    rows = [
        _row(place, fitness)
        for place in who.places
        if place.persons or place.sort is PlaceSort.REFUGE
    ]
    by_fitness = who.by_fitness
    return [*rows, ("on board", who.pob, *(by_fitness[f] for f in fitness), "", "")]


def _row(place: PlaceState, fitness: list[str]) -> tuple[object, ...]:
    told = {lot.exposure_bar_abs for lot in place.lots if lot.exposure_bar_abs is not None}
    name = f"{place.name} ?" if place.disputed else place.name
    changed = dtg(place.changed_at).split()[0] if place.changed_at else ""
    exposure = ", ".join(f"{bar:.2f}" for bar in sorted(told))
    return (name, place.persons, *(place.of(f) or "" for f in fitness), exposure, changed)


def _priorities(who: Muster) -> None:
    """Show who goes first, where a priority was set."""
    rows = [
        (lot.priority, place.name, lot.persons, lot.fitness)
        for place in who.places
        for lot in place.lots
        if lot.priority is not None
    ]
    if rows:
        panel(table(sorted(rows), ("Priority", "Place", "Persons", "Fitness"), figures=(0, 2)))


def _tail(who: Muster) -> str:
    parts = []
    if who.pob_disputed:
        parts.append(line(words(f"? {who.pob_disputed} of those on board disputed, and counted")))
    return "".join(parts)


def _names(who: Muster) -> None:
    """Show names only when the watch asks for them."""
    named = [(p.name, n) for p in who.places for lot in p.lots for n in lot.names]
    if named and st.toggle("Show names", value=False, key="survivors.names"):
        panel(table(named, ("Place", "Name")))


def _form(seen: Seen, who: Muster) -> None:
    form_id = st.session_state.setdefault(FORM, uuid.uuid4().hex)
    places = [place.name for place in who.places]
    held = {p.name: p.persons for p in who.places}
    with st.form(f"{FORM}.{form_id}"):
        left, right = st.columns(2)
        origin = left.selectbox(
            "From", places, format_func=lambda p: f"{p} ({held[p]})", key=f"{form_id}.from"
        )
        to = right.selectbox(
            "To", places, format_func=lambda p: f"{p} ({held[p]})", key=f"{form_id}.to"
        )
        columns = st.columns(4)
        counts = {
            fitness: column.number_input(
                f"{fitness} (persons)", 0, 2_000, 0, key=f"{form_id}.{fitness}"
            )
            for fitness, column in zip(FITNESS[:4], columns, strict=True)
        }
        left, middle, right = st.columns(3)
        was = left.selectbox(
            "Booked there as", ["the same", *FITNESS], key=f"{form_id}.was",
            help="When their fitness has changed: what the muster has them as now",
        )  # fmt: skip
        priority = middle.selectbox(
            "Priority (1 first)", ["as before", *range(1, 10)], key=f"{form_id}.priority"
        )
        exposure = right.text_input(
            "Exposure (bar absolute)", key=f"{form_id}.bar", placeholder="as before"
        )
        left, middle, right = st.columns(3)
        at = told_time.field("When it was true", seen.now, f"{form_id}.at", place=left)
        reason = middle.text_input("Reason", key=f"{form_id}.reason")
        source = right.text_input("From whom", key=f"{form_id}.source")
        sure = st.checkbox(
            "Asked back and said again", key=f"{form_id}.sure",
            help="For what is hardly possible: tick it when it was asked and is so",
        )  # fmt: skip
        sent = st.form_submit_button("Move them")
    if not sent:
        refusal.show(FORM)
        return
    try:
        groups = _groups(counts, str(was), priority, exposure)
        payload: dict[str, Any] = {
            "from_place": origin,
            "to_place": to,
            "groups": groups,
            "reason": reason,
        }
        payload |= {"read_back": True} if sure else {}
        _append(seen, payload, at, source, form_id)
    except MusterplotError as refused:
        refusal.keep(FORM, refused)
        return
    refusal.forget(FORM)
    del st.session_state[FORM]
    st.rerun()


def _groups(
    counts: dict[str, int], was: str, priority: object, exposure: str
) -> list[dict[str, Any]]:
    groups: list[dict[str, Any]] = []
    for fitness, persons in counts.items():
        if not persons:
            continue
        group: dict[str, Any] = {"persons": int(persons), "fitness": fitness}
        if was != "the same":
            group["was"] = was
        if isinstance(priority, int):
            group["priority"] = priority
        if exposure.strip():
            group["exposure"] = _exposure(exposure)
        groups.append(group)
    if not groups:
        raise InputError("nobody is moved", where="persons", accepted="at least 1")
    return groups


def _exposure(text: str) -> dict[str, Any]:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise InputError(
            f"{text!r} is not a pressure", where="exposure", accepted="bar absolute, such as 2.1"
        ) from None
    return {"value": value, "unit": "bar", "reference": "absolute"}


def _append(seen: Seen, payload: dict[str, Any], at: str, source: str, form_id: str) -> None:
    draft = draft_now(
        seen,
        "survivors.move",
        payload,
        form=form_id,
        source=source,
        valid_at=told_time.read(at, "When it was true", seen.now),
    )
    send(seen, [draft])
