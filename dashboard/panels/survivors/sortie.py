"""The sortie under way: phase, reserve against need, next times, cases with the user's drill."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

import streamlit as st

from dashboard.panels.survivors.margin import outlook_of
from dashboard.panels.text import caution, line, panel, table, words
from dashboard.tools.forms import record_form, refusal, told_time
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, from_us, relative_words, to_us
from layers.earth.errors import InputError, MusterplotError
from layers.journal.record import Draft
from layers.survivors.lifts.model import PHASES, Lift, Phase
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.run.aboard import aboard
from layers.survivors.lifts.sorties.sortie import Sortie, moves_of, phase_words

AT_SEA = (*PHASES, Phase.BACK, Phase.GIVEN_UP)


def show(seen: Seen) -> None:
    """Show every vehicle that is down, and the forms for its next phase."""
    outlook = outlook_of(seen)
    if outlook is None or outlook.setting is None:
        return
    if not outlook.sorties:
        panel(words("No vehicle is down."))
    for one in outlook.sorties:
        _sortie(one, seen.moment.at)
    with st.expander("A phase begins, a report, a case"):
        if not seen.writable:
            st.caption("Reading only: the watch records.")
            return
        _phase(seen, outlook.setting)
        for name in ("survivors.sortie_report", "survivors.sortie_case", "survivors.drill"):
            record_form.show(seen, KINDS[name], key="sortie")


def _battery(one: Sortie) -> str:
    if "battery_kwh" in one.not_told:
        return "Battery: not told"
    told = "" if one.battery_reported_us else " (taken as full at the dive: none was reported)"
    return (
        f"Battery {one.battery_kwh:.0f} kWh{told}; the rest of the sortie needs "
        f"{one.battery_need_kwh:.0f} and the reserve {one.reserve_kwh:.0f}: "
        f"{abs(one.battery_spare_kwh):.0f} kWh "
        f"{'short' if one.battery_spare_kwh < 0 else 'to spare'}"
    )


def _life_support(one: Sortie) -> str:
    if "life_support_h" in one.not_told:
        return f"Life support: not told; the rest needs {one.life_support_need_h:.1f} h"
    return (
        f"Life support {one.life_support_h:.1f} h; the rest needs {one.life_support_need_h:.1f} h"
    )


def _sortie(one: Sortie, now: datetime) -> None:
    since = round((to_us(now) - one.dived_us) / 60e6)
    head = f"{one.vehicle}, lift {one.lift}, {one.refuge}: {phase_words(one)}, {since} min down"
    due = from_us(one.next_due_us)
    late = f"{one.overdue_min:.0f} min overdue" if one.overdue_min else ""
    short = one.battery_spare_kwh < 0 or one.life_support_h < one.life_support_need_h
    parts = [
        line(f"<b>{words(head)}</b>"),
        line(words(_battery(one), "mp-late" if short else "")),
        line(words(_life_support(one))),
        line(words(f"Next report due {clock_words(due, now)}, {late or relative_words(due, now)}")),
        line(words(_way_back(one, now))),
        *(
            _case(case.case, case.since_us, case.drill, case.drill_source, now)
            for case in one.cases
        ),
    ]
    panel("".join(parts))
    with st.expander("Its phases, begun and expected"):
        panel(_phases(one, now))
    caution(
        "Reserve and need are worked out from reported figures and estimates; the vehicle's own "
        "instruments and its crew's judgement come first."
    )


def _way_back(one: Sortie, now: datetime) -> str:
    on_deck = f"on deck about {clock_words(from_us(one.on_deck_us), now)}"
    if one.returning:
        return f"On its way back; {on_deck}"
    turn = from_us(one.turn_back_early_us)
    when = f"{clock_words(turn, now)}, {relative_words(turn, now)}"
    likely = clock_words(from_us(one.turn_back_us), now)
    why = one.turn_back_because
    if likely != clock_words(turn, now):
        why += f"; at likely times {likely}"
    return f"Turn back by {when} ({why}); {on_deck}"


def _phases(one: Sortie, now: datetime) -> str:
    rows = [
        (
            each.phase.value,
            "" if each.began_us is None else clock_words(from_us(each.began_us), now),
            "" if each.taken_min is None else f"{each.taken_min:.0f}",
            f"{each.expected_min:.0f}",
        )
        for each in one.phases
    ]
    return table(rows, ("Phase", "Began", "Taken (min)", "Expected (min)"), figures=(2, 3))


def _case(case: str, since_us: int, drill: str, source: str, now: datetime) -> str:
    minutes = round((to_us(now) - since_us) / 60e6)
    said = f"{case.capitalize()} since {clock_words(from_us(since_us), now)}, {minutes} min"
    shown = f"{drill} ({source})" if drill else "No drill is entered for this case: enter your own."
    return line(f'<span class="mp-alarm">{words(said)}</span>') + line(words(shown))


def _phase(seen: Seen, setting: PlanSetting) -> None:
    """Enter a phase; who is aboard moves in the muster with it, in the same entry."""
    lifts = {lift.key: lift for lift in setting.lifts if not _done(setting, lift)}
    if not lifts:
        st.caption("Every planned lift is back.")
        return
    form_id = st.session_state.setdefault("sortie.phase.id", uuid.uuid4().hex)
    with st.form("sortie.phase"):
        left, middle, right = st.columns(3)
        key = left.selectbox("Lift", list(lifts), key=f"sortie.lift.{form_id}")
        phase = middle.selectbox(
            "Phase that begins", [p.value for p in AT_SEA], key=f"sortie.name.{form_id}"
        )
        at = told_time.field("At", seen.now, f"sortie.at.{form_id}", place=right)
        battery = left.text_input("Battery (kWh), if told", key=f"sortie.battery.{form_id}")
        room = middle.selectbox(
            "Chamber, when back",
            ["none", *(chamber.name for chamber in setting.chambers)],
            key=f"sortie.room.{form_id}",
        )
        lift = lifts[key]
        walking = left.text_input(
            f"Walking aboard ({lift.walking} planned)", key=f"sortie.walking.{form_id}"
        )
        lying = middle.text_input(
            f"On stretchers aboard ({lift.stretcher} planned)", key=f"sortie.lying.{form_id}"
        )
        moves = right.checkbox("Move the people in the muster", True, key=f"sortie.move.{form_id}")
        sent = st.form_submit_button("Record the phase")
    if not sent:
        refusal.show("sortie.phase")
        return
    chamber = None if room == "none" else room
    try:
        said = _Said(
            phase=Phase(phase), at=at, battery=battery, chamber=chamber, walking=walking,
            lying=lying, moves=moves, form_id=form_id,
        )  # fmt: skip
        drafts = _drafts(seen, setting, lifts[key], said)
        send(seen, drafts)
    except (MusterplotError, ValueError) as refused:
        refusal.keep("sortie.phase", refused)
        return
    refusal.forget("sortie.phase")
    del st.session_state["sortie.phase.id"]
    st.rerun()


def _done(setting: PlanSetting, lift: Lift) -> bool:
    """Whether a lift is told to be back; by its track alone it is asked about."""
    fact = setting.facts.get(lift.key)
    return fact is not None and fact.done and Phase.BACK not in fact.by_depth


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What was typed of a phase."""

    phase: Phase
    at: str
    battery: str
    chamber: str | None
    walking: str
    lying: str
    moves: bool
    form_id: str


def _drafts(seen: Seen, setting: PlanSetting, lift: Lift, said: _Said) -> list[Draft]:
    """Return the phase and, with it, the moves of those who are really aboard.

    Raises
    ------
    InputError
        At *away* nobody has said who is aboard.
    """
    valid = told_time.read(said.at, "At", seen.now)
    payload: dict[str, object] = {
        "vehicle": lift.vehicle, "lift": lift.key, "phase": said.phase.value
    }  # fmt: skip
    if said.battery.strip():
        payload["battery_kwh"] = float(said.battery)
    told = _aboard(said)
    if said.phase is Phase.AWAY and told is None:
        raise InputError(
            "nobody has said who is aboard",
            where="Walking aboard, on stretchers aboard",
            accepted="how many came through the hatch, 0 for none",
        )
    if told is not None:
        payload |= {"walking_aboard": told[0], "stretcher_aboard": told[1]}
    if said.phase is Phase.BACK and said.chamber:
        payload["chamber"] = said.chamber
    records = [("survivors.sortie_phase", payload)]
    if said.moves:
        people = told or aboard(setting, lift)
        place = _vehicle_place(seen, lift.vehicle, said.phase)
        moves = moves_of(said.phase, lift, said.chamber, aboard=people, vehicle_place=place)
        records += [("survivors.move", dict(move)) for move in moves]
    return [
        draft_now(
            seen, kind, what, form=f"{said.form_id}.{number}", source=lift.vehicle, valid_at=valid
        )
        for number, (kind, what) in enumerate(records)
    ]


def _aboard(said: _Said) -> tuple[int, int] | None:
    """Return who is said to be aboard, None when neither field was filled."""
    if not said.walking.strip() and not said.lying.strip():
        return None
    try:
        return int(said.walking.strip() or 0), int(said.lying.strip() or 0)
    except ValueError as reason:
        raise InputError(
            f"{said.walking!r} and {said.lying!r} are no numbers of persons",
            where="Walking aboard, on stretchers aboard",
            accepted="whole numbers: 13 and 1",
        ) from reason


def _vehicle_place(seen: Seen, vehicle: str, phase: Phase) -> str:
    """Return the vehicle's own place in the muster where it has one; at back, where they are."""
    shown = seen.picture.shown("survivors")
    places = {} if shown is None else shown.result.by_place
    aboard_unnamed = places.get("vehicle", 0) and not places.get(vehicle, 0)
    if vehicle not in places or (phase is Phase.BACK and aboard_unnamed):
        return "vehicle"
    return vehicle
