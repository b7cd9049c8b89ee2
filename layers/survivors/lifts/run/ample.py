"""The air if the stores that nobody told of never end: the other end of what can be said.

Without a count no store is counted, so that what is worked out is *at least*. With all the stores
one could wish for, the gases that they hold end nothing; what else ends first is then the most.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from layers.earth.arrays import Ints
from layers.survivors.air.endurance import Endurance
from layers.survivors.lifts.run.windows import NEVER

Unstored = Mapping[str, Mapping[str, str]]  # by refuge and quantity of a level, what is not told


def without_stored(endurance: Sequence[Endurance], unstored: Unstored) -> tuple[Endurance, ...]:
    """Return the levels that no store which nobody told of could put off."""
    return tuple(one for one in endurance if one.quantity not in unstored.get(one.refuge, {}))


def ample_s(
    limit: Mapping[str, Ints], others: Mapping[str, Ints], unstored: Unstored
) -> dict[str, Ints]:
    """Return by refuge the latest its first level may be reached, where stores could put it off.

    Parameters
    ----------
    limit, others : mapping of refuge to ndarray, shape (n_draws,)
        When the first level is reached, with all levels and with :func:`without_stored`, seconds.
    """
    found = {}
    for refuge, asked in unstored.items():
        if asked and refuge in limit:
            most = others.get(refuge, np.full_like(limit[refuge], NEVER))
            if (most > limit[refuge]).any():
                found[refuge] = most
    return found


def put_off(refuge: str, limit: Mapping[str, Ints], ample: Mapping[str, Ints]) -> bool:
    """Return whether stores that nobody told of may put off the middle of the first level."""
    if refuge not in ample or refuge not in limit:
        return False
    return float(np.median(ample[refuge])) > float(np.median(limit[refuge]))
