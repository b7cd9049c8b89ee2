"""A form for any kind of record: everything people type enters here.

What most people know stands first, the rest is folded. What was read stands under each field;
what is wrong is said there and beside the button, all at once, in the form's own words. The same
form, filled, corrects a record. It carries an id made when it opened, so that sent twice on a bad
line it is still one record.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import partial
from html import escape
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.tools import form_order, told_time
from dashboard.tools.choices import Offered, offered
from dashboard.tools.correcting import Corrected, correction, filled, number_text
from dashboard.tools.fields import Field, fields_of, label_errors, payload_of
from dashboard.tools.kept import Kept, kept, remembered
from dashboard.tools.said_twice import same_as
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.errors import InputError, MusterplotError
from layers.earth.said.times import ACCEPTED as ACCEPTED_TIMES
from layers.journal.kinds import Kind
from layers.journal.known import Entry
from layers.journal.record import Draft, form_identity
from layers.journal.words.fields import in_plain_words
from layers.journal.words.payloads import payload_words

TRUE, HEARD, WHOM = "When it was true", "When it was heard", "From whom"
VALID, HEARD_AT, SOURCE, WHY = "form valid", "form heard", "form source", "form why"
WHOLE = "the form as a whole"
# what arrives by file or is made by the program itself, never by hand
NOT_TYPED = frozenset(
    {
        "journal.correct", "weather.forecast", "transponders.depth_grid",
        "transponders.chart_cell", "watch.export", "watch.alarm", "watch.clock",
    }
)  # fmt: skip
PRESSED = 6  # names offered below a field
WIDE = ("rows", "lines", "numbers", "positions", "position")


def typed_kinds() -> dict[str, Kind]:
    """Return the kinds that people type, by name: the first hour's first."""
    found = {name: kind for name, kind in KINDS.items() if name not in NOT_TYPED}
    return dict(sorted(found.items(), key=lambda pair: form_order.rank(pair[0])))


def show(
    seen: Seen,
    kind: Kind,
    *,
    given: Mapping[str, Any] | None = None,
    fixed: Mapping[str, Any] | None = None,
    correcting: Entry | None = None,
    complete: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None,
    key: str = "",
) -> bool:
    """Show the form of one kind; return False, for the page runs anew by itself.

    Parameters
    ----------
    seen : Seen
        Who is looking, and the pen.
    kind : Kind
        What is typed.
    given : mapping, optional
        What stands in the fields when the form opens, as it would be typed.
    fixed : mapping, optional
        Fields that are not asked: they go into the record as they are.
    correcting : Entry, optional
        The record that is corrected; its form is filled with what holds now.
    complete : callable, optional
        ``complete(payload)`` gives what is put into the record beside what was typed.
    key : str
        Tells two forms of one kind on a page apart.
    """
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return False
    fixed = dict(fixed or {})
    if given and "target" in given:
        fixed |= {"target": given["target"]}
    about = f"form.{kind.name}.{key}" + (f".{correcting.id}" if correcting else "")
    form = _Form(seen, kind, dict(given or {}), fixed, correcting, about)
    form.complete = complete
    form.draw()
    return False


class _Form:
    """One form as it is drawn in one run."""

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
        self.state: Kept = kept(name)
        self.known = getattr(seen, "known", None)
        every = fields_of(kind.model.model_json_schema(), kind.name)
        self.fields = tuple(field for field in every if field.name not in fixed)
        self.filled: Corrected | None = None
        self.given = given
        if correcting is not None:
            self.filled = filled(self.fields, correcting)
            self.given = self.filled.texts

    # -- drawing ---------------------------------------------------------------------------------

    @st.fragment
    def draw(self) -> None:
        """Draw the form; each field typed draws it again, and nothing else."""
        self.state = kept(self.name)
        title = self.kind.title[:1].upper() + self.kind.title[1:]
        with st.container(border=True, key=_css(self.name)):
            st.markdown(f"**{'Correct: ' if self.correcting else ''}{title}**")
            wrong = self._errors()
            first = [f for f in self.fields if form_order.stands_first(
                self.kind.name, f.name, f.required)]  # fmt: skip
            rest = [field for field in self.fields if field not in first]
            self._inputs(first, wrong)
            if rest:
                open_ = any(field.name in wrong and self.state.tried for field in rest)
                with st.expander("More, if known", expanded=open_):
                    self._inputs(rest, wrong)
            self._times(wrong)
            self._act(wrong)
        if self.state.rerun:
            self.state.rerun = False
            st.rerun()

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
            rows = self.given.get(field.name) or []
            before = pd.DataFrame(
                {column.label: [row.get(column.label) for row in rows] for column in field.columns},
                dtype=object,
            )
            self.state.typed[f"{field.name} base"] = before
        edited = st.data_editor(
            before.astype(str).where(before.notna(), None) if len(before) else before.astype(str),
            num_rows="dynamic", key=f"{key}.grid", width="stretch",
        )  # fmt: skip
        return edited.astype(object).where(edited.notna(), None).to_dict("records")

    def _hint(self, field: Field) -> str:
        left = form_order.LEFT_EMPTY.get(f"{self.kind.name}.{field.name}")
        if left and not self.correcting:
            return f"if left empty: {left}"
        if field.sort == "position" and self._observer_field():
            return "from her track, if left empty"
        if field.default not in (None, "", [], ()) and field.sort != "switch":
            return f"if left empty: {field.default}"
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

    def _act(self, wrong: Mapping[str, str]) -> None:
        """Draw the button with what became of the record, always in sight."""
        state = self.state
        with st.container(key=f"act_{_css(self.name)}"):
            words = "Correct it" if self.correcting else "Record it"
            st.button(words, key=f"{self.name}.record", on_click=partial(self._record, False))
            if state.twice:
                st.html(f'<div class="mp-fault" role="alert">{escape(state.twice)}</div>')
                again, leave = st.columns(2)
                again.button("Record it again", key=f"{self.name}.again",
                             on_click=partial(self._record, True))  # fmt: skip
                leave.button("Leave it", key=f"{self.name}.leave", on_click=self._leave)
            elif state.refused:
                st.html(f'<div class="mp-fault" role="alert">! {escape(state.refused)}</div>')
            elif state.tried and wrong:
                st.html(f'<div class="mp-fault" role="alert">{escape(self._summary(wrong))}</div>')
            elif state.said:
                st.html(f'<div class="mp-said" role="status">{escape(state.said)}</div>')

    def _summary(self, wrong: Mapping[str, str]) -> str:
        labels = {field.name: field.label for field in self.fields}
        labels |= {VALID: TRUE, HEARD_AT: HEARD}
        if WHOLE in wrong:
            return wrong[WHOLE]
        count = "one field" if len(wrong) == 1 else f"{len(wrong)} fields"
        each = "; ".join(f"{labels.get(name, name)}: {why}" for name, why in wrong.items())
        return f"{count} to mend. {each}"

    # -- reading ---------------------------------------------------------------------------------

    def _now(self) -> datetime:
        """Return the journal's time: the page may have been drawn a while ago."""
        pen = getattr(self.seen, "pen", None)
        return pen.now() if pen is not None else self.seen.now

    def _observer_field(self) -> str:
        names = {field.name for field in self.fields}
        return "observer" if {"observer", ""} <= names and self.kind.name in OWN_PLACE else ""

    def _read_all(self) -> tuple[dict[str, Any], dict[str, str]]:
        """Return the payload and, by field, what is wrong with what was typed."""
        typed = self._typed()
        payload, wrong = payload_of(self.fields, typed, self._now())
        return {**payload, **self.fixed}, wrong

    def _typed(self) -> dict[str, Any]:
        """Return what stands in the fields, with what is put where nothing was typed."""
        typed = dict(self.state.typed)
        for field in self.fields:
            key = self._key(field.name)
            if field.sort != "rows" and key in st.session_state:
                typed[field.name] = st.session_state[key]
            left = form_order.LEFT_EMPTY.get(f"{self.kind.name}.{field.name}")
            if left and not typed.get(field.name) and self.correcting is None:
                who = (typed.get(SOURCE) or "").strip() or self.seen.actor.name
                typed[field.name] = who if left == form_order.WHO_TOLD else left
        for name in (VALID, HEARD_AT, SOURCE, WHY):
            typed[name] = st.session_state.get(self._key(name), typed.get(name) or "")
        return typed

    def _errors(self) -> dict[str, str]:
        """Return what is to be said at the fields now; what is missing only once it was tried."""
        typed = self._typed()
        payload, wrong = payload_of(self.fields, typed, self._now())
        if not self.state.tried:
            empty = {f.name for f in self.fields if typed.get(f.name) in (None, "", [])}
            return {name: why for name, why in wrong.items() if name not in empty}
        own = self._own_place(typed, payload)
        wrong = {name: why for name, why in wrong.items() if name != "" or own is None}
        whole = {**payload, **self.fixed, **(own or {})}
        by_field, rest = label_errors(self.kind, self.fields, whole)
        wrong = by_field | wrong
        return wrong | self._time_errors(typed) | ({WHOLE: rest} if rest and not wrong else {})

    def _time_errors(self, typed: Mapping[str, Any]) -> dict[str, str]:
        found = {}
        for name, label, ahead in (
            (HEARD_AT, HEARD, None), (VALID, TRUE, timedelta(seconds=self.kind.future_s)),
        ):  # fmt: skip
            try:
                told_time.read(
                    typed[name], label, self._now(), **({"ahead": ahead} if ahead else {})
                )
            except InputError as reason:
                found[name] = f"{reason.what}; accepted: {reason.accepted or ACCEPTED_TIMES}"
        return found

    def _own_place(
        self, typed: Mapping[str, Any], payload: Mapping[str, Any]
    ) -> dict[str, Any] | None:
        """Return the observer's place from her track, where nobody told it."""
        if not self._observer_field() or typed.get("") or self.known is None:
            return None
        from layers.tracks.own_place import own_place

        try:
            at = told_time.read(typed.get(VALID) or "", TRUE, self._now())
        except InputError:
            return None
        found = own_place(self.known, str(payload.get("observer") or ""), at)
        if found is None:
            return None
        place = {"latitude_deg": found.position.latitude_deg,
                 "longitude_deg": found.position.longitude_deg}  # fmt: skip
        return place | ({"position_sigma_m": round(found.sigma_m, 1)}
                        if "position_sigma_m" in {f.name for f in self.fields} else {})  # fmt: skip

    # -- recording -------------------------------------------------------------------------------

    def _leave(self) -> None:
        self.state.twice = ""

    def _record(self, again: bool) -> None:
        """Record what was typed, or say what is wrong; runs before the form is drawn."""
        state = self.state = kept(self.name)
        state.tried, state.said, state.refused, state.twice = True, "", "", ""
        if self._errors():
            return
        typed = self._typed()
        payload, _ = self._read_all()
        payload |= self._own_place(typed, payload) or {}
        if self.complete is not None:
            payload |= self.complete(payload)
        try:
            draft = self._draft(payload, typed)
            if draft is None:
                state.refused = "nothing was changed"
                return
            if not again and self.correcting is None:
                state.twice = same_as(self.seen.pen, draft)
                if state.twice:
                    return
            done = self.seen.pen.append(self.seen.actor, [draft])
        except MusterplotError as reason:
            state.refused = in_plain_words(_sentence(reason, self.kind), self.kind.name)
            return
        number = done.records[0].seq if done.records else ""
        title = f"correction of the {self.kind.title}" if self.correcting else self.kind.title
        said = payload_words(draft.payload.get("fields", draft.payload), most=160)
        state.begin_anew(
            f"Recorded as No. {number}: {title}, true at {dtg(draft.valid_at)}; {said}"
        )

    def _draft(self, payload: dict[str, Any], typed: Mapping[str, Any]) -> Draft | None:
        now = self._now()
        heard_at = told_time.read(typed[HEARD_AT], HEARD, now)
        if self.correcting is not None and self.filled is not None:
            return correction(
                self.fields, self.filled, self.correcting, payload, typed, now,
                self.seen.actor.name, self.state.id,
            )  # fmt: skip
        ahead = timedelta(seconds=self.kind.future_s)
        return Draft(
            kind=self.kind.name,
            payload=payload,
            valid_at=told_time.read(typed[VALID], TRUE, heard_at, ahead=ahead),
            heard_at=heard_at,
            source=str(typed[SOURCE]).strip() or self.seen.actor.name,
            identity=form_identity(self.state.id),
            version=self.kind.version,
        )


# kinds whose observer's place is taken from her track
OWN_PLACE = frozenset({"datum.bearing", "datum.range", "datum.heard", "weather.observation"})


def _sentence(reason: MusterplotError, kind: Kind) -> str:
    if not isinstance(reason, InputError):
        return str(reason)
    accepted = f"; accepted: {reason.accepted}" if reason.accepted else ""
    return f"{reason.what}{accepted}"


def _css(name: str) -> str:
    return "".join(letter if letter.isalnum() else "_" for letter in name)


def _begin(field: Field, given: Any, offers: bool) -> Any:
    """Return what stands in a field when the form opens, as its widget wants it."""
    if field.sort == "switch":
        return bool(field.default if given is None else given)
    if field.sort == "choice":
        return None if given in (None, "") else str(given)
    if field.sort == "lines":
        lines = [str(each) for each in given or ()]
        return lines if offers else "\n".join(lines)
    if given is None:
        return ""
    return given if isinstance(given, str) else number_text(field, given)


def _pick(label: str, some: Offered, key: str, hint: str) -> Any:
    """Draw a name that may be one of those there are: typed, or pressed below.

    A list that takes a new name forgets what was typed in it without Enter; a field does not.
    """
    if some.open:
        typed = st.text_input(label, key=key, placeholder=hint)
        if not typed:
            st.pills(
                label, some.values[:PRESSED], key=f"{key}.press", label_visibility="collapsed",
                on_change=partial(_press, key),
            )  # fmt: skip
        return typed
    values = list(some.values)
    now = st.session_state.get(key)
    if now == "":
        st.session_state[key] = None
    elif now is not None and now not in values:
        values.append(now)
    return st.selectbox(
        label, values, key=key, format_func=some.label, placeholder=hint or "choose"
    )


def _press(key: str) -> None:
    """Put a name that was pressed into its field."""
    st.session_state[key] = st.session_state.get(f"{key}.press") or ""


def choose(seen: Seen, key: str = "any") -> None:
    """Show a choice of kinds, the first hour's first, and the form of the one chosen."""
    kinds = typed_kinds()

    def reads(name: str) -> str:
        return f"{form_order.SUBJECTS[name.split('.')[0]]}: {kinds[name].title}"

    name = st.selectbox(
        "What is reported or decided",
        list(kinds),
        format_func=reads,
        key=f"kind_choice.{key}",
        index=None,
        placeholder="type a word of it: bearing, wind, air, lift, task",
    )
    if name is not None:
        show(seen, kinds[name], key=key)
