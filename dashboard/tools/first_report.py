"""The first report of a boat that is missed: what was typed on its card, as records.

One field is enough. Each is read by itself, as people say it, and what it means stands under it
at once. What nobody told is not invented; where a record cannot be without it, what is taken is
said (an accuracy of 5 nmi, now for when she was last heard).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from layers.earth.clock import clock_words, day_hhmm, dtg, relative_words
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.said.direction import told_direction
from layers.earth.said.parse import parse_position
from layers.earth.said.quantity import COUNT, LENGTH, SPEED, figure, parse, printed
from layers.earth.said.times import SLACK, told_time
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.words.fields import WITHIN_95
from layers.watch.model import STAGES

WITHIN_NMI = 5.0  # taken where nobody says how good a last known position is
LABELS = {
    "name": "Name",
    "length": "Length",
    "on_board": "On board",
    "good_to": "Good to: within, 95 %",
    "position": "Last known position",
    "movement": "Course and speed",
    "run": "Intended to run, if told",
    "heard": "Last heard",
    "due": "Report due",
    "stage": "Stage",
    "since": "Since",
    "next": "Next stage at",
    "source": "From whom",
}
_PEOPLE = re.compile(r"([\d.,\s]*\d)\s*(.*)", re.DOTALL)
_COURSE = re.compile(
    r"(?:(?P<course>\d{3}(?:[.,]\d+)?)\s*(?P<sense>°?\s*(?:T|TRUE|M|MAG|MAGNETIC|°)?))?"
    r"(?:[\s,/]+|$)?(?P<speed>\d{1,2}(?:[.,]\d+)?\s*(?:KN|KNOTS?|KTS?|M/S|KM/H)?)?",
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRead:
    """What was read of the card.

    ``said`` and ``wrong`` are by field; ``drafts`` are the records it would become.
    """

    said: Mapping[str, str] = field(default_factory=dict)
    wrong: Mapping[str, str] = field(default_factory=dict)
    drafts: tuple[Draft, ...] = ()
    place: Position | None = None


def read(typed: Mapping[str, str], now: datetime, who: str, form_id: str) -> CardRead:
    """Return what the card says.

    Parameters
    ----------
    typed : mapping of str to str
        By the names in `LABELS`; what is empty was not told.
    now : datetime
        The clock it is said by, UTC.
    who : str
        Whoever types, for when nobody is named.
    form_id : str
        Makes it one report however often it is sent.
    """
    card = _Card(typed, now)
    drafts = card.drafts(typed.get("source", "").strip() or who, form_id)
    return CardRead(said=card.said, wrong=card.wrong, drafts=tuple(drafts), place=card.place)


def told(known: Known, now: datetime) -> dict[str, str]:
    """Return what is told already of each field of the card, by a line or a card before it.

    So nobody tells it twice, and the card shows what is still open.
    """
    found: dict[str, str] = {}
    for entry in known.entries("survivors.boat"):
        boat = entry.value
        found |= {"name": boat.name} if boat.name else {}
        found |= {"length": printed(boat.length_m, "m")} if boat.length_m else {}
        if boat.last_heard_at:
            found["heard"] = day_hhmm(boat.last_heard_at)
    parts = {e.value.part: e.value.persons for e in known.entries("survivors.complement")}
    if parts:
        found["on_board"] = ", ".join(f"{count} {part}" for part, count in parts.items())
    course, speeds = "", ""
    for entry in known.entries("datum.intended_movement"):
        way = entry.value
        if way.course_true_deg is not None:
            course = f"{way.course_true_deg:03.0f}°T"
        if way.speed_min_kn is not None and way.speed_max_kn is not None:
            least, most = (figure(kn) for kn in (way.speed_min_kn, way.speed_max_kn))
            speeds = f"{most} kn" if least == most else f"{least} to {most} kn"
        found |= {"run": printed(way.length_nmi, "nmi")} if way.length_nmi else {}
        if way.report_due is not None:
            found["due"] = day_hhmm(way.report_due)
    if course or speeds:
        found["movement"] = " ".join(filter(None, (course, speeds)))
    stages = known.entries("watch.stage")
    if stages:
        last = max(stages, key=lambda entry: (entry.record.valid_at, entry.record.seq))
        found["stage"] = f"{last.value.stage}, {clock_words(last.record.valid_at, now)}"
    return {name: f"told already: {words}" for name, words in found.items()}


class _Card:
    def __init__(self, typed: Mapping[str, str], now: datetime) -> None:
        self.typed, self.now = typed, now
        self.said: dict[str, str] = {}
        self.wrong: dict[str, str] = {}
        self.place: Position | None = None

    def _field(self, name: str, reader: Callable[[str], tuple[Any, str]]) -> Any:
        """Return what a field says, or None; what it means, or why not, is kept."""
        text = (self.typed.get(name) or "").strip()
        if not text:
            return None
        try:
            value, said = reader(text)
        except InputError as reason:
            accepted = f"; accepted: {reason.accepted}" if reason.accepted else ""
            self.wrong[name] = f"{reason.what}{accepted}"
            return None
        self.said[name] = said if name == "name" else f"read: {said}"
        return value

    def drafts(self, source: str, form_id: str) -> list[Draft]:
        """Return the records; fields that cannot be read are left out of them."""
        heard = self._field("heard", self._heard)
        at = heard or self.now
        found: list[tuple[str, dict[str, Any], datetime]] = []
        found += self._boat(heard)
        found += self._people()
        found += self._position(at, source)
        found += self._movement(at)
        found += self._stage()
        return [
            Draft(
                kind=kind,
                payload=payload,
                valid_at=when,
                heard_at=self.now,
                source=source,
                identity=form_identity(f"{form_id} {kind}"),
            )
            for kind, payload, when in found
        ]

    def _boat(self, heard: datetime | None) -> list[tuple[str, dict[str, Any], datetime]]:
        name = self._field("name", lambda text: (text, ""))
        length = self._field("length", self._length)
        told = {"name": name, "length_m": length,
                "last_heard_at": heard.isoformat() if heard else None}  # fmt: skip
        told = {key: value for key, value in told.items() if value is not None}
        return [("survivors.boat", told, self.now)] if told else []

    def _people(self) -> list[tuple[str, dict[str, Any], datetime]]:
        found = self._field("on_board", _people)
        if found is None:
            return []
        count, part = found
        return [("survivors.complement", {"part": part, "persons": count}, self.now)]

    def _position(self, at: datetime, source: str) -> list[tuple[str, dict[str, Any], datetime]]:
        good = self._field("good_to", self._good_to)
        place: Position | None = self._field("position", _position)
        if place is None:
            return []
        self.place = place
        # while the accuracy is not read the place is drawn all the same; it is not recorded so
        within = good if good is not None else WITHIN_NMI * 1852.0
        if good is None and "good_to" not in self.wrong:
            self.said["good_to"] = f"not told: within {WITHIN_NMI:g} nmi taken; it can be corrected"
        if "heard" not in self.said and "heard" not in self.wrong:
            self.said["heard"] = "not told: taken as now"
        payload = {
            "latitude_deg": place.latitude_deg,
            "longitude_deg": place.longitude_deg,
            "sigma_m": within / WITHIN_95,
            "reported_by": source,
        }
        if good is None:
            payload["note"] = f"no accuracy told, within {WITHIN_NMI:g} nmi taken"
        return [("datum.lkp", payload, at)]

    def _movement(self, at: datetime) -> list[tuple[str, dict[str, Any], datetime]]:
        moved = self._field("movement", _course_speed) or {}
        run = self._field("run", self._run)
        due = self._field("due", self._due)
        told = dict(moved)
        if run is not None:
            told["length_nmi"] = run
        if due is not None:
            told["report_due"] = due.isoformat()
        if not told:
            return []
        speed = moved.get("speed_max_kn")
        if run is not None and speed:
            hours = run / speed
            self.said["run"] += f", {hours:.1f} h at {speed:g} kn"
        return [("datum.intended_movement", told, at)]

    def _stage(self) -> list[tuple[str, dict[str, Any], datetime]]:
        stage = (self.typed.get("stage") or "").strip()
        since = self._field("since", self._heard)
        by = self._field("next", self._due)
        if not stage:
            for name in ("since", "next"):
                if name in self.said:
                    self.wrong[name] = "of which stage?; accepted: press one of the three first"
            return []
        at = since or self.now
        payload: dict[str, Any] = {"stage": stage, "basis": "as heard"}
        said = f"read: {stage}, {dtg(at)}"
        if by is not None:
            following = STAGES.index(stage) + 1
            if following == len(STAGES):
                self.wrong["next"] = "SUBSUNK is the last stage"
                return []
            if by <= at:
                self.wrong["next"] = f"not after {clock_words(at, self.now)}, when {stage} began"
                return []
            payload |= {"next_stage": STAGES[following], "next_due": by.isoformat()}
            said += f"; {STAGES[following]} if nothing is heard by {clock_words(by, self.now)}"
        self.said["stage"] = said
        return [("watch.stage", payload, at)] if "since" not in self.wrong else []

    # -- readers of one field -------------------------------------------------------------------

    def _length(self, text: str) -> tuple[float, str]:
        value = parse(text, LENGTH, "m", least=5.0, most=250.0)
        if not 5.0 <= value <= 250.0:
            raise InputError(f"{printed(value, 'm')} is no length of a boat", accepted="5 to 250 m")
        return value, printed(value, "m")

    def _good_to(self, text: str) -> tuple[float, str]:
        value = parse(text, LENGTH, "m", least=1.0, most=1_000_000.0)
        if value <= 0.0:
            raise InputError("nothing is that good", accepted="such as 2 nmi, 3704 m")
        return value, f"within {distance_words(value)}, with 95 %"

    def _run(self, text: str) -> tuple[float, str]:
        value = parse(text, LENGTH, "nmi", least=0.1, most=3_000.0)
        if not 0.0 < value <= 3_000.0:
            raise InputError("no run of a boat", accepted="up to 3000 nmi")
        return value, printed(round(value, 3), "nmi")

    def _heard(self, text: str) -> tuple[datetime, str]:
        at = told_time(text, self.now, ahead=SLACK)
        return at, f"{dtg(at)}, {relative_words(at, self.now)}"

    def _due(self, text: str) -> tuple[datetime, str]:
        at = told_time(text, self.now)
        gone = "missed " if at < self.now else ""
        return at, f"{day_hhmm(at)}, {gone}{relative_words(at, self.now)}"


def distance_words(metres: float) -> str:
    """Return a distance in nautical miles, in metres below half a mile."""
    if metres < 926.0:
        return printed(round(metres), "m")
    return printed(round(metres / 1852.0, 2), "nmi")


def _people(text: str) -> tuple[tuple[int, str], str]:
    found = _PEOPLE.fullmatch(text)
    if found is None:
        raise InputError(f"{text[:40]!r} is no number of people", accepted="52, or 52 sailing list")
    count = parse(found[1], COUNT, "one", least=1, most=2_000)
    words = found[2].strip()
    part = words if words.lower() not in ("", *COUNT.spelled) else "all on board"
    if count != int(count) or not 1 <= count <= 2_000:
        raise InputError(f"{text[:40]!r} is no number of people", accepted="1 to 2000")
    return (int(count), part), f"{int(count)}, {part}"


def _position(text: str) -> tuple[Position, str]:
    place = parse_position(text, "")
    return place, str(place)


def _course_speed(text: str) -> tuple[dict[str, float], str]:
    found = _COURSE.fullmatch(text.strip())
    if found is None or not (found["course"] or found["speed"]):
        raise InputError(f"{text[:40]!r} is no course and speed", accepted="065T 8 kn, 065/8, 8 kn")
    told: dict[str, float] = {}
    said = []
    if found["course"]:
        degrees, sense = told_direction(f"{found['course']}{found['sense'].strip()}")
        if sense not in ("", "true"):
            raise InputError(f"{text[:40]!r} is {sense}", accepted="a course true: 065T")
        told["course_true_deg"] = degrees % 360.0
        said.append(f"{degrees:03.0f}°T")
    if found["speed"]:
        if not found["course"] and not re.search("[a-z]", found["speed"], re.IGNORECASE):
            raise InputError(f"{text[:40]!r}: course or speed?", accepted="065T 8 kn, 8 kn")
        speed = parse(found["speed"], SPEED, "kn", least=0.0, most=60.0)
        if not 0.0 < speed <= 60.0:
            raise InputError(f"{printed(speed, 'kn')} is no speed of a boat", accepted="to 60 kn")
        told |= {"speed_min_kn": speed, "speed_max_kn": speed}
        said.append(f"at {printed(speed, 'kn')}")
    return told, " ".join(said)
