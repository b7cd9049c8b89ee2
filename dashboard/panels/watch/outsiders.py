"""What those are told who are not the watch: which of it, the block, and answers exactly."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import line, panel, words
from dashboard.tools.forms import record_form
from dashboard.view import Seen, released_to
from layers.answer_words import WordedAnswer, dive, first_out, margin, next_decision, sortie
from layers.catalogue import KINDS
from layers.contract.told_place import told_block
from layers.earth.clock import clock_words, dtg
from layers.scene.outsiders import lies_outside, proposed

AUDIENCES = ("readers", "wall")
FORMS = {
    "watch.withholding": "What an audience may see",
    "watch.place_told": "The block told of her place",
    "watch.told": "An answer, told exactly",
    "watch.let_go": "Words let go",
}
ANSWERS = {
    "margin": margin, "dive": dive, "first out": first_out, "sortie": sortie,
    "next decision": next_decision,
}  # fmt: skip


def show(seen: Seen) -> None:
    """Show what outsiders are told, and the forms by which the watch tells more."""
    if not seen.writable:
        return
    panel("".join(_lines(seen)))
    with st.expander("Tell outsiders"):
        chosen = st.selectbox("What", list(FORMS), format_func=FORMS.__getitem__, key="outsiders")
        made = {"watch.place_told": _block, "watch.told": _answer}.get(chosen)
        given = made(seen) if made else {}
        key = f"outsiders {given.get('answer', '')}"
        record_form.show(seen, KINDS[chosen], given=given, key=key)


def _lines(seen: Seen) -> list[str]:
    parts = [f"<b>{words('Told to those who are not the watch')}</b>"]
    parts += [line(words(f"{audience}: {released_to(audience).words()}")) for audience in AUDIENCES]
    block, wanted = told_block(seen.known, seen.moment.at), proposed(seen.picture)
    if block is None:
        said = "no block is told yet: where her place is withheld nothing at sea is told"
        parts.append(line(words(said)))
    else:
        parts.append(line(words(f"her place: {block}")))
        if lies_outside(seen.picture, block):
            gone = "! the block told no longer holds where she can be, with 10 nmi round it"
            parts.append(line(f"<b>{words(gone)}</b>"))
    if wanted is not None and wanted != block:
        parts.append(line(words(f"the least block that holds her: {wanted}", "mp-quiet")))
    for entry in seen.known.entries("watch.told")[-6:]:
        value = entry.value
        told = f"{value.answer}: {value.value}, told as of {dtg(value.at)} to {value.audience}"
        parts.append(line(words(told)))
    return parts


def _block(seen: Seen) -> dict[str, object]:
    """Return the least block as it would be typed; empty fields while she is not known."""
    found = proposed(seen.picture)
    if found is None:
        return {}
    edges = ("south_deg", "north_deg", "west_deg", "east_deg")
    return {name: f"{getattr(found, name):g}" for name in edges}


def _answer(seen: Seen) -> dict[str, object]:
    """Return an answer as the plot has it now, to be told as it stands or changed."""
    chosen = st.selectbox("Which answer", list(ANSWERS), key="outsiders_answer")
    return {
        "answer": chosen,
        "value": said_words(ANSWERS[chosen](seen.answers)),
        "at": clock_words(seen.moment.at, seen.now),
    }


def said_words(said: WordedAnswer) -> str:
    """Return an answer as one line."""
    return " ".join(part for part in (said.figure, said.unit, said.word, said.more) if part)[:200]
