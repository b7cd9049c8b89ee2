"""The plan lift by lift, the chambers against time, and the forms that change the plan."""

from __future__ import annotations

import uuid

import streamlit as st

from dashboard.away.link import recorded_words
from dashboard.door.uploads import uploader
from dashboard.panels.survivors.margin import drawing, outlook_of
from dashboard.panels.survivors.occupancy import occupancy_drawing
from dashboard.panels.text import caution, line, panel, table, wide, words
from dashboard.tools import need
from dashboard.tools.forms import record_form
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, from_us
from layers.earth.errors import MusterplotError
from layers.survivors.chambers import schedule
from layers.survivors.lifts.axis import bar_of
from layers.survivors.lifts.margin_model import LiftOutlook, Outlook
from layers.survivors.lifts.propose import propose
from layers.survivors.lifts.report import (
    CAUTION,
    NO_RUN,
    chamber_table,
    dose_sentences,
    learnt_table,
    lift_table,
)

FORMS = (
    "survivors.lift",
    "survivors.vehicle",
    "survivors.chamber",
    "survivors.ship",
    "survivors.lift_limits",
    "survivors.priority",
)


def show(seen: Seen) -> None:
    """Show the lifts, one a row; the forms that change the plan are folded."""
    outlook = outlook_of(seen)
    if outlook is None:
        return
    rows = [lift_row(outlook, one) for one in (*outlook.lifts, *outlook.held)]
    panel(table(rows, ("lift", "people", "dive", "hatch shut", "P10 to P90", "on deck", "then")))


def show_chambers(seen: Seen) -> None:
    """Show the chambers against time, the stays and the oxygen."""
    outlook = outlook_of(seen)
    if outlook is not None:
        _chambers(seen, outlook)


def show_figures(seen: Seen) -> None:
    """Show every figure of the lifts, and the cycle times learnt."""
    outlook = outlook_of(seen)
    if outlook is not None:
        held = lift_table(outlook)
        panel(wide(table(held.rows, held.heads)))
        _learnt(outlook)


def show_proposed(seen: Seen) -> None:
    """Show the lifts filled from the muster, by who goes first."""
    outlook = outlook_of(seen)
    if outlook is not None:
        _propose(seen, outlook)


def lift_row(outlook: Outlook, one: LiftOutlook) -> tuple[str, ...]:
    """Return one lift in seven short cells."""
    now = from_us(outlook.at_us)
    people = "–"
    if one.walking + one.stretcher:
        people = str(one.walking)
        people += f" + {one.stretcher} on stretchers" if one.stretcher else ""
    if one.state in NO_RUN:
        return (one.key, people, one.state, "", "", "", one.stopped)
    axis_bar = bar_of(outlook, one, now)
    if axis_bar is None:
        return (one.key, people, "not within the plan", "", "", "", "")
    spread = ""
    if axis_bar.early is not None and axis_bar.late is not None:
        spread = f"{clock_words(axis_bar.early, now)} to {clock_words(axis_bar.late, now)}"
    then = one.chamber or "deck"
    then = f"done, {then}" if axis_bar.done else then
    if one.caught >= 0.01:
        then += f"; waits for the sea in {one.caught * 100:.0f} of 100"
    times = (axis_bar.dive, axis_bar.hatch, axis_bar.deck)
    dive, hatch, deck = (clock_words(at, now) for at in times)
    return (one.key, people, dive, hatch, spread, deck, then)


def _propose(seen: Seen, outlook: Outlook) -> None:
    """Show the lifts filled by the priority, to be recorded as the plan."""
    shown = seen.picture.shown("margin")
    if shown is None or outlook.setting is None:
        return
    try:
        made = propose(outlook.setting, shown.result.refuges)
    except MusterplotError as reason:
        st.caption(str(reason))
        return
    rows = [
        (
            lift.key,
            lift.vehicle,
            lift.refuge,
            lift.walking,
            lift.stretcher,
            "withdrawn" if lift.withdrawn else "",
        )
        for lift in made
    ]
    panel(table(rows, ("Lift", "Vehicle", "Refuge", "Walking", "Stretcher", ""), figures=(3, 4)))
    if seen.writable and rows and st.button("Make these the lifts", key="lifts.propose"):
        form = uuid.uuid4().hex
        drafts = [
            draft_now(
                seen, "survivors.lift", lift.model_dump(mode="json"), form=f"{form}.{lift.key}"
            )
            for lift in made
        ]
        try:
            send(seen, drafts)
        except MusterplotError as reason:
            st.error(str(reason))
            return
        st.rerun()


def forms(seen: Seen) -> None:
    """Show the forms that change the plan."""
    _forms(seen)


def _chambers(seen: Seen, outlook: Outlook) -> None:
    held = chamber_table(outlook)
    if outlook.chambers is None or not held.rows:
        need.said(seen, "No chambers yet: record a chamber, and load a decompression schedule.",
                  "chambers", "survivors.chamber", "survivors.schedule")  # fmt: skip
        return
    drawn = occupancy_drawing(outlook.chambers, seen.ink)
    said = "".join(line(words(sentence)) for sentence in dose_sentences(outlook))
    rows = wide(table(held.rows, held.heads))
    drawing(drawn)
    panel(f"{rows}{said}")
    caution(
        f"{CAUTION} Broken line: places, attendants included. Gas for flushing and leaks is not "
        "counted; oxygen is what people burn and what the entered schedule has them breathe."
    )


def _learnt(outlook: Outlook) -> None:
    held = learnt_table(outlook)
    if held.rows:
        panel(
            line(words("Cycle times learnt; they replace the estimates.", "mp-quiet"))
            + table(held.rows, held.heads)
        )


def _forms(seen: Seen) -> None:
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    names = {KINDS[name].title: name for name in FORMS} | {"decompression schedule": ""}
    title = st.selectbox("What changes", list(names), key="lifts.form")
    if not names[title]:
        _schedule(seen)
    else:
        record_form.show(seen, KINDS[names[title]], key="lifts")


def _schedule(seen: Seen) -> None:
    """Take a schedule table as a CSV, with its source and who approved it."""
    form_id = st.session_state.setdefault("lifts.schedule.id", uuid.uuid4().hex)
    with st.form("lifts.schedule"):
        st.caption(f"A CSV with the columns {', '.join(schedule.HEADS)}; one step a row.")
        upload = uploader("Schedule table", type="csv", key="lifts.schedule.file")
        name = st.text_input("Name of the table", key="lifts.schedule.name")
        source = st.text_input("Source, with page or edition", key="lifts.schedule.source")
        approved = st.text_input("Approved by", key="lifts.schedule.approved")
        invented = st.checkbox("Invented for an exercise", key="lifts.schedule.invented")
        sent = st.form_submit_button("Load it")
    if not sent or upload is None:
        return
    try:
        read = schedule.read_csv(
            upload.getvalue().decode("utf-8", "replace"),
            name=name.strip() or upload.name,
            source=source,
            approved_by=approved,
            invented=invented,
        )
        draft = draft_now(
            seen, "survivors.schedule", read.model_dump(mode="json"), form=form_id, source=source
        )
        send(seen, [draft])
    except MusterplotError as reason:
        st.error(str(reason))
        return
    del st.session_state["lifts.schedule.id"]
    st.toast(recorded_words("decompression schedule"))
    st.rerun()
