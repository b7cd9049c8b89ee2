"""What a press does is done whole: nothing that a page asks meanwhile breaks it off.

The framework lets a new request end the run of a page at any look at the session's state, also
within what a press does: a line was then recorded and still stood there as if it was not. What was
asked meanwhile is done right after. Where the framework no longer holds what is set aside here, the
press is done as it was, and the log says so.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from streamlit.runtime.scriptrunner import get_script_run_ctx

P = ParamSpec("P")
R = TypeVar("R")
HELD = "_yield_callback"
log = logging.getLogger(__name__)


def unbroken(act: Callable[P, R]) -> Callable[P, R]:
    """Return what a press does so that nothing breaks it off."""

    @wraps(act)
    def whole(*words: P.args, **named: P.kwargs) -> R:
        context = get_script_run_ctx()
        if context is None:
            return act(*words, **named)
        state = context.session_state
        before = vars(state).get(HELD)
        if before is None:
            log.warning("a press may be broken off: the framework holds no %s", HELD)
            return act(*words, **named)
        object.__setattr__(state, HELD, lambda: None)
        try:
            return act(*words, **named)
        finally:
            object.__setattr__(state, HELD, before)

    return whole
