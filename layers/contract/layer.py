"""A layer: one subject from feed to chart, table, sentence and answer, declared in one place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from layers.contract.declared import Answering, OwnStyle, Page
from layers.contract.feed import Feed
from layers.contract.moment import Moment
from layers.earth.chart.marks import AnyMark
from layers.earth.table import Table
from layers.earth.tells import NOTHING, Tells
from layers.earth.values import HandedOn
from layers.journal.kinds import Kind
from layers.journal.known import Known

Others = Mapping[str, HandedOn | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A layer: one subject from feed to chart, table and sentence.

    Parameters
    ----------
    key, title : str
        ``"weather"``, ``"Weather and sea state"``.
    kinds : tuple of Kind
        The records it owns.
    feeds : tuple of Feed
        What it reads.
    needs : tuple of str
        Keys of the layers whose value it uses.
    compute : callable
        ``compute(known, others, moment) -> result``; raises `InputError` when it has nothing to
        work on. The result is the layer's own frozen dataclass; it must have ``rests_on``, a
        tuple of record ids.
    hand : callable or None
        ``hand(result)``: the value other layers get.
    marks, table, sentence : callables of the result
        What is drawn, tabled and said; no arithmetic beyond formatting.
    tables : callable or None
        ``tables(result) -> dict[str, Table]``: further tables by title.
    also_reads : tuple of str
        Names of kinds owned elsewhere that it reads too.
    grain_s : float
        Two times closer than this give the same result.
    afterwards : tuple of str
        Keys of layers that need this one, whose value it uses as well. It is worked out without
        them first: that is what they get, and what they need. Then it is worked out with them,
        which is what everybody else gets and sees.
    stands : callable or None
        ``stands(result, others)``: whether what was worked out first holds with those too.
    patient : tuple of str
        Those of ``needs`` whose new records need not count at once. A layer that has some is
        worked out as everything was known at the last whole step of its grain, or at the last
        record of its own kinds and of its other needs, whichever is later.
    version : int
        Raised when the code would give another result for the same records.
    caution : str
        Stands beside the numbers and in exports.
    slow : bool
        Takes seconds: viewers are shown its last result, with its time, until the new one is
        there. No other layer may need it.
    first_look : callable or None
        For a slow layer: ``first_look(known, others, moment) -> result``, a rough result within a
        second. It is shown, marked as rough, until the whole one is there.
    errand : callable or None
        ``errand(result)``: the module and the words of a program that works out what takes minutes
        and makes later results better, empty for none. It runs beside everything, one at a time;
        nothing waits for it, and a result says what it lacks.
    page : Page or str or None
        The page that it owns, or the address of another layer's page that it is shown on. None:
        a generic page of its own, at its key.
    rank : int
        Its place wherever layers stand one after another in words: beside the chart, on paper,
        in the brief. Low first.
    report : str
        The lettered paragraph of the situation report that says its sentence.
    reported : callable or None
        ``reported(result)``: what the situation report says of it by paragraph, where its
        sentence is not of one alone: what is done stands among actions, not among plans.
    subject : str
        What its records are about, in the list of forms; its title where it is empty.
    brief_slide : bool
        The brief has a slide of its sentence over its table; False where `layers/scene/deck.py`
        shows it in another way.
    beside_chart : bool
        Its sentence stands in the box beside the chart.
    wall_line : callable or None
        ``wall_line(result)``: a few words for the wall, empty for none.
    styles : tuple of OwnStyle
        Styles of marks that are its own.
    tells : frozenset of Tells
        What its every line gives away. Where that is withheld it is not computed at all.
    without : tuple of str
        Names of the kinds it cannot do without: where a release cuts one of them, the layer is
        withheld there.
    answers : mapping of str to Answering
        Which of the watch's questions it answers, and how.
    told : callable or None
        ``told(known, moment)``: what is shown, and handed on, in place of it where it is
        withheld, from what the watch has told. None: it is withheld, and that is all.
    blind_to : frozenset of Tells
        What it reads and makes nothing of: its result is then shared with who may not see that.
    unfinished : callable or None
        ``unfinished(known)``: what of it speaks against calling the operation over, in words. It
        is asked about before an alert is ended or an incident closed, and listed then.
    """

    key: str
    title: str
    kinds: tuple[Kind, ...]
    feeds: tuple[Feed, ...]
    needs: tuple[str, ...]
    compute: Callable[[Known, Others, Moment], Any]
    hand: Callable[[Any], HandedOn] | None
    marks: Callable[[Any], tuple[AnyMark, ...]]
    table: Callable[[Any], Table]
    sentence: Callable[[Any], str]
    tables: Callable[[Any], dict[str, Table]] | None = None
    also_reads: tuple[str, ...] = ()
    grain_s: float = 60.0
    version: int = 1
    caution: str = ""
    slow: bool = False
    first_look: Callable[[Known, Others, Moment], Any] | None = None
    errand: Callable[[Any], tuple[str, ...]] | None = None
    patient: tuple[str, ...] = ()
    afterwards: tuple[str, ...] = ()
    stands: Callable[[Any, Others], bool] | None = None
    page: Page | str | None = None
    rank: int = 50
    report: str = "N"
    reported: Callable[[Any], Mapping[str, str]] | None = None
    subject: str = ""
    brief_slide: bool = True
    beside_chart: bool = True
    wall_line: Callable[[Any], str] | None = None
    styles: tuple[OwnStyle, ...] = ()
    tells: frozenset[Tells] = NOTHING
    without: tuple[str, ...] = ()
    answers: Mapping[str, Answering] = field(default_factory=dict, hash=False)
    told: Callable[[Known, Moment], Shown | None] | None = None
    blind_to: frozenset[Tells] = NOTHING
    unfinished: Callable[[Known], tuple[str, ...]] | None = None

    @property
    def address(self) -> str:
        """The address of the page it is shown on."""
        if isinstance(self.page, Page):
            return self.page.address
        return self.page or self.key

    @property
    def own_page(self) -> Page | None:
        """The page it owns, the generic one included; None when it stands on another's."""
        if isinstance(self.page, str):
            return None
        return self.page or Page(address=self.key, title=self.title, rank=33)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A layer's result, ready to be shown.

    ``closed`` says why pages may not work on the result itself, empty when they may: what is
    drawn and said is then what was told to an audience, and there is no result. ``handed`` is
    what other layers get of it all the same.
    """

    result: Any
    marks: tuple[AnyMark, ...]
    table: Table
    sentence: str
    tables: dict[str, Table]
    closed: str = ""
    handed: HandedOn | None = None

    @property
    def reason(self) -> str:
        """Why there is no result to work on."""
        return self.closed


@dataclass(frozen=True, slots=True, kw_only=True)
class Unavailable:
    """Why a layer has nothing to show; ``withheld`` when the release does not tell it.

    ``reason`` names what to ask for, ``short`` is its one clause for a headline. ``owed`` where
    something may well be known: its result is worked out still, or could not be.
    """

    reason: str
    withheld: bool = False
    short: str = ""
    owed: bool = False

    @property
    def headline(self) -> str:
        """Why there is nothing, short enough for the strip."""
        return self.short or self.reason
