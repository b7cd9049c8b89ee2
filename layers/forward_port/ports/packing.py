"""Whether rectangles go on a rectangle: found, impossible, or not settled.

A packing that is found is an answer, and so is a reason why there can be none; between the two
lies *not settled*. Pieces stand along or across the deck, never askew.

References
----------
Bottom-left placement at corner points: Baker, Coffman & Rivest, Orthogonal packings in two
dimensions, SIAM J. Comput. 9 (1980), 846-855; from memory, not checked against the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, product

import numpy as np

Rectangle = tuple[float, float]
Placed = tuple[float, float, float, float]  # along, across, length, width
TRIES = 300
_SLACK = 1e-9


def impossible(pieces: Sequence[Rectangle], deck: Rectangle) -> str:
    """Return why the pieces can not stand on the deck, or an empty text."""
    length, width = deck
    for k, piece in enumerate(pieces, start=1):
        if not _ways(piece, deck):
            return f"piece {k} ({piece[0]:g} × {piece[1]:g} m) is larger than the deck"
    for one, other in combinations(pieces, 2):
        # two that do not overlap are apart along the deck or across it, whichever way they stand
        if not any(
            a[0] + b[0] <= length + _SLACK or a[1] + b[1] <= width + _SLACK
            for a, b in product(_ways(one, deck), _ways(other, deck))
        ):
            return (
                f"{one[0]:g} × {one[1]:g} m and {other[0]:g} × {other[1]:g} m do not go beside "
                "each other"
            )
    area = sum(a * b for a, b in pieces)
    if area > length * width + _SLACK:
        return f"{area:.4g} m² of pieces on {length * width:.4g} m²"
    return ""


def packed(pieces: Sequence[Rectangle], deck: Rectangle) -> tuple[Placed, ...] | None:
    """Return places for all the pieces, in their order; None where none was found.

    Parameters
    ----------
    pieces, deck : (length, width)
        Metres.
    """
    if impossible(pieces, deck):
        return None
    rng = np.random.default_rng(len(pieces))
    whole = range(len(pieces))
    orders = [
        sorted(whole, key=lambda k: -pieces[k][0] * pieces[k][1]),
        sorted(whole, key=lambda k: -max(pieces[k])),
        sorted(whole, key=lambda k: -min(pieces[k])),
    ]
    for attempt in range(TRIES):
        order = orders[attempt] if attempt < len(orders) else rng.permutation(len(pieces)).tolist()
        turned = rng.random(len(pieces)) < 0.5 if attempt >= len(orders) else np.zeros(len(pieces))
        found = _place(pieces, deck, order, turned.astype(bool).tolist())
        if found is not None:
            return found
    return None


def _ways(piece: Rectangle, deck: Rectangle) -> list[Rectangle]:
    return [
        way
        for way in (piece, piece[::-1])
        if way[0] <= deck[0] + _SLACK and way[1] <= deck[1] + _SLACK
    ]


def _place(
    pieces: Sequence[Rectangle], deck: Rectangle, order: Sequence[int], turned: Sequence[bool]
) -> tuple[Placed, ...] | None:
    held: dict[int, Placed] = {}
    for k in order:
        ways = _ways(pieces[k], deck)
        ways = ways[::-1] if turned[k] else ways
        place = next((spot for way in ways if (spot := _spot(way, deck, held.values()))), None)
        if place is None:
            return None
        held[k] = place
    return tuple(held[k] for k in range(len(pieces)))


def _spot(way: Rectangle, deck: Rectangle, held: Iterable[Placed]) -> Placed | None:
    """Return the lowest, then leftmost, corner at which a piece stands clear of the others."""
    others = list(held)
    along = sorted({0.0, *(x + length for x, _, length, _ in others)})
    across = sorted({0.0, *(y + width for _, y, _, width in others)})
    for y, x in product(across, along):
        if x + way[0] > deck[0] + _SLACK or y + way[1] > deck[1] + _SLACK:
            continue
        if all(
            x + way[0] <= a + _SLACK
            or a + c <= x + _SLACK
            or y + way[1] <= b + _SLACK
            or b + d <= y + _SLACK
            for a, b, c, d in others
        ):
            return x, y, way[0], way[1]
    return None
