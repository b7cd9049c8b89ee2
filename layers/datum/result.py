"""What the datum layer works out: frozen results, numbers with their error and time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from layers.datum.model import WrongChances
from layers.datum.probability.containment import Grid
from layers.datum.search.model import Searcher
from layers.datum.search.patterns import Pattern
from layers.earth.arrays import Floats
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.told import PlaceShare
from layers.earth.values import Ellipse, HullLies


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """How one report looks on the chart; what is not given is not drawn."""

    place: Position | None = None
    bearing_true_deg: float | None = None
    sigma_deg: float | None = None
    range_m: tuple[float, ...] = ()
    track: tuple[Position, ...] = ()
    radius_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One report as it counts, and what it does to the answer.

    Parameters
    ----------
    key : str
        Id of the record.
    says : str
        What was reported, in words, with units.
    state : str
        "counts", "suspended", "counts in part", "set aside" or "noted" (on the chart only).
    why : str
        Reason of a weighting, or why it was set aside.
    chance_wrong : float or None
        That the report is simply wrong, judged by all the others; None when it does not count.
    shift_m, radius_without_m : float or None
        How far the datum moves, and the 95 % radius, without it.
    agreement : str
        "agrees", "doubtful" or "does not fit the rest", in words; may be empty.
    """

    key: str
    kind: str
    says: str
    source: str
    at: datetime
    heard_at: datetime
    drawn: Drawn
    weight: float = 1.0
    state: str = "counts"
    why: str = ""
    disputed: bool = False
    chance_wrong: float | None = None
    shift_m: float | None = None
    radius_without_m: float | None = None
    residual: str = ""
    agreement: str = ""
    on_the_bottom: bool = False  # it says that she lay on the bottom at its time
    observer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerEffect:
    """What all reports that share one owner's error add to the answer together."""

    owner: str
    reports: int
    shift_m: float
    radius_without_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FarthestOn:
    """How far she can have got from the last known position, until when, at what speed."""

    radius_m: float
    until: datetime
    speed_kn: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """Where something will be: particles by time, all as likely.

    Parameters
    ----------
    at_us : tuple of int
        UTC microseconds, ascending; one time alone for what does not move.
    x_m, y_m : ndarray, shape (times, n)
        Places on the result's plane.
    """

    at_us: tuple[int, ...]
    x_m: npt.NDArray[np.float32]
    y_m: npt.NDArray[np.float32]

    def places(self, at_us: float) -> tuple[Floats, Floats]:
        """Return the places at a time, on a straight line between two that are held."""
        if len(self.at_us) == 1:
            return self.x_m[0].astype(np.float64), self.y_m[0].astype(np.float64)
        row = int(np.clip(np.searchsorted(self.at_us, at_us) - 1, 0, len(self.at_us) - 2))
        span = self.at_us[row + 1] - self.at_us[row]
        part = max((at_us - self.at_us[row]) / span, 0.0)
        x = self.x_m[row] + part * (self.x_m[row + 1] - self.x_m[row])
        y = self.y_m[row] + part * (self.y_m[row + 1] - self.y_m[row])
        return x.astype(np.float64), y.astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Adrift:
    """An object of search on the surface, where it is expected at the time shown."""

    name: str
    object_type: str
    persons: int | None
    still_sought: bool
    state: str  # in words: sought, found by whom, suspended by whom
    given_up: bool  # the search for it is suspended; it is adrift all the same
    found_at: Position | None  # where it was found, when that was told
    position: Position
    radius_95_m: float
    ellipse: Ellipse
    grid: Grid
    from_place: Position
    from_at: datetime
    at: datetime
    leeway_words: str
    rests_on: tuple[str, ...]
    ahead: Ahead
    notes: tuple[str, ...] = ()
    still_there: float = 1.0  # probability left after its own negative searches


@dataclass(frozen=True, slots=True, kw_only=True)
class LossSpan:
    """When she was lost: 5, 50 and 95 %, and the first and last time that was possible.

    ``narrowed`` says whether a report bears on it; if not, it is not known but for the span.
    """

    p5: datetime
    p50: datetime
    p95: datetime
    first: datetime
    last: datetime
    narrowed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Localisation:
    """Whether the 95 % circle is within the limit; ``why`` says what forbids to rely on it."""

    yes: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsed:
    """A searcher nothing is planned for, and what to ask."""

    name: str
    why: str
    ask: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What one searcher is to steer, and what those very legs are worth.

    Parameters
    ----------
    pos : float
        Chance that these legs find it, when those planned before have not.
    coverage : float
        Sweep width times searching track over the area of the box.
    outline : tuple of Position
        Corners of the box at the start.
    middle, length_m, width_m, bearing_true_deg : Position, float
        The same box by its middle; the length lies along the bearing.
    creep_true_deg : float or None
        Direction in which the tracks follow each other.
    others : tuple of (str, float)
        The other kinds of pattern that were tried, with what they would find.
    starts_from : Position
        Where he comes from to it: his place, or the end of his watch before.
    height_m : float or None
        Of an aircraft, kept apart from others there at that time; None: nothing to keep apart.
    """

    searcher: Searcher
    pattern: Pattern
    leaves_for_it: datetime
    begins: datetime
    ends: datetime
    must_leave: datetime
    pos: float
    coverage: float
    spacing_m: float
    outline: tuple[Position, ...]
    middle: Position
    length_m: float
    width_m: float
    bearing_true_deg: float
    creep_true_deg: float | None
    others: tuple[tuple[str, float], ...]
    record: str
    starts_from: Position
    height_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SentPlan:
    """A plan as it was sent and is steered: corners with times, and what it was then worth."""

    searcher: str
    pattern: str
    turns: tuple[Position, ...]
    times: tuple[datetime, ...]
    searching: tuple[bool, ...]
    sweep_width_m: float
    begins: datetime
    ends: datetime
    pos: float
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchPlan:
    """The plan for one object: who steers what from now, and who is asked first.

    ``pos`` is the chance that all of them together find it, if it is there at all.
    """

    object: str
    at: datetime
    planned: tuple[Planned, ...]
    lapsed: tuple[Lapsed, ...]
    pos: float
    sent: tuple[SentPlan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """What the searches that saw nothing have proved."""

    before: Grid
    after: Grid
    probability_seen: float  # that all of them together would have seen her, had she been there
    left_outside: float  # probability outside what was searched


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedContact:
    """A contact on the bottom ranked against the wrecks that are charted."""

    key: str
    says: str
    position: Position
    from_datum_m: float
    length_m: float | None
    nearest_wreck: str
    wreck_m: float | None
    chance_dissub: float
    identified: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DatumResult:
    """Where she most probably is.

    Parameters
    ----------
    at : datetime
        Time shown.
    position, radius_95_m : Position, float
        Most probable position, and the radius about it that holds 95 %.
    circle_centre, circle_radius_m : Position, float
        The smallest circle that holds 95 %.
    grid : Grid
        Probability by cell on ``plane``.
    localised : bool
        The circle is within the limit, and not by one unconfirmed thing adrift.
    dead_reckoning : Position or None
        Where she would be by her intended movement, while no report is overdue or until then.
    places : tuple of PlaceShare
        The heaps of the probability, the greatest first; ``position`` lies in that one.
    position_from : str
        What the position rests on most, in words.
    """

    at: datetime
    plane: Plane
    position: Position
    radius_95_m: float
    position_from: str
    places: tuple[PlaceShare, ...]
    ellipse: Ellipse
    circle_centre: Position
    circle_radius_m: float
    along_m: float  # length of the strip or circle that holds 95 %, along its longest way
    grid: Grid
    is_fix: bool
    localised: bool
    not_localised_for: str
    limit_across_nmi: float
    depth_m: float | None
    lost: LossSpan
    overdue: bool
    evidence: tuple[Evidence, ...]
    owners: tuple[OwnerEffect, ...]
    wrong_chances: WrongChances
    wrong_chances_by: str
    reports: int
    last_heard: datetime
    last_known: Position | None
    last_known_at: datetime | None
    last_known_sigma_m: float | None
    track: tuple[Position, ...]
    dead_reckoning: Position | None
    dead_reckoning_sigma_m: float | None
    dead_reckoning_at: datetime | None
    farthest_on: FarthestOn | None
    adrift: tuple[Adrift, ...]
    ahead: Ahead  # of the DISSUB
    plans: tuple[SearchPlan, ...]
    contacts: tuple[RankedContact, ...]
    searched: Searched | None
    collapse: str
    hull: HullLies | None  # how she lies, as far as it was told
    contradictions: tuple[str, ...]
    notes: tuple[str, ...]
    moved: str
    prior_words: str
    effective: float
    particles: int
    rests_on: tuple[str, ...]
