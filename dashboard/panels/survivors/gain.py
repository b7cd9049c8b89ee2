"""What gains most: the decisions in order, what binds, latest starts, regret, escape or waiting."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

import streamlit as st

from dashboard.panels.survivors.margin import outlook_of
from dashboard.panels.text import caution, line, panel, table, wide, words
from dashboard.tools.forms import record_form
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg, from_us
from layers.earth.errors import MusterplotError
from layers.earth.table import Table
from layers.survivors.decisions.choices import Decisions
from layers.survivors.decisions.gain import Gain, Standing
from layers.survivors.decisions.report import (
    change_words,
    escape_table,
    gain_sentences,
    gain_table,
    latest_table,
    left_out_words,
    reading_table,
    regret_table,
    relaxed_table,
)


def show(seen: Seen) -> None:
    """Show what gains, above nought only; what changes nothing or costs is said in a line."""
    outlook = outlook_of(seen)
    if outlook is None or outlook.decisions is None:
        return
    held = outlook.decisions
    if not held.gains:
        panel(words("No decision is on the table: add one below, and it is run on the same draws."))
    worst = outlook.worst
    against = "" if worst is None else f"on people in time, then hours; now {worst.words}"
    rows = [gain for gain in held.gains if gain.standing is Standing.GAINS]
    parts = [line(words(against, "mp-quiet"))] if against else []
    parts += [_gain(gain, rows) for gain in rows]
    parts += [line(words(said, "mp-quiet")) for said in gain_sentences(held.gains)]
    if left := left_out_words(outlook):
        parts.append(line(words(left)))
    if held.unsure:
        asked = f"Not told: {', '.join(held.unsure)}. Each counts with the less of what it gives."
        parts.insert(0, line(words(asked)))
    panel("".join(parts))
    if held.relaxed and held.relaxed[0].persons.value > 0:
        first = held.relaxed[0]
        gives = change_words(first.persons, 2)
        panel(line(words(f"What limits now: {first.what} gives {gives} persons out in time.")))


def folded(seen: Seen) -> None:
    """Show the comparisons behind the list, and the forms to put a decision on the table."""
    outlook = outlook_of(seen)
    if outlook is None or outlook.decisions is None:
        return
    held = outlook.decisions
    for title, shown in (
        ("Every decision with its error", gain_table(outlook)),
        ("What binds now, each limit by one unit", relaxed_table(outlook)),
        ("Latest start of each branch", latest_table(outlook)),
        ("Plans against weather and flooding", regret_table(outlook)),
        ("The reading worth most", reading_table(outlook)),
        ("Escape against waiting", escape_table(outlook)),
    ):
        with st.expander(title):
            _about(title, held)
            panel(_tabled(shown))
    if held.unsure:
        panel(words(f"As if not so: {', '.join(held.unsure)}."))
    caution(
        f"Differences from the first {held.draws} draws, the same for every plan; error bars 95 %. "
        "A comparison of consequences, no recommendation: the choice is the rescue coordinator's, "
        "with the diving medical officer; national and local procedures come first."
    )
    with st.expander("Put a decision on the table, or choose"):
        _choose(seen, held)
        if seen.writable:
            record_form.show(seen, KINDS["survivors.decision"], key="gain")


def _gain(gain: Gain, rows: Sequence[Gain]) -> str:
    """Return one gain: its title, the figure, a bar as long as its share of the largest."""
    figure, more = gain_figures(gain)
    most = max(_size(one) for one in rows) or 1.0
    taken = "" if gain.taken_us is None else f"taken {dtg(from_us(gain.taken_us))[:7]}"
    if gain.taken and not taken:
        taken = "taken"
    share = 100.0 * _size(gain) / most
    return (
        '<div class="mp-gain" style="padding:8px 0;border-bottom:1px solid var(--line)">'
        '<div style="display:flex;justify-content:space-between;align-items:baseline;gap:8px">'
        f"<b>{words(gain.title)}</b>"
        f'<b style="font-size:1.25rem;white-space:nowrap">{words(figure)}</b></div>'
        f'<div style="height:8px;width:{share:.0f}%;background:var(--sound)"></div>'
        f"{line(words('; '.join(part for part in (more, taken) if part), 'mp-quiet'))}</div>"
    )


def _size(gain: Gain) -> float:
    people, chance, hours = gain.weight
    return people or chance or max(hours, 0.0)


def gain_figures(gain: Gain) -> tuple[str, str]:
    """Return what a gain is in the largest letters, and what it is besides."""
    people, chance, hours = gain.weight
    told = []
    if people:
        told.append(f"+{people:.1f} persons")
    if chance:
        told.append(f"+{chance * 100:.0f} of 100 for all")
    if hours:
        told.append(f"{hours:+.0f} h".replace("-", "−"))
    return told[0] if told else "", ", ".join(told[1:])


def _about(title: str, held: Decisions) -> None:
    if title == "The reading worth most" and not any(one.changes for one in held.readings):
        st.caption("No single reading would change the choice between these plans.")
    if title.startswith("Plans"):
        st.caption("Persons out in time; in brackets how far below the best plan of that case.")


def _tabled(held: Table) -> str:
    return wide(table(held.rows, held.heads))


def _choose(seen: Seen, held: Decisions) -> None:
    """Choose which decisions are taken; from then on they are the plan."""
    if not seen.writable or not held.gains:
        return
    titles = {gain.key: gain.title for gain in held.gains}
    form_id = st.session_state.setdefault("gain.choice.id", uuid.uuid4().hex)
    with st.form("gain.choice"):
        chosen = st.multiselect(
            "Taken",
            list(titles),
            default=[gain.key for gain in held.gains if gain.taken],
            format_func=titles.__getitem__,
            key=f"gain.chosen.{form_id}",
        )
        reason = st.text_input("Because", key=f"gain.reason.{form_id}")
        decided = st.text_input("Decided by", key=f"gain.by.{form_id}")
        sent = st.form_submit_button("Make it the plan")
    if not sent:
        return
    payload = {"chosen": chosen, "reason": reason, "decided_by": decided}
    draft = draft_now(seen, "survivors.plan_choice", payload, form=form_id, source=decided)
    try:
        send(seen, [draft])
    except MusterplotError as refused:
        st.error(str(refused))
        return
    del st.session_state["gain.choice.id"]
    st.rerun()
