"""What the watch records of its own work: payloads, checked where they enter."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, model_validator

from layers.journal.kinds import Payload

Words = Annotated[str, Field(min_length=1, max_length=2_000)]
Short = Annotated[str, Field(min_length=1, max_length=200)]
Target = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]

STAGES = ("SUBLOOK", "SUBMISS", "SUBSUNK")  # ATP/MTP-57, in the order they are declared


class Note(Payload):
    """What was heard and is no fact, or lacks something to be one: nothing is made of it yet."""

    text: Words
    lacks: tuple[Words, ...] = ()


class Stage(Payload):
    """A stage of alert, declared at the record's ``valid_at``.

    ``next_due`` is when the next stage is declared if nothing is heard; ``ended`` closes the
    alert.
    """

    stage: Literal["SUBLOOK", "SUBMISS", "SUBSUNK", "ended"]
    basis: Words
    next_stage: Literal["SUBLOOK", "SUBMISS", "SUBSUNK"] | None = None
    next_due: AwareDatetime | None = None


class DecisionWay(Payload):
    """One way that was open when a decision was taken."""

    name: Short
    speaks_for: str = Field(default="", max_length=1_000)
    speaks_against: str = Field(default="", max_length=1_000)


class Decision(Payload):
    """What was decided, why, and what else was weighed.

    ``chosen`` names one of the options where there were several; ``replaces`` is the id of an
    earlier decision that this one supersedes, ``over`` of others that stood beside it.
    """

    what: Words
    reasons: Words
    decided_by: Short
    options: tuple[DecisionWay, ...] = ()
    chosen: str = Field(default="", max_length=200)
    replaces: Target | None = None
    over: tuple[Target, ...] = ()


class Assumption(Payload):
    """What is taken as true without having been reported, until it is settled."""

    what: Words
    because: str = Field(default="", max_length=1_000)
    holds_until: AwareDatetime | None = None


class Question(Payload):
    """What the watch has asked and waits to hear."""

    what: Words
    asked_of: Short
    wanted_by: AwareDatetime | None = None


class PointSettled(Payload):
    """How an assumption or a question ended: confirmed, fallen, answered or dropped.

    ``over`` names other answers to the same that this one settles against.
    """

    target: Target
    outcome: Literal["confirmed", "fallen", "answered", "dropped"]
    said: Words
    over: tuple[Target, ...] = ()


class Task(Payload):
    """Who does what by when, and when they next report."""

    who: Short
    what: Words
    due: AwareDatetime | None = None
    next_report_due: AwareDatetime | None = None
    latitude_deg: float | None = Field(default=None, ge=-90.0, le=90.0)
    longitude_deg: float | None = Field(default=None, ge=-180.0, le=180.0)


class TaskReport(Payload):
    """A report on a task; ``state`` says whether it goes on."""

    target: Target
    said: Words
    state: Literal["under way", "done", "broken off"] = "under way"
    next_report_due: AwareDatetime | None = None


class Listening(Payload):
    """A time agreed with the DISSUB at which it will transmit and the room will listen.

    ``kept_by`` names who listens.
    """

    at: AwareDatetime
    minutes: float = Field(default=10.0, gt=0.0, le=240.0)
    with_whom: Short
    means: Short = "underwater telephone"
    kept_by: str = Field(default="", max_length=200)


class ListeningKept(Payload):
    """What became of an agreed listening time; ``over`` names tellings that this one settles."""

    target: Target
    outcome: Literal["kept", "missed"]
    said: str = Field(default="", max_length=2_000)
    over: tuple[Target, ...] = ()


class Acknowledgement(Payload):
    """Somebody says that they have taken note of a record."""

    target: Target
    by: Short
    said: str = Field(default="", max_length=1_000)


class Handover(Payload):
    """The watch is handed over: given by one, since a time, with what matters most."""

    given_by: Short
    given_to: Short
    since: AwareDatetime
    matters: Words
    head_hash: str = Field(default="", max_length=64)


class Takeover(Payload):
    """The second signature under a handover; ``in_place_of``: by another than it was given to."""

    target: Target
    taken_by: Short
    said: str = Field(default="", max_length=1_000)
    in_place_of: str = Field(default="", max_length=200)
    over: tuple[Target, ...] = ()


class OnWatch(Payload):
    """Who is on watch in a room from now on, by office or initials."""

    who: Short
    room: str = Field(default="", max_length=60)
    server: str = Field(default="", max_length=80)


AlarmSort = Literal[
    "feed stale",
    "margin below",
    "window closing",
    "ETA slipped",
    "ship stopped",
    "datum moved",
    "place negative",
    "not accounted for rising",
]


class AlarmRule(Payload):
    """An alarm that the watch sets.

    ``about`` narrows it to one feed, refuge, operation or ship; empty stands for all of them.
    ``limit`` is in the unit of the sort: see ``layers/watch/alarms.py``.
    """

    sort: AlarmSort
    about: str = Field(default="", max_length=200)
    limit: float = 0.0
    on: bool = True
    replaces: Target | None = None


class Alarm(Payload):
    """An alarm that a rule raised; it stands until somebody acknowledges it by name.

    ``when`` is the clock time that it is about: how far off that is, is said when it is shown.
    """

    rule: Target
    about: str = Field(default="", max_length=200)
    said: Words
    when: AwareDatetime | None = None


class AlarmEnded(Payload):
    """What raised an alarm is no longer so; whether somebody took it is another matter."""

    target: Target


class AlarmTaken(Payload):
    """An alarm was acknowledged."""

    target: Target
    by: Short
    said: str = Field(default="", max_length=1_000)


class AlteredTaken(Payload):
    """Somebody took note that the journal was found altered; ``fault`` tells which finding."""

    fault: str = Field(pattern=r"^[0-9a-f]{16}$")
    told: Words
    by: Short
    said: str = Field(default="", max_length=1_000)


class Checklist(Payload):
    """A list of things to do in a stage or a phase, loaded by the user from a file."""

    name: Short
    when: Short
    items: tuple[Short, ...] = Field(min_length=1, max_length=200)
    loaded_from: Short


class Tick(Payload):
    """An item of a checklist was done, or found not done after all."""

    target: Target
    item: int = Field(ge=1, le=200)
    by: Short
    done: bool = True
    said: str = Field(default="", max_length=1_000)


class Marking(Payload):
    """The marking line that stands on every export from now on."""

    line: str = Field(max_length=200)


class Withholding(Payload):
    """What may be seen on the wall, or by readers, from now on; the watch sees everything."""

    audience: Literal["wall", "readers"]
    names: bool = False
    medical: bool = True
    exact_position: bool = True
    reason: Short


class Export(Payload):
    """An export was made: what, for whom, and what it stands on."""

    what: Short
    may_go_to: Short
    as_of: AwareDatetime
    shown_for: AwareDatetime
    head_hash: str = Field(max_length=64)
    digest: str = Field(default="", pattern=r"^([0-9a-f]{64})?$")
    withheld: tuple[Short, ...] = ()


class ExerciseClock(Payload):
    """What became of the exercise's clock; the record's ``valid_at`` is what it shows.

    ``stopped`` is written by the program when it was started again: the exercise had stood for
    ``stood_min``, and the watch is asked how it goes on. The others are the watch's answer, or
    its own setting of the clock.
    """

    how: Literal["stopped", "in step", "where it stood", "set"]
    stood_min: float | None = Field(default=None, ge=0.0)
    reason: str = Field(default="", max_length=200)


class InCharge(Payload):
    """Who holds an office from now on: the coordinator ashore, on scene, the rescue itself."""

    office: Short
    who: Short
    reach: str = Field(default="", max_length=200)


class Circuit(Payload):
    """Who is called on what: a frequency, an underwater telephone, a telephone number.

    ``in_use`` false strikes it from the list; ``kept_by`` says who keeps the watch on it.
    """

    who: Short
    how: Short
    when: str = Field(default="", max_length=200)
    kept_by: str = Field(default="", max_length=200)
    in_use: bool = True


class Promised(Payload):
    """A message to the boat: what she was told, what she expects when, what she hears next."""

    told: Words
    how: str = Field(default="", max_length=200)
    expects: str = Field(default="", max_length=1_000)
    expects_at: AwareDatetime | None = None
    tell_next: str = Field(default="", max_length=1_000)
    tell_by: AwareDatetime | None = None
    received: Literal["not known", "answered", "not answered"] = "not known"


class HelpAsked(Payload):
    """Who was asked for what, and the latest hour at which it still helps."""

    asked_of: Short
    what: Words
    helps_until: AwareDatetime | None = None
    because: str = Field(default="", max_length=1_000)


class HelpAnswered(Payload):
    """What was answered to a request for help, and by whom."""

    target: Target
    answer: Literal["yes", "no", "in part", "not yet"]
    by: Short
    there_at: AwareDatetime | None = None
    said: str = Field(default="", max_length=1_000)


class ToldOutside(Payload):
    """What was told to people outside: the families' office, the press, another government.

    ``answer`` names the answer of the plot that it was told from, ``answer_said`` how that
    answer read then; when it reads otherwise now, these people must be told again.
    """

    whom: Short
    told: Words
    answer: Literal["", "persons", "margin", "dive", "first_out"] = ""
    answer_said: str = Field(default="", max_length=1_000)


HalfDegree = Annotated[float, Field(multiple_of=0.5)]


class PlaceTold(Payload):
    """Where she is, as far as those are told who may not see her place: whole half degrees.

    The program proposes the least block that holds the 95 % and 10 nmi round it; nothing changes
    by itself. East may pass 180 where the block crosses there.
    """

    south_deg: HalfDegree = Field(ge=-90.0, le=90.0)
    north_deg: HalfDegree = Field(ge=-90.0, le=90.0)
    west_deg: HalfDegree = Field(ge=-180.0, le=180.0)
    east_deg: HalfDegree = Field(ge=-180.0, le=540.0)
    reason: str = Field(default="", max_length=1_000)

    @model_validator(mode="after")
    def _in_order(self) -> PlaceTold:
        if self.south_deg >= self.north_deg:
            raise ValueError("north_deg must be more than south_deg")
        if not self.west_deg < self.east_deg <= self.west_deg + 360.0:
            raise ValueError("east_deg must be more than west_deg, by 360 at most")
        return self


class Told(Payload):
    """What the watch tells outsiders exactly, in its own words: an answer, its value, its time."""

    answer: Literal["margin", "dive", "persons", "first out", "next decision", "sortie"]
    value: Short
    at: AwareDatetime
    audience: Literal["readers", "wall", "outside"]


class LetGo(Payload):
    """The words of a record, or of all of a kind written so far, may be read by outsiders."""

    target: Target | None = None
    kinds: tuple[Short, ...] = ()
    reason: str = Field(default="", max_length=1_000)

    @model_validator(mode="after")
    def _lets_something_go(self) -> LetGo:
        if self.target is None and not self.kinds:
            raise ValueError("name a record, or a kind of records")
        return self
