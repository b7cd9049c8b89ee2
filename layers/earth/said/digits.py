"""One value told with more digits and with fewer: whether both tell the same."""

from __future__ import annotations


def near(a: float, b: float, digits: int, turn: float = 1e9) -> bool:
    """Return whether two values are one to so many decimals; ``turn`` is where they begin anew."""
    off = abs(float(a) - float(b)) % turn
    return min(off, turn - off) <= 0.5 * 10.0**-digits * 1.000001 + 1e-9


def fewer(a: float, b: float) -> int:
    """Return the decimals of the one that has fewer."""
    return min(decimals(a), decimals(b))


def decimals(value: float) -> int:
    """Return how many decimals a value is told with."""
    text = repr(float(value))
    if "e" in text:
        return 9  # smaller than any export writes
    return len(text.partition(".")[2].rstrip("0"))
