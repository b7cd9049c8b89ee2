"""A form for any kind of record: everything people type enters here.

What most people know stands first, the rest is folded. What was read stands under each field;
what is wrong is said there and beside the button, all at once, in the form's own words. The same
form, filled, corrects a record. It carries an id made when it opened, so that sent twice on a bad
line it is still one record.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from functools import partial
from html import escape
from typing import Any

import streamlit as st

from dashboard.panels.lost import not_yet
from dashboard.tools.forms import order as form_order, told_time
from dashboard.tools.forms.correcting import HEARD_AT, SOURCE, VALID, WHY, correction
from dashboard.tools.forms.fields import label_errors, payload_of
from dashboard.tools.forms.inputs import HEARD, TRUE, FormInputs
from dashboard.tools.forms.kept import kept
from dashboard.tools.forms.said_twice import same_as
from dashboard.tools.forms.widgets import WHOLE, _css
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import dtg
from layers.earth.errors import AskedFirst, InputError, JournalAway, MusterplotError
from layers.earth.said.times import ACCEPTED as ACCEPTED_TIMES
from layers.journal.kinds import Kind
from layers.journal.known import Entry
from layers.journal.record import Draft, form_identity
from layers.journal.words.fields import in_plain_words
from layers.journal.words.payloads import payload_words

# what arrives by file or is made by the program itself, never by hand
NOT_TYPED = frozenset(
    {
        "journal.correct", "weather.forecast", "transponders.depth_grid",
        "transponders.chart_cell", "watch.export", "watch.look", "watch.alarm", "watch.clock",
    }
)  # fmt: skip


def typed_kinds() -> dict[str, Kind]:
    """Return the kinds that people type, by name: the first hour's first."""
    found = {name: kind for name, kind in KINDS.items() if name not in NOT_TYPED}
    return dict(sorted(found.items(), key=lambda pair: form_order.rank(pair[0])))


def show_one_of(
    seen: Seen, kinds: Sequence[str], *, chooser: str, key: str, label: str = "What is reported"
) -> None:
    """Show the form of one of several kinds, chosen by its title.

    ``chooser`` is the widget that chooses, ``key`` the form's, each by the name it is kept under.
    """
    chosen = st.selectbox(label, kinds, format_func=lambda name: KINDS[name].title, key=chooser)
    if chosen:
        show(seen, KINDS[chosen], key=key)


def show(
    seen: Seen,
    kind: Kind,
    *,
    given: Mapping[str, Any] | None = None,
    fixed: Mapping[str, Any] | None = None,
    correcting: Entry | None = None,
    complete: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None,
    key: str = "",
) -> None:
    """Show the form of one kind; what is recorded there runs the page anew.

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
        return
    fixed = dict(fixed or {})
    if given and "target" in given:
        fixed |= {"target": given["target"]}
    about = f"form.{kind.name}.{key}" + (f".{correcting.id}" if correcting else "")
    form = _Form(seen, kind, dict(given or {}), fixed, correcting, about)
    form.complete = complete
    form.draw()


class _Form(FormInputs):
    """One form as it is drawn in one run."""

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
        if not (wrong or rest) and self._nothing_told(whole):
            rest = "nothing was told: every figure is as it stands by itself; change one first"
        return wrong | self._time_errors(typed) | ({WHOLE: rest} if rest and not wrong else {})

    def _nothing_told(self, whole: Mapping[str, Any]) -> bool:
        """Whether a record would say only what holds without it."""
        fields = self.kind.model.model_fields
        if self.correcting or any(field.is_required() for field in fields.values()):
            return False
        told = self.kind.model.model_validate(whole)
        return all(
            getattr(told, name) == field.get_default(call_default_factory=True)
            for name, field in fields.items()
        )

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

    @unbroken
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
                state.twice = self._same_as(draft)
                if state.twice:
                    return
            done = self.seen.pen.append(self.seen.actor, [draft])
        except AskedFirst as question:
            state.twice = f"{question.what} ({question.accepted})"
            return
        except MusterplotError as reason:
            state.refused = in_plain_words(_sentence(reason), self.kind.name)
            return
        title = f"correction of the {self.kind.title}" if self.correcting else self.kind.title
        said = payload_words(draft.payload.get("fields", draft.payload), most=160)
        number = done.records[0].seq if done.records else ""
        head = f"Recorded as No. {number}"
        if done.waiting:
            head = not_yet(done.waiting, self._now())
        state.begin_anew(f"{head}: {title}, true at {dtg(draft.valid_at)}; {said}")

    def _same_as(self, draft: Draft) -> str:
        try:
            return same_as(self.seen.pen, draft)
        except JournalAway:
            return ""  # what the journal holds can not be asked; it is when it is back

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


def _sentence(reason: MusterplotError) -> str:
    if not isinstance(reason, InputError):
        return str(reason)
    accepted = f"; accepted: {reason.accepted}" if reason.accepted else ""
    return f"{reason.what}{accepted}"


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
