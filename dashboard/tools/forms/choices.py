"""What exists already, offered where a field wants the name of it: nobody types a key."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from layers.datum.adrift.leeway import BY_KEY
from layers.journal.known import Entry, Known
from layers.journal.words.payloads import payload_words
from layers.survivors.muster.model import PlaceSort
from layers.survivors.muster.muster import place_sorts

LONGEST = 70  # letters of a record in a list
MOST = 400
# fields that name a record -> the kinds of record that they may name
TARGETS: dict[str, tuple[str, ...]] = {
    "watch.settled.target": ("watch.question", "watch.assumption"),
    "watch.task_report.target": ("watch.task",),
    "watch.listening_kept.target": ("watch.listening",),
    "watch.takeover.target": ("watch.handover",),
    "watch.alarm_taken.target": ("watch.alarm",),
    "watch.tick.target": ("watch.checklist",),
    "watch.help_answered.target": ("watch.help_asked",),
    "watch.decision.replaces": ("watch.decision",),
    "watch.alarm_rule.replaces": ("watch.alarm_rule",),
    "datum.weighting.target": (
        "datum.bearing", "datum.range", "datum.sighting", "datum.heard", "datum.contact",
        "datum.time_difference", "datum.negative_search",
    ),
}  # fmt: skip


# the journal refuses another name in these; in all others a new one may be typed
MUST_EXIST = frozenset(
    {
        "refuge", "refuges", "refuge_order", "place", "from_place", "to_place", "vehicle", "lift",
        "option", "activity", "after", "chosen",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """Values to choose from, how each reads, and whether another may be typed."""

    values: tuple[str, ...]
    labels: dict[str, str]
    open: bool = True

    def label(self, value: str) -> str:
        """Return how a value reads."""
        return self.labels.get(value, value)


def offered(known: Known | None, kind: str, field: str) -> Offered | None:
    """Return what exists for a field, or None where anything may be typed.

    Parameters
    ----------
    known : Known or None
        The records that count; None offers nothing.
    kind, field : str
        Name of the kind and of its field.
    """
    if known is None:
        return None
    last = field.rsplit(".", 1)[-1]
    if (target := TARGETS.get(f"{kind}.{field}")) is not None or last == "target":
        return _records(known, target or tuple(known.kinds))
    if last == "object_type":
        return _drifting()
    names = _NAMES.get(f"{kind}.{last}") or _NAMES.get(last)
    if names is None:
        return None
    found = tuple(dict.fromkeys(name for name in names(known) if name))[:MOST]
    return Offered(values=found, labels={}, open=last not in MUST_EXIST) if found else None


def _records(known: Known, kinds: Iterable[str]) -> Offered:
    entries: list[Entry] = []
    for name in kinds:
        if name in known.kinds and not known.kinds[name].columns:
            entries += known.entries(name)
    entries.sort(key=lambda entry: -entry.record.seq)
    labels = {entry.id: record_label(known, entry) for entry in entries[:MOST]}
    return Offered(values=tuple(labels), labels=labels, open=False)


def record_label(known: Known, entry: Entry) -> str:
    """Return a record as it is picked from a list: its number, its kind, what it says."""
    title = known.kinds[entry.record.kind].title
    said = payload_words(entry.value.model_dump(mode="json", exclude_unset=True), most=LONGEST)
    return f"No. {entry.record.seq} {title}: {said}"


def _drifting() -> Offered:
    return Offered(values=tuple(BY_KEY), labels={}, open=True)


def _values(kind: str, *fields: str) -> Callable[[Known], list[str]]:
    def names(known: Known) -> list[str]:
        if kind not in known.kinds:
            return []
        entries = known.entries(kind)
        return [str(getattr(e.value, field)) for field in fields for e in reversed(entries)]

    return names


def _any(*makers: Callable[[Known], list[str]]) -> Callable[[Known], list[str]]:
    return lambda known: [name for make in makers for name in make(known)]


def _places(*sorts: PlaceSort) -> Callable[[Known], list[str]]:
    def names(known: Known) -> list[str]:
        return [name for name, sort in place_sorts(known).items() if not sorts or sort in sorts]

    return names


_SHIPS = _any(
    _values("tracks.vessel", "name"),
    _values("datum.searcher", "name"),
    _values("datum.bearing", "observer"),
    _values("datum.range", "observer"),
    _values("datum.heard", "observer"),
    _values("datum.sighting", "observer"),
)
_REFUGES = _places(PlaceSort.REFUGE)
_VEHICLES = _values("survivors.vehicle", "name")
_CHAMBERS = _values("survivors.chamber", "name")
_PORTS = _values("forward_port.port", "name")
_OPTIONS = _values("forward_port.option", "key")
_ACTIVITIES = _values("forward_port.activity", "key")
_HOSPITALS = _values("survivors.hospital", "hospital")
_ENDS = _any(_PORTS, _values("forward_port.airfield", "name"), _HOSPITALS)
_DROPS = _values("transponders.drop", "transponder")
_ASKED = _values("watch.help_asked", "asked_of")
_OBJECTS = _any(lambda _known: ["DISSUB"], _values("datum.object", "name"))
_NAMES: dict[str, Callable[[Known], list[str]]] = {
    "observer": _SHIPS,
    "searcher": _SHIPS,
    "ship": _any(_SHIPS, _values("forward_port.ship", "name"), _values("survivors.ship", "name")),
    "who": _SHIPS,
    "with_whom": _any(lambda _known: ["the boat"], _SHIPS),
    "weather.observation.station": _any(_SHIPS, _values("weather.station", "station")),
    "datum.searcher.name": _SHIPS,
    "tracks.position.subject": _any(_values("tracks.vessel", "subject"), _SHIPS),
    "object": _OBJECTS,
    "refuge": _REFUGES,
    "refuges": _REFUGES,
    "refuge_order": _REFUGES,
    "place": _places(),
    "from_place": _places(),
    "to_place": _places(),
    "seat": _any(_values("survivors.seat", "seat"), _values("weather.seat", "seat")),
    "vehicle": _VEHICLES,
    "add_vehicle": _VEHICLES,
    "chamber": _CHAMBERS,
    "add_chamber": _CHAMBERS,
    "chambers_of": _values("survivors.ship", "name"),
    "lift": _values("survivors.lift", "key"),
    "response": _OPTIONS,
    "option": _OPTIONS,
    "options": _OPTIONS,
    "backwards_of": _OPTIONS,
    "activity": _ACTIVITIES,
    "after": _ACTIVITIES,
    "sight": _ACTIVITIES,
    "ready": _ACTIVITIES,
    "last": _ACTIVITIES,
    "by_way": _OPTIONS,
    "home_after": _ACTIVITIES,
    "held_by": _SHIPS,
    "kept_at": _ENDS,
    "bound_for": _ENDS,
    "port_or_hospital": _ENDS,
    "forward_port.held.what": _any(_VEHICLES, _values("forward_port.held", "what")),
    "forward_port.ready_again.what": _any(_values("forward_port.held", "what"), _VEHICLES),
    "port": _PORTS,
    "airfield": _values("forward_port.airfield", "name"),
    "airport": _values("forward_port.airfield", "name"),
    "berth": _values("forward_port.berth", "name"),
    "aircraft": _values("forward_port.aircraft", "name"),
    "trailer": _values("forward_port.trailer", "name"),
    "road": _values("forward_port.road", "name"),
    "leg": _values("forward_port.leg", "key"),
    "route": _values("tracks.route", "name"),
    "transponder": _DROPS,
    "one": _DROPS,
    "other": _DROPS,
    "transponders.typed_fix.subject": _any(_VEHICLES, _SHIPS),
    "into": _OBJECTS,
    "split_from": _OBJECTS,
    "carried_by": _SHIPS,
    "alongside": _ACTIVITIES,
    "standard": _PORTS,
    "reported_by": _SHIPS,
    "datum.object_found.by": _SHIPS,
    "watch.help_answered.by": _ASKED,
    "asked_of": _any(_ASKED, _values("watch.question", "asked_of"), _SHIPS),
    "whom": _any(
        lambda _known: ["families' office", "press"], _values("watch.told_outside", "whom")
    ),
    "zero_is": _any(_values("watch.stage", "stage"), lambda _known: ["sailing"]),
    "pod": _values("survivors.pod", "pod"),
    "craft": _values("survivors.craft", "craft"),
    "group": _values("survivors.in_water", "group"),
    "chosen": _any(_OPTIONS, _values("survivors.decision", "key")),
    "office": _any(
        lambda _known: ["SSRA", "OSC", "search and rescue coordinator", "rescue coordinator"],
        _values("watch.in_charge", "office"),
    ),
}
# a place in turn, a place of a tide: not where people are
for _other in ("survivors.lift.place", "weather.tidal_stream.place"):
    _NAMES[_other] = lambda _known: []
