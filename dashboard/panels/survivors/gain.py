"""What gains most: the decisions in order, what binds, latest starts, regret, escape or waiting."""

from __future__ import annotations

import math
import uuid
from collections.abc import Sequence

import streamlit as st

from dashboard.panels.strokes import path, picture, shape, svg, text
from dashboard.panels.survivors.margin import outlook_of
from dashboard.panels.text import caution, line, panel, table, wide, words
from dashboard.tools import record_form
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.chart.marks import Style
from layers.earth.errors import MusterplotError
from layers.earth.table import Table
from layers.journal.record import Draft, form_identity
from layers.scene.ink import Ink
from layers.survivors.decisions.choices import Decisions
from layers.survivors.decisions.gain import Gain
from layers.survivors.decisions.report import (
    change_words,
    escape_table,
    gain_table,
    latest_table,
    reading_table,
    regret_table,
    relaxed_table,
)

# as wide as the panel stands on the narrowest screen: drawn smaller the letters would be too
WIDTH, ROW, LETTER, LEFT, RIGHT = 590, 30, 15, 318, 92
MOST_LETTERS = 40


def show(seen: Seen) -> None:
    """Show the decisions weighed, and the forms to put one on the table or to choose."""
    outlook = outlook_of(seen)
    if outlook is None or outlook.decisions is None:
        return
    held = outlook.decisions
    if not held.gains:
        panel(words("No decision is on the table: add one below, and it is run on the same draws."))
    else:
        panel(gain_drawing(held.gains, seen.ink) + _tabled(gain_table(outlook)))
    if held.relaxed and held.relaxed[0].persons.value > 0:
        first = held.relaxed[0]
        gives = change_words(first.persons, 2)
        panel(line(words(f"What binds now: {first.what} gives {gives} persons out in time.")))
    for title, shown in (
        ("What binds now, each limit by one unit", relaxed_table(outlook)),
        ("Latest start of each branch", latest_table(outlook)),
        ("Plans against weather and flooding", regret_table(outlook)),
        ("The reading worth most", reading_table(outlook)),
        ("Escape against waiting", escape_table(outlook)),
    ):
        with st.expander(title):
            _about(title, held)
            panel(_tabled(shown))
    caution(
        f"Differences from the first {held.draws} draws, the same for every plan; error bars 95 %. "
        "A comparison of consequences, no recommendation: the choice is the rescue coordinator's, "
        "with the diving medical officer; national and local procedures come first."
    )
    with st.expander("Put a decision on the table, or choose"):
        _choose(seen, held)
        if seen.writable and record_form.show(seen, KINDS["survivors.decision"], key="gain"):
            st.rerun()


def _about(title: str, held: Decisions) -> None:
    if title == "The reading worth most" and not any(one.changes for one in held.readings):
        st.caption("No single reading would change the choice between these plans.")
    if title.startswith("Plans"):
        st.caption("Persons out in time; in brackets how far below the best plan of that case.")


def gain_drawing(gains: Sequence[Gain], ink: Ink) -> str:
    """Return the change in people out in time as bars with their 95 % error bars, a picture."""
    ran = [gain for gain in gains if gain.persons is not None]
    most = max((abs(g.persons.value) + _bar(g) for g in ran if g.persons), default=1.0) or 1.0
    least = min((g.persons.value - _bar(g) for g in ran if g.persons), default=0.0)
    span = WIDTH - LEFT - RIGHT
    zero = LEFT + (span * most / (2 * most) if least < 0 else 0.0)
    scale = (span / 2 if least < 0 else span) / most
    rows = [_row(gain, n, zero, scale, ink) for n, gain in enumerate(ran)]
    height = ROW * len(ran) + 8
    rows.append(path([(zero, 0), (zero, height)], ink.quiet, 1))
    said = "; ".join(f"{g.title}: {change_words(g.persons, 1)} persons" for g in ran)
    drawing = svg(WIDTH, height, LETTER, said, "".join(rows))
    return picture(drawing, said)


def _bar(gain: Gain) -> float:
    bar = gain.persons.bar if gain.persons else 0.0
    return 0.0 if math.isnan(bar) else bar


def _row(gain: Gain, number: int, zero: float, scale: float, ink: Ink) -> str:
    assert gain.persons is not None
    middle = ROW * number + ROW / 2
    end = zero + gain.persons.value * scale
    low, high = end - _bar(gain) * scale, end + _bar(gain) * scale
    hue = ink.of(Style.PEOPLE) if gain.taken else ink.of(Style.ROUTE)
    box = [(zero, middle - 9), (end, middle - 9), (end, middle + 9), (zero, middle + 9)]
    title = gain.title if len(gain.title) <= MOST_LETTERS else f"{gain.title[:MOST_LETTERS]}…"
    title += " (taken)" if gain.taken else ""
    return "".join(
        (
            text(4, middle + 6, title, ink.ink),
            shape(box, hue, 0.7),
            path([(low, middle), (high, middle)], ink.ink, 2),
            path([(low, middle - 6), (low, middle + 6)], ink.ink, 2),
            path([(high, middle - 6), (high, middle + 6)], ink.ink, 2),
            text(WIDTH - 4, middle + 6, change_words(gain.persons, 1), ink.ink, anchor="end"),
        )
    )


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
    draft = Draft(
        kind="survivors.plan_choice",
        payload=payload,
        valid_at=seen.now,
        heard_at=seen.now,
        source=decided.strip() or seen.actor.name,
        identity=form_identity(form_id),
    )
    try:
        seen.pen.append(seen.actor, [draft])
    except MusterplotError as refused:
        st.error(str(refused))
        return
    del st.session_state["gain.choice.id"]
    st.rerun()
