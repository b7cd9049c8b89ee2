"""What somebody has typed into a form: kept through any click, page and lost link.

A widget that is not drawn loses what was typed in it. So it is copied beside, under the form's
own name, and put back when the form is drawn again; it goes when it is recorded.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any

import streamlit as st


@dataclass(slots=True)
class FormState:
    """One form's state in a session.

    ``typed`` is by field; ``tried`` says that Record was pressed, so that what is missing is
    named; ``said`` what was recorded last, ``refused`` why the journal would not take it,
    ``twice`` what is there already.
    """

    id: str = field(default_factory=lambda: uuid.uuid4().hex)
    typed: dict[str, Any] = field(default_factory=dict)
    tried: bool = False
    said: str = ""
    refused: str = ""
    twice: str = ""
    rerun: bool = False

    def begin_anew(self, said: str) -> None:
        """Be ready for the next record, saying what became of this one."""
        self.id, self.typed = uuid.uuid4().hex, {}
        self.tried, self.refused, self.twice = False, "", ""
        self.said, self.rerun = said, True


def kept(name: str) -> FormState:
    """Return the state of a form by its name."""
    held: FormState = st.session_state.setdefault(f"{name}.kept", FormState())
    return held


def remembered(form: FormState, name: str, key: str, given: Any) -> None:
    """Put back what was typed in a field whose widget has not been drawn meanwhile."""
    if key not in st.session_state:
        st.session_state[key] = form.typed.get(name, given)
