"""What a release sees of net, sound and seabed: nothing, where her place is withheld.

The water was measured where she lies, and a depth grid that was cut for the search has her near
its middle.
"""

from __future__ import annotations

from layers.journal.releases.rules import PLACE, Rule

RULES: dict[str, Rule] = dict.fromkeys(
    (
        "transponders.profile",
        "transponders.drop",
        "transponders.range",
        "transponders.between",
        "transponders.box_in_errors",
        "transponders.state",
        "transponders.typed_fix",
        "transponders.sound_source",
        "transponders.listener",
        "transponders.depth_grid",
        "transponders.chart_cell",
    ),
    PLACE,
)
