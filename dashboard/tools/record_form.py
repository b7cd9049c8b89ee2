"""A form for any kind of record: everything people type enters here.

The form keeps what was typed when something is refused. It carries an id made when it opened,
so that sent twice on a bad line it is still one record.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.tools import refusal, told_time
from dashboard.tools.fields import Field, fields_of, put
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.errors import MusterplotError
from layers.journal.kinds import Kind
from layers.journal.record import Draft, form_identity

TRUE, HEARD = "When it was true", "When it was heard"
# what arrives by file or is made by the program itself, never by hand
NOT_TYPED = frozenset(
    {
        "journal.correct", "weather.forecast", "transponders.depth_grid",
        "transponders.chart_cell", "watch.export", "watch.alarm",
        "watch.clock",
    }
)  # fmt: skip


def typed_kinds() -> dict[str, Kind]:
    """Return the kinds that people type, by name, in the order of their titles."""
    found = {name: kind for name, kind in KINDS.items() if name not in NOT_TYPED}
    return dict(sorted(found.items(), key=lambda pair: (pair[0].split(".")[0], pair[1].title)))


def show(seen: Seen, kind: Kind, *, given: Mapping[str, Any] | None = None, key: str = "") -> bool:
    """Show the form of one kind; return whether a record was made in this run.

    Parameters
    ----------
    seen : Seen
        Who is looking, and the pen.
    kind : Kind
        What is typed.
    given : mapping, optional
        Values already there; they fill the fields.
    key : str
        Tells two forms of one kind on a page apart.
    """
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return False
    name = f"form.{kind.name}.{key}"
    form_id = st.session_state.setdefault(f"{name}.id", uuid.uuid4().hex)
    fields = fields_of(kind.model.model_json_schema())
    with st.form(f"{name}.{form_id}", border=True):
        st.markdown(f"**{kind.title[:1].upper()}{kind.title[1:]}**")
        typed = {field.name: _input(field, (given or {}).get(field.name), f"{name}.{form_id}")
                 for field in fields}  # fmt: skip
        left, right = st.columns(2)
        told = f"{name}.{form_id}.told"
        valid = told_time.field(TRUE, seen.now, f"{told}.valid", place=left)
        heard = told_time.field(HEARD, seen.now, f"{told}.heard", place=right)
        source = st.text_input("From whom", key=f"{told}.source")
        sent = st.form_submit_button("Record it")
    if not sent:
        refusal.show(name)
        return False
    try:
        payload: dict[str, Any] = {}
        for field in fields:
            put(payload, field, typed[field.name], seen.now)
        heard_at = told_time.read(heard, HEARD, seen.now)
        draft = Draft(
            kind=kind.name,
            payload=payload,
            valid_at=told_time.read(valid, TRUE, seen.now, ahead=timedelta(seconds=kind.future_s))
            if valid.strip()
            else heard_at,
            heard_at=heard_at,
            source=source.strip() or seen.actor.name,
            identity=form_identity(form_id),
            version=kind.version,
        )
        seen.pen.append(seen.actor, [draft])
    except MusterplotError as reason:
        refusal.keep(name, reason)
        return False
    refusal.forget(name)
    del st.session_state[f"{name}.id"]
    st.toast(f"Recorded: {kind.title}, true at {dtg(draft.valid_at)}")
    return True


def _input(field: Field, given: Any, key: str) -> Any:
    name = f"{key}.{field.name}"
    value = given if given is not None else field.default
    if field.sort == "switch":
        return st.checkbox(field.label, value=bool(value), key=name)
    if field.sort == "choice":
        # without a default none is taken: a sense or a unit that nobody stated must not be recorded
        choices = field.choices if value is not None else tuple(dict.fromkeys(("", *field.choices)))
        index = choices.index(str(value)) if str(value) in choices else 0
        return st.selectbox(field.label, choices, index=index, key=name)
    if field.sort == "rows":
        st.caption(field.label)
        empty = pd.DataFrame({column.label: pd.Series(dtype=str) for column in field.columns})
        edited = st.data_editor(empty, num_rows="dynamic", key=name, width="stretch")
        return edited.astype(object).where(edited.notna(), None).to_dict("records")
    if field.sort in ("lines", "json"):
        text = "\n".join(value) if isinstance(value, list) else str(value or "")
        return st.text_area(field.label, text, key=name, help=field.help or None)
    placeholder = {"position": "49 50.0N 008 30.0W", "time": "152340Z MAR 27"}.get(field.sort)
    text = "" if value is None else str(value)
    return st.text_input(field.label, text, key=name, placeholder=placeholder or field.help or None)


def choose(seen: Seen, key: str = "any") -> None:
    """Show a choice of kinds and the form of the one chosen."""
    kinds = typed_kinds()
    name = st.selectbox(
        "What is reported or decided",
        list(kinds),
        format_func=lambda kind: f"{kind.split('.')[0].replace('_', ' ')}: {kinds[kind].title}",
        key=f"kind_choice.{key}",
        index=list(kinds).index("survivors.move") if "survivors.move" in kinds else 0,
    )
    if show(seen, kinds[name], key=key):
        st.rerun()
