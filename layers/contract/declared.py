"""The parts of a layer's declaration: its page, the styles of its marks, what it answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from layers.contract.moment import Moment
from layers.earth.chart.marks import Symbol


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page of the screen that a layer owns.

    Parameters
    ----------
    address : str
        In the address bar: ``"weather"``. A file of that name in ``dashboard/screens`` adds
        panels; without one the page is the generic one.
    title : str
        On the link to it.
    rank : int
        Its place among the links, low first.
    """

    address: str
    title: str
    rank: int = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStyle:
    """A style of marks that only this layer draws; those of all layers are in ``earth``.

    Parameters
    ----------
    name : str
        What a mark's ``style`` says: ``"ice"``.
    word : str
        In the legend: ``"ice reported"``.
    symbol : Symbol
        In the legend.
    night, day : str
        Its ink on the dark and on the light ground (paper has the light one), ``#rrggbb``; at
        least 4.5 to 1 against sea and land.
    """

    name: str
    word: str
    symbol: Symbol
    night: str
    day: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answering:
    """How a layer answers one of the watch's questions.

    Parameters
    ----------
    make : callable
        ``make(result, moment)``: a form of `layers.earth.uncertain` that holds a type of
        `layers.earth.told`, or a tuple of those types (a margin a refuge, inputs). ``result`` is
        the layer's own.
    without : tuple of str
        Names of the kinds it cannot do without. Where a release cuts one of them the answer is
        *withheld*, whatever there is of it, and is not computed.
    """

    make: Callable[[Any, Moment], object]
    without: tuple[str, ...] = ()

    def __call__(self, result: Any, moment: Moment) -> object:
        """Return the answer."""
        return self.make(result, moment)
