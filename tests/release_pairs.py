"""Pairs of journals that differ only in what a release withholds, and all that a reader is shown.

The exercise with the watch's word to outsiders in it, and its twins: the boat elsewhere within
the block that was told, with all evidence moved along; other medical states and names; withheld
records added, taken away, corrected and disputed. `shown` is every word that leaves for a reader.
"""

from __future__ import annotations

import copy
import io
import json
import random
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from matplotlib.figure import Figure
from pptx import Presentation

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_END, NAME, z
from layers.answer_keys import told_as
from layers.answer_words import persons as persons_words
from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment, Shown
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Known, ListShelf, Shelf
from layers.journal.record import Record
from layers.journal.releases.released import read_as
from layers.journal.releases.rules import OUTSIDE, Release
from layers.picture import Picture, picture
from layers.scene.deck import deck
from layers.scene.ink import DAY
from layers.scene.release import Stamp
from layers.scene.sitrep import StaffWords, sitrep
from layers.scene.snapshot import About, snapshot
from layers.watch.state import state

# ten times, of which some are not whole five minutes, so that a moment that moves is seen
TIMES = (
    z(13, "0930"),
    z(13, "1037") + timedelta(seconds=13),
    z(13, "1733"),
    z(13, "2200"),
    z(14, "1101") + timedelta(seconds=41),
    z(15, "1412"),
    z(16, "0107") + timedelta(seconds=7),
    z(16, "0637"),
    z(17, "1203"),
    z(18, "1200"),
)
# the watch's word to outsiders: the block before the finding and after it, words, two answers
TOLD: tuple[tuple[str, datetime, dict[str, Any]], ...] = (
    ("watch.place_told", z(13, "0915"),
     {"south_deg": 48.5, "north_deg": 50.5, "west_deg": -11.0, "east_deg": -7.5}),
    ("watch.let_go", z(13, "1200"), {"kinds": ["forward_port.activity", "forward_port.option"]}),
    ("watch.place_told", z(13, "2230"),
     {"south_deg": 49.5, "north_deg": 50.5, "west_deg": -9.0, "east_deg": -8.0}),
    ("watch.told", z(16, "0500"),
     {"answer": "margin", "value": "60 h to spare, after", "at": "2027-03-16T04:50:00Z",
      "audience": "outside"}),
    ("watch.told", z(16, "0510"),
     {"answer": "first out", "value": "16 people at 0420Z", "at": "2027-03-16T04:20:00Z",
      "audience": "outside"}),
    ("watch.told", z(16, "0511"),
     {"answer": "dive", "value": "open to 1000Z", "at": "2027-03-16T05:00:00Z",
      "audience": "readers"}),
)  # fmt: skip
AT_HER_PLACE = 60 * 1852.0  # a ship of the operation nearer than this moves with her
PLACES = ("latitude_deg", "longitude_deg")


def record(kind: str, at: datetime, payload: dict[str, Any], mark: str = "") -> Record:
    """Return a record before it has its place in the order."""
    said = json.dumps(payload, sort_keys=True, default=str)
    digest = __import__("hashlib").sha256(f"{kind} {at} {said} {mark}".encode()).hexdigest()
    return Record(
        seq=0, id=digest[:32], kind=kind, version=KINDS[kind].version, valid_at=at, heard_at=at,
        recorded_at=at, source="watch officer", author="watch officer 1", payload=payload,
    )  # fmt: skip


def in_order(records: Iterable[Record], blobs: dict[str, bytes]) -> ListShelf:
    """Return records as a journal: in order of when they were recorded."""
    ordered = sorted(enumerate(records), key=lambda each: (each[1].recorded_at, each[0]))
    return ListShelf(
        [replace(each, seq=number) for number, (_, each) in enumerate(ordered, start=1)], blobs
    )


@lru_cache(maxsize=1)
def base() -> ListShelf:
    """Return the exercise to its end with the watch's word to outsiders."""
    shelf, _ = demo_journal(DEMO_END)
    said = [record(kind, at, payload) for kind, at, payload in TOLD]
    return in_order([*shelf.records, *said], shelf.blobs)


def hidden(each: Record, release: Release = OUTSIDE) -> bool:
    """Whether a kind is not there at all for a release."""
    rule = KINDS[each.kind].release
    return each.kind not in OPINION_NAMES and (rule is None or rule.gone(release))


@lru_cache(maxsize=1)
def of_the_operation() -> frozenset[str]:
    """Return the subjects that take part."""
    return frozenset(r.payload["subject"] for r in base().records if r.kind == "tracks.vessel")


def moved(by: tuple[float, float]) -> ListShelf:
    """Return the journal of a boat that lies elsewhere, with everything that was seen of her."""

    def shift(each: Record) -> Record:
        taking_part = (
            each.kind == "tracks.position" and each.payload["subject"] in of_the_operation()
        )
        scene = each.kind == "weather.observation" and each.payload["sort"] in ("ship", "report")
        leg = each.kind == "forward_port.leg"
        if not (taking_part or scene or leg or hidden(each)):
            return each
        payload = copy.deepcopy(dict(each.payload))
        if leg:
            if payload["mode"] == "sea" and payload["key"].endswith("-scene"):
                _shift(payload["points"][-1], by)
        else:
            _shift(payload, by)
        if "depth_m" in payload and isinstance(payload["depth_m"], float):
            payload["depth_m"] = payload["depth_m"] + 3.0 * by[0]
        return replace(each, payload=payload)

    whole = base()
    return ListShelf([shift(each) for each in whole.records], whole.blobs)


def _shift(value: Any, by: tuple[float, float]) -> None:
    if isinstance(value, dict):
        for name, degrees in zip(PLACES, by, strict=True):
            for key in value:
                if key.endswith(name) and isinstance(value[key], (int, float)):
                    value[key] = round(value[key] + degrees, 6)
        for inner in value.values():
            _shift(inner, by)
    elif isinstance(value, list):
        for inner in value:
            _shift(inner, by)


def otherwise_well(rng: random.Random) -> ListShelf:
    """Return the journal in which the same people are in another state, and have other names."""

    def change(each: Record) -> Record:
        payload = copy.deepcopy(dict(each.payload))
        if each.kind == "survivors.report":
            for name in ("walking", "injured", "stretcher"):
                payload[name] = None
            payload["stretcher"] = rng.randint(0, payload["persons"])
            payload["remark"] = f"in another state, {rng.random()}"
            payload["pressure"] = {"value": round(1 + rng.random(), 2), "unit": "bar",
                                   "reference": "absolute"}  # fmt: skip
        elif each.kind == "survivors.move":
            for group in payload["groups"]:
                group["names"] = [f"Able Seaman {rng.randint(1, 99)}"]
                group["exposure"] = {"value": round(1 + rng.random(), 2), "unit": "bar",
                                     "reference": "absolute"}  # fmt: skip
            payload["reason"] = f"another reason {rng.random()}"
        elif each.kind.startswith("survivors.") and hidden(each):
            payload = _scaled(payload, rng)
        return replace(each, payload=payload)

    whole = base()
    return ListShelf([change(each) for each in whole.records], whole.blobs)


def _scaled(value: Any, rng: random.Random) -> Any:
    if isinstance(value, dict):
        return {k: _scaled(v, rng) if k in ("value", "percent") else v for k, v in value.items()}
    return value * 0.999 if isinstance(value, float) else value


def others(rng: random.Random) -> ListShelf:
    """Return the journal with withheld records taken away, added, corrected and disputed."""
    whole = base()
    kept = [r for r in whole.records if not (hidden(r) and rng.random() < 0.15)]
    withheld_ones = [r for r in kept if hidden(r)]
    added: list[Record] = []
    for number in range(12):
        target = rng.choice(withheld_ones)
        at = target.recorded_at + timedelta(seconds=rng.randint(1, 40_000))
        about = {"target": target.id, "reason": f"doubted {number} {rng.random()}"}
        kind = rng.choice(("journal.dispute", "journal.retract", "journal.correct"))
        if kind == "journal.correct":
            about["fields"] = {}
        added.append(record(kind, at, about, str(number)))
        added.append(
            record("watch.task", at, {"who": "GREY HERON", "what": f"search 49-50N {number}"})
        )
    ships = [r for r in kept if r.kind == "tracks.position"
             and r.payload["subject"] in of_the_operation()]  # fmt: skip
    for target in rng.sample(ships, 3):
        about = {"target": target.id, "reason": "radar", "fields": {"latitude_deg": 49.0}}
        added.append(record("journal.correct", target.recorded_at + timedelta(minutes=7), about))
    shown = [r for r in kept if r.kind == "survivors.report"]
    target = rng.choice(shown)
    about = {"target": target.id, "reason": "misheard", "fields": {"remark": f"{rng.random()}"}}
    added.append(record("journal.correct", target.recorded_at + timedelta(minutes=11), about))
    return in_order([*kept, *added], whole.blobs)


def shown(
    shelf: Shelf, moment: Moment, release: Release = OUTSIDE, *, pictures: bool = False
) -> dict[str, str]:
    """Return every word that a reader of a release is shown at a moment, by where it stands."""
    upto_seq = shelf.seq_at(moment.as_of)
    read = read_as(shelf, KINDS, release)
    made = picture(read, moment, upto_seq)
    known = Known(read, KINDS, upto_seq, moment.as_of)
    watch = state(known, moment)
    found = {f"layer {key}": repr(layer_words(layer)) for key, layer in made.layers.items()}
    answered = answers(made, watch)
    found["answers"] = json.dumps(told_as(answered), default=str)
    found["persons"] = repr(persons_words(answered))
    stamp = Stamp(
        title="Brief", exercise=NAME, moment=moment, head_seq=upto_seq, head_hash=f"{upto_seq}" * 9,
        release=release, number=1,
    )  # fmt: skip
    found["sitrep"] = sitrep(made, known, answered, stamp, release, StaffWords())
    slides = Presentation(io.BytesIO(deck(made, answered, watch, stamp, _white())))
    found["slides"] = "\n".join(
        shape.text_frame.text if shape.has_text_frame else _cells(shape)
        for slide in slides.slides
        for shape in slide.shapes
    )
    about = About(NAME, upto_seq, f"{upto_seq}" * 9, 1)
    forms = ("geojson", "csv", "kml", "gpx", *(("svg",) if pictures else ()))
    for form in forms:
        try:
            made_for = snapshot(
                made, form, answers=answered, about=about, ink=DAY, land=None, release=release
            )
        except Exception as reason:
            found[form] = f"{type(reason).__name__}: {reason}"
        else:
            found[form] = made_for.content.decode("utf-8", "replace")
    return found


def _cells(shape: Any) -> str:
    rows = shape.table.rows if shape.has_table else ()
    return " | ".join(cell.text for row in rows for cell in row.cells)


@lru_cache(maxsize=1)
def _white() -> bytes:
    out = io.BytesIO()
    Figure(figsize=(1, 1)).savefig(out, format="png")
    return out.getvalue()


def layer_words(layer: Any) -> Any:
    """Return all of a layer that anybody is shown."""
    if not isinstance(layer, Shown):
        return layer
    tables = {"": layer.table, **layer.tables}
    told = {name: (table.heads, table.rows, table.sources) for name, table in tables.items()}
    return layer.sentence, told, tuple(map(mark_words, layer.marks))


def mark_words(mark: Any) -> Any:
    """Return a mark whole, arrays in full."""
    fields = {name: getattr(mark, name) for name in mark.__dataclass_fields__}
    return {k: v.tolist() if hasattr(v, "tolist") else str(v) for k, v in fields.items()}


def differences(one: dict[str, str], other: dict[str, str]) -> list[str]:
    """Return where two readers are shown different things, with the first that differs."""
    found = []
    for name in one.keys() | other.keys():
        a, b = one.get(name, ""), other.get(name, "")
        if a != b:
            at = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), 0)
            found.append(
                f"{name}: …{a[max(0, at - 60) : at + 80]}… | …{b[max(0, at - 60) : at + 80]}…"
            )
    return sorted(found)


def moments(at: datetime) -> tuple[Moment, Moment, Moment]:
    """Return the three views: as known then, in hindsight, expected."""
    later = min(DEMO_END, at + timedelta(hours=7))
    return Moment(at, at), Moment(later, at), Moment(at, at + timedelta(hours=5))


Twin = Callable[[random.Random], ListShelf]
TWINS: dict[str, Twin] = {
    "the boat elsewhere": lambda rng: moved((rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2))),
    "other states and names": otherwise_well,
    "withheld records come, go and are doubted": others,
}


def read_picture(shelf: Shelf, at: datetime, release: Release) -> tuple[Picture, Known]:
    """Return the picture of a release and what was known to it."""
    read = read_as(shelf, KINDS, release)
    upto_seq = shelf.seq_at(at)
    return picture(read, Moment(at, at), upto_seq), Known(read, KINDS, upto_seq, at)
