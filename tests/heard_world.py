"""A small plot that lines are heard in: ships, marks, a refuge's names, forty records."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Any

from layers.catalogue import KINDS
from layers.heard import Grammar, HeardLine, LineContext, around, hear
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, Record, as_record, form_identity
from layers.journal.words.heard import Name

NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
SHIPS = {
    "TENACE": (43.2, 8.4167), "RESCUE 21": (43.25, 8.5), "CAPE ARDIS": (43.5, 8.1),
    "NORTHERN LANTERN": (43.0, 8.2), "GREYFIN": (43.3, 8.6), "Gannet": (43.3, 8.3),
    "Tern": (43.2, 8.7), "Petrel": (43.1, 8.5),
}  # fmt: skip
MARKS = {"Skarv Light": (43.4, 8.4), "Grey Skerry": (43.1, 8.1)}
RECORDS = 40


def _told() -> list[tuple[str, dict[str, Any]]]:
    told: list[tuple[str, dict[str, Any]]] = [
        ("datum.lkp", {"latitude_deg": 43 + 1 / 3, "longitude_deg": 8 + 2 / 3, "sigma_m": 1513.0,
                       "reported_by": "the watch"}),
        *(("tracks.position", {"subject": name, "latitude_deg": lat, "longitude_deg": lon})
          for name, (lat, lon) in SHIPS.items()),
        ("survivors.complement", {"part": "all on board", "persons": 60}),
        ("watch.note", {"text": "the second telephone is out"}),
        ("datum.bearing", {  # No. 12
            "latitude_deg": 43.2, "longitude_deg": 8.4167, "observer": "TENACE",
            "bearing_deg": 60.0, "sense": "true", "sigma_deg": 2.0}),
        ("datum.searcher", {
            "name": "TENACE", "latitude_deg": 43.2, "longitude_deg": 8.4167,
            "search_speed_kn": 12.0, "transit_speed_kn": 14.0, "sweep_width_m": 1852.0,
            "endurance_h": 12.0, "ready_at": "2026-11-28T12:00:00+00:00"}),
        ("datum.sighting", {  # No. 14
            "latitude_deg": 43.25, "longitude_deg": 8.5, "what": "oil slick", "sigma_m": 500.0,
            "object_type": "oil slick", "observer": "RESCUE 21"}),
        ("datum.searcher", {
            "name": "RESCUE 21", "latitude_deg": 43.25, "longitude_deg": 8.5,
            "search_speed_kn": 90.0, "transit_speed_kn": 120.0, "sweep_width_m": 3704.0,
            "endurance_h": 3.0, "ready_at": "2026-11-28T12:00:00+00:00"}),
        *(("weather.station", {"station": name, "name": name, "sort": "land", "latitude_deg": lat,
                               "longitude_deg": lon}) for name, (lat, lon) in MARKS.items()),
        ("forward_port.activity", {"key": "load", "title": "Load-out", "least_h": 4.0,
                                   "likely_h": 6.0, "most_h": 9.0}),
        ("transponders.drop", {
            "transponder": "T9", "latitude_deg": 43.25, "longitude_deg": 8.5,
            "water_depth_m": 142.0, "turn_round_s": 0.2}),
        ("watch.help_asked", {"asked_of": "Naval Staff", "what": "two chambers"}),
        ("forward_port.port", {"name": "Savona", "latitude_deg": 44.3, "longitude_deg": 8.49}),
    ]  # fmt: skip
    return told + [("watch.note", {"text": f"note {n}"}) for n in range(len(told), RECORDS)]


@lru_cache(maxsize=1)
def records() -> tuple[Record, ...]:
    """Return the forty records, each checked by its own kind."""
    found = []
    at = NOW - timedelta(minutes=10)
    for seq, (kind, payload) in enumerate(_told(), 1):
        check_payload(KINDS[kind], payload, kind)
        draft = Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="telephone",
                      identity=form_identity(f"world {seq}"))  # fmt: skip
        found.append(as_record(draft, seq=seq, recorded_at=at, author="watch officer 1"))
    return tuple(found)


@lru_cache(maxsize=1)
def grammar() -> Grammar:
    """Return the grammar of the catalogue."""
    return Grammar(KINDS)


@lru_cache(maxsize=2)
def world(now: datetime = NOW) -> LineContext:
    """Return what the lines are heard in."""
    told = records()
    known = Known(ListShelf(list(told)), KINDS, len(told), now)
    by_seq = {record.seq: record for record in told}
    made = around(KINDS, known, now, find=by_seq.get)
    vehicle = Name(text="LIMPET", sort="rescue vehicle", key="LIMPET")
    return replace(made, names=(*made.names, vehicle, Name(text="L1", sort="lift", key="L1")))


def heard(text: str) -> HeardLine:
    """Return what a line tells in this world."""
    return hear(text, grammar(), world())


def verdict(hearing: HeardLine) -> str:
    """Return understood, asked, refused or note."""
    if hearing.asks:
        return "refused" if hearing.refused else "asked"
    return "note" if hearing.notes and not hearing.understood else "understood"
