"""The ground kept clear: who is under water, what is stopped for them, the warnings as drafts."""

from dashboard.panels import layer
from dashboard.panels.kept_clear import record, stands, warnings
from dashboard.view import current

seen = current()
if layer.head(seen, "kept_clear"):
    stands.show(seen)
    warnings.show(seen)
record.show(seen)
layer.foot(seen, "clear")
