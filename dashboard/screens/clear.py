"""The ground kept clear: who is under water, what is stopped for them, the warnings as drafts."""

from collections.abc import Callable
from functools import partial

from dashboard.panels import layer
from dashboard.panels.kept_clear import record, stands, warnings
from dashboard.view import current

seen = current()
parts: dict[str, Callable[[], object]] = {}
if layer.head(seen, "kept_clear"):
    stands.show(seen)
    parts["Warnings to shipping and airmen, drafts"] = partial(warnings.show, seen)
if seen.writable:
    parts["Record who is under water, what was stopped, or the area"] = partial(record.show, seen)
layer.foot(seen, "clear", parts)
