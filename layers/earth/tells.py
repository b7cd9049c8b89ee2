"""What a record, a mark, a table or a layer gives away, where an audience may not have it.

Declared where the thing is made, beside its words, so that who adds something says what it
tells. Nothing is cut by these words alone: a release reads less of the journal and everything is
computed from that. They say what must not be left when it was read so, and which layers have
nothing to say then.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from layers.earth.errors import InputError


class Tells(StrEnum):
    """One sort of thing that may be withheld."""

    POSITION = "position"  # where she is, finer than the block that was told
    MEDICAL = "medical"  # the state of persons: fitness, air, exposure
    PERSON = "person"  # who somebody is


NOTHING: frozenset[Tells] = frozenset()
TELLS_POSITION = frozenset({Tells.POSITION})
TELLS_MEDICAL = frozenset({Tells.MEDICAL})
TELLS_PERSON = frozenset({Tells.PERSON})
POSITION_WITHHELD = "the place of the DISSUB is withheld here"


def checked(words: Iterable[str], where: str) -> frozenset[Tells]:
    """Return privacy words as `Tells`.

    Raises
    ------
    InputError
        A word is unknown; ``where`` names who said it.
    """
    accepted = ", ".join(Tells)
    for word in words:
        if word not in set(Tells):
            raise InputError(f"{word!r} is not a privacy word", where=where, accepted=accepted)
    return frozenset(Tells(word) for word in words)
