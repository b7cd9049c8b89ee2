"""The exercise's clock: how it goes on after a stop, asked once; and setting it."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard.tools.forms import refusal
from dashboard.view import Seen
from layers.earth.clock import dtg, parse_time
from layers.earth.errors import MusterplotError
from layers.watch import exercise_clock

FORM = "exercise_clock"


def ask(seen: Seen) -> None:
    """Ask how the exercise goes on, on every page, until the watch has said so."""
    if not seen.journal.exercise or not seen.writable or not seen.follows_now:
        return
    question = exercise_clock.asked(seen.known)
    if question is None:
        return
    stood = question.record.valid_at
    with st.container(key="clock_question", horizontal=True, vertical_alignment="center"):
        gap = timedelta(minutes=question.value.stood_min or 0.0)
        st.markdown(exercise_clock.question_words(stood, gap))
        for words, in_step in (("In step with the clock", True), ("Where it stood", False)):
            if st.button(words, key=f"clock_{in_step}"):
                exercise_clock.go_on(seen.pen, seen.actor, question, in_step=in_step)
                st.rerun()


def show(seen: Seen) -> None:
    """Show the form that sets the clock of an exercise."""
    if not seen.journal.exercise or not seen.writable:
        return
    with st.form(FORM, border=False):
        st.caption(f"It shows {dtg(seen.now)}. It can be put forwards; time never goes back.")
        left, right = st.columns(2)
        text = left.text_input("Put it to", key="exercise_clock_to", placeholder=dtg(seen.now))
        reason = right.text_input("Because", key="exercise_clock_because")
        sent = st.form_submit_button("Set the clock")
        if not sent:
            refusal.show(FORM)
            return
        try:
            at = parse_time(text, "Put it to")
            exercise_clock.put_clock(seen.pen, seen.actor, at, reason)
        except MusterplotError as fault:
            refusal.keep(FORM, fault)
            return
    refusal.forget(FORM)
    st.rerun()
