"""The fields of a form, drawn: one widget for each, and under it what was read or what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial
from html import escape
from typing import Any

import streamlit as st

from dashboard.tools.forms import order as form_order, told_time
from dashboard.tools.forms.choices import Offered, offered
from dashboard.tools.forms.correcting import HEARD_AT, SOURCE, VALID, WHY, Corrected, filled
from dashboard.tools.forms.fields import Field, fields_of, payload_of
from dashboard.tools.forms.kept import FormState, kept, remembered
from dashboard.tools.forms.widgets import PRESSED, WIDE, _begin, _pick
from dashboard.view import Seen
from layers.earth.clock import dtg
from layers.journal.kinds import Kind
from layers.journal.known import Entry, Known
from layers.journal.words.payloads import payload_words

TRUE, HEARD, WHOM = "When it was true", "When it was heard", "From whom"
OWN_PLACE = frozenset({"datum.bearing", "datum.range", "datum.heard", "weather.observation"})
BY_PRESS = frozenset({"over"})  # which of two words holds is pressed where both stand


class FormInputs:
    """A form's fields as they are drawn in one run."""

    def __init__(
        self,
        seen: Seen,
        kind: Kind,
        given: dict[str, Any],
        fixed: dict[str, Any],
        correcting: Entry | None,
        name: str,
    ) -> None:
        self.seen, self.kind, self.fixed, self.name = seen, kind, fixed, name
        self.correcting = correcting
        self.complete: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None
        self.state: FormState = kept(name)
        self.known = getattr(seen, "known", None)
        every = fields_of(kind.model.model_json_schema(), kind.name)
        self.fields = tuple(f for f in every if f.name not in fixed and f.name not in BY_PRESS)
        self.filled: Corrected | None = None
        self.given = {**_of_the_stage(self.known, kind.name), **given}
        if correcting is not None:
            self.filled = filled(self.fields, correcting)
            self.given = self.filled.texts

    def _inputs(self, fields: list[Field], wrong: Mapping[str, str]) -> None:
        """Draw fields two in a row, wide ones alone."""
        narrow: list[Field] = []
        for field in [*fields, None]:
            if field is not None and field.sort not in WIDE:
                narrow.append(field)
            if narrow and (field is None or field.sort in WIDE or len(narrow) == 2):
                for column, one in zip(st.columns(2), narrow, strict=False):
                    with column:
                        self._input(one, wrong)
                narrow = []
            if field is not None and field.sort in WIDE:
                self._input(field, wrong)

    def _key(self, name: str) -> str:
        return f"{self.name}.{self.state.id}.{name}"

    def _input(self, field: Field, wrong: Mapping[str, str]) -> None:
        key, given = self._key(field.name), self.given.get(field.name)
        some = offered(self.known, self.kind.name, field.name)
        remembered(self.state, field.name, key, _begin(field, given, some is not None))
        value = self._widget(field, key, some)
        self.state.typed[field.name] = value
        self._under(field, value, wrong.get(field.name, ""))

    def _widget(self, field: Field, key: str, some: Offered | None) -> Any:
        hint = self._hint(field)
        if field.sort == "switch":
            return st.checkbox(field.label, key=key)
        if field.sort == "choice":
            choices = [choice for choice in field.choices if choice]
            return st.selectbox(field.label, choices, key=key, placeholder=hint)
        if field.sort == "rows":
            return self._grid(field, key)
        if some is not None and field.sort == "text":
            return _pick(field.label, some, key, hint)
        if some is not None and field.sort == "lines":
            return st.multiselect(
                field.label, list(some.values), key=key, accept_new_options=some.open,
                placeholder=hint, format_func=some.label,
            )  # fmt: skip
        if field.sort in ("lines", "numbers", "positions"):
            return st.text_area(field.label, key=key, height=88, placeholder=hint)
        return st.text_input(field.label, key=key, placeholder=hint)

    def _grid(self, field: Field, key: str) -> Any:
        st.caption(field.label)
        st.session_state.pop(key, None)  # a grid keeps what was changed, not a value
        before = self.state.typed.get(f"{field.name} base")
        if before is None:
            import pandas as pd  # half a second, for a form with a table in it

            rows = self.given.get(field.name) or []
            before = pd.DataFrame(
                {column.label: [row.get(column.label) for row in rows] for column in field.columns},
                dtype=object,
            )
            self.state.typed[f"{field.name} base"] = before
        some = {c.label: offered(self.known, self.kind.name, c.name) for c in field.columns}
        edited = st.data_editor(
            before.astype(str).where(before.notna(), None) if len(before) else before.astype(str),
            num_rows="dynamic", key=f"{key}.grid", width="stretch",
            column_config=_lists(field, some, before),
        )  # fmt: skip
        for label, names in some.items():
            if names is not None and names.open:  # typed, or pressed: each begins a row
                st.pills(
                    f"{field.label}: {label}", names.values[:PRESSED], key=f"{key}.{label}.press",
                    on_change=partial(self._begin_row, field, key, label),
                )  # fmt: skip
        return edited.astype(object).where(edited.notna(), None).to_dict("records")

    def _begin_row(self, field: Field, key: str, label: str) -> None:
        """Add a row that begins with the name that was pressed; what was typed before stays."""
        import pandas as pd

        pressed = st.session_state.pop(f"{key}.{label}.press", None)
        rows = [row for row in self.state.typed.get(field.name) or () if any(row.values())]
        rows += [{label: pressed}] if pressed else []
        labels = [column.label for column in field.columns]
        self.state.typed[f"{field.name} base"] = pd.DataFrame(rows, columns=labels, dtype=object)
        st.session_state.pop(f"{key}.grid", None)

    def _hint(self, field: Field) -> str:
        left = form_order.LEFT_EMPTY.get(f"{self.kind.name}.{field.name}")
        if left and not self.correcting:
            ours = ", common practice" if left[0].isdigit() else ""  # a figure that nobody gave
            return f"if left empty: {left}{ours}"
        if field.sort == "position" and self._observer_field():
            return "from her track, if left empty"
        if field.default not in (None, "", [], ()) and field.sort != "switch":
            ours = ", common practice" if isinstance(field.default, int | float) else ""
            return f"if left empty: {field.default}{ours}"
        shown = {"position": "49 50.0N 008 30.0W", "time": "1044, 281044Z, -20 min"}
        return shown.get(field.sort) or field.help or ""

    def _under(self, field: Field, value: Any, fault: str) -> None:
        """Say under a field what was read, or what is wrong; the line is always there."""
        if fault:
            st.html(f'<div class="mp-fault" role="alert">! {escape(fault)}</div>')
            return
        read = ""
        if isinstance(value, str) and value.strip() and field.sort not in ("text", "choice"):
            read = self._read_words(field)
        st.html(f'<div class="mp-read">{escape(read)}&nbsp;</div>')

    def _read_words(self, field: Field) -> str:
        payload, _ = payload_of((field,), self.state.typed, self._now())
        return (
            f"read: {payload_words(payload, most=60, labels=False, kind=self.kind.name)}"
            if payload
            else ""
        )

    def _times(self, wrong: Mapping[str, str]) -> None:
        left, right = st.columns(2)
        for place, label, name in ((left, TRUE, VALID), (right, HEARD, HEARD_AT)):
            key = self._key(name)
            remembered(self.state, name, key, self.given.get(name, ""))
            told_time.field(label, self._now(), key, place=place)
            self.state.typed[name] = st.session_state.get(key, "")
            if fault := wrong.get(name):
                place.html(f'<div class="mp-fault" role="alert">! {escape(fault)}</div>')
        for label, name in ((WHOM, SOURCE), *(((("Why"), WHY),) if self.correcting else ())):
            key = self._key(name)
            remembered(self.state, name, key, self.given.get(name, ""))
            hint = self.seen.actor.name if name == SOURCE else "as heard again"
            self.state.typed[name] = st.text_input(label, key=key, placeholder=hint)

    def _now(self) -> datetime:
        """Return the journal's time: the page may have been drawn a while ago."""
        pen = getattr(self.seen, "pen", None)
        return pen.now() if pen is not None else self.seen.now

    def _observer_field(self) -> str:
        names = {field.name for field in self.fields}
        return "observer" if {"observer", ""} <= names and self.kind.name in OWN_PLACE else ""


def _lists(
    field: Field, some: Mapping[str, Offered | None], rows: Any
) -> dict[str, Any]:  # fmt: skip
    """Return the columns in which one of a list is chosen; what stands in a row stays choosable."""
    found = {}
    for column in field.columns:
        names = some[column.label]
        values = [choice for choice in column.choices if choice]
        if column.sort == "text" and names is not None and not names.open:
            values = list(names.values)
        if values:
            values += [one for one in rows[column.label] if one and one not in values]
            found[column.label] = st.column_config.SelectboxColumn(options=values)
    return found


def _of_the_stage(known: Known | None, kind: str) -> dict[str, Any]:
    """Return what a form begins with that is reckoned from the stage of alert: never another's."""
    if known is None or kind not in form_order.STAGE:
        return {}
    name, hour = form_order.STAGE[kind]
    declared = [e for e in known.entries("watch.stage") if e.value.stage != "ended"]
    if not declared:
        return {name: ""}
    last = max(declared, key=lambda e: (e.record.valid_at, e.record.seq))
    return {name: last.value.stage, hour: dtg(last.record.valid_at)}
