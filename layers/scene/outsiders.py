"""What the watch may tell outsiders of her place: the least block, and whether one still holds.

Nothing changes by itself: the program proposes, the watch records.
"""

from __future__ import annotations

from layers.catalogue import BY_KEY
from layers.earth.block import Block, block_round
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.values import DatumValue
from layers.picture import Picture, hand_on


def proposed(made: Picture) -> Block | None:
    """Return the least block of half degrees that holds the 95 % and 10 nmi round it.

    None while nobody knows where she is, or where her place is withheld from who asks.
    """
    shown = made.layers.get("datum")
    value = None if shown is None else hand_on(BY_KEY["datum"], shown)
    if not isinstance(value, DatumValue) or not isinstance(value.where, Position):
        return None
    if value.radius_95_m is None:
        return None
    try:
        return block_round(value.where, value.radius_95_m)
    except InputError:
        return None  # about a pole no block holds her


def lies_outside(made: Picture, block: Block) -> bool:
    """Whether the block that is told no longer holds what it should: she, and 10 nmi round her."""
    wanted = proposed(made)
    if wanted is None:
        return False
    west = (wanted.west_deg - block.west_deg) % 360.0
    return not (
        block.south_deg <= wanted.south_deg
        and wanted.north_deg <= block.north_deg
        and west + (wanted.east_deg - wanted.west_deg) <= block.east_deg - block.west_deg
    )
