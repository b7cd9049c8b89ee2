"""How far a report may be off: as stated, more than stated, or simply wrong.

A stated error is somebody's own estimate of it, and seldom exact; a wrong report is off by
anything from a little to a lot. So three cases stand side by side for each report: its error is
as stated; it was stated too small, by up to a factor of two; it is wrong, with a law that falls
off as slowly as any (Cauchy's), or by anything alike. A report slightly off is thereby let go by
degrees, not kept or dropped. How much a report's own error is doubted follows from its chance of
being wrong: who grades the one grades the other. The parts are common practice, no source;
tests/datum_calibration.py tells what they hold. These laws hold what they say over blunders of
all sizes; of one size they need not. Worst is a bearing off by two and a half times its error,
too near to be seen as wrong and too far to be right: with one of five such, 200 losses, the 50,
90 and 95 % regions held 38, 83 and 92.5 of 100. More understated errors (1.25 for `DOUBT`, 2.5
for `WIDE`) would hold 42, 86 and 91 there, and 57 for 50 of honest ones; a factor common to all
reports would hold 96 of 95, with twice the area.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from layers.earth.errors_shared import ROOT_TWO_PI

Reals = npt.NDArray[np.floating[Any]]
DOUBT = 0.5  # times the chance of a wrong one: that its error is understated
NEAR = 0.9  # of the wrong ones follow Cauchy's law; the others are off by anything alike
WIDE = 4.0  # half width of that law, times the stated error


def doubt(wrong: float) -> float:
    """Return the part of the reports that are not wrong whose error was stated too small."""
    return DOUBT * wrong


def right_law(off: Reals, variance: Reals | float, wrong: float) -> Reals:
    """Return the density of a report that is not wrong, times the chance of that.

    Half of the understated errors are larger by a root of two, half by two; the normal laws of
    these are roots of the first.
    """
    understated = doubt(wrong)
    one = np.exp(off * off / (-2.0 * variance))
    mixed = (1.0 - understated) * one
    if understated > 0.0:
        root = np.sqrt(one)
        mixed = mixed + understated * (0.5 / np.sqrt(2.0) * root + 0.25 * np.sqrt(root))
    return np.asarray((1.0 - wrong) * mixed / (np.sqrt(variance) * ROOT_TWO_PI))


def doubled_law(off: Reals, variance: Reals | float, wrong: float) -> Reals:
    """Return the part of `right_law` whose error is twice the stated one."""
    mixed = 0.25 * doubt(wrong) * np.exp(off * off / (-8.0 * variance))
    return np.asarray((1.0 - wrong) * mixed / (np.sqrt(variance) * ROOT_TWO_PI))


def wrong_law(off: Reals, variance: Reals | float, span: float) -> Reals:
    """Return the density of a wrong report, off by up to ``span`` either way."""
    squared = WIDE**2 * np.asarray(variance)
    near = np.sqrt(squared) / (np.pi * (off * off + squared))
    return np.asarray(NEAR * near + (1.0 - NEAR) * 0.5 / span)
