"""What absorbent takes, by how it is used and how cold it is; wide, for published figures are few.

An entered figure counts as it is when it was told for the temperature there. Told for no
temperature, or used colder than told, less is counted: between what the cold leaves at worst and
all of it.
"""

from __future__ import annotations

import math

from layers.survivors.air.model import Stock

# Hydroxide beds fell to "as low as 20 %" of their capacity in 2 °C water (Nuckols et al., OCEANS
# 2011, abstract). That nothing is lost at 20 °C, and the straight line between, are ours.
COLD_C, COLD_SHARE, WARM_C = 2.0, 0.2, 20.0
COLD_SOURCE = "hydroxide beds kept as little as 20 % in 2 °C water (Nuckols et al., OCEANS 2011)"


def least_share(temperature_c: float) -> float:
    """Return the least share of its capacity that cold leaves to a bed, 0 to 1."""
    part = (temperature_c - COLD_C) / (WARM_C - COLD_C)
    return COLD_SHARE + (1.0 - COLD_SHARE) * min(max(part, 0.0), 1.0)


def cold_share(temperature_c: float | None, told_for_c: float | None) -> tuple[float, float]:
    """Return the share of the entered capacity that counts, and its standard deviation.

    Anything between the least that cold leaves and all is held alike. With no temperature read,
    that of the coldest bed is taken at the worst.
    """
    least = least_share(COLD_C if temperature_c is None else temperature_c)
    if told_for_c is not None:
        least = min(least / least_share(told_for_c), 1.0)
    return (1.0 + least) / 2.0, (1.0 - least) / math.sqrt(12.0)


def absorbs(stock: Stock, temperature_c: float | None) -> tuple[float, float]:
    """Return mol of carbon dioxide a stock takes where it is used, and the spread as a share.

    Parameters
    ----------
    stock : Stock
        Anything but absorbent takes nothing.
    temperature_c : float or None
        Of the refuge; None when it was never read.
    """
    if stock.item != "absorbent":
        return 0.0, 0.0
    mean, sigma = cold_share(temperature_c, stock.told_for_c)
    share = math.hypot(sigma / mean, stock.use_spread)
    return stock.absorbs_mol * mean, share


def doubt(stock: Stock, temperature_c: float | None) -> str:
    """Return what is to be said of how much absorbent is counted, empty when all of it."""
    if stock.item != "absorbent" or stock.none_left:
        return ""
    mean, _ = cold_share(temperature_c, stock.told_for_c)
    said = []
    if mean < 1.0:
        least = 2.0 * mean - 1.0
        told = "no temperature" if stock.told_for_c is None else f"{stock.told_for_c:g} °C"
        here = "an unread temperature" if temperature_c is None else f"{temperature_c:g} °C"
        said.append(
            f"its figure is told for {told} and it is used at {here}: between {least:.0%} and all "
            f"of it is counted; {COLD_SOURCE}"
        )
    if stock.use_spread:
        said.append(
            f"no figure was told, so {stock.share_of_most:.0%} of what chemistry allows is taken "
            f"for {stock.use} use ({stock.use_source})"
        )
    return f"Absorbent ({stock.chemical}): {'; '.join(said)}." if said else ""
