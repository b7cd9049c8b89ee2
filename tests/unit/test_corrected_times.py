"""A correction that gives a record another time or source: it counts at that time, everywhere."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.store import open_journal

WATCH = Actor(name="watch officer", role=Role.WATCH)
NOW = datetime(2027, 5, 3, 18, 0, tzinfo=UTC)
LKP = {"latitude_deg": 43.0, "longitude_deg": 8.5, "sigma_m": 900.0, "reported_by": "X"}
SHIP = {"subject": "TENACE", "latitude_deg": 43.1, "longitude_deg": 8.4}


@pytest.fixture
def journal(tmp_path):
    held = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: NOW)
    yield held
    held.close()


def put(journal, kind, payload, minutes=0.0):
    at = NOW - timedelta(minutes=minutes)
    draft = Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="duty officer",
                  identity=f"test:{kind}:{minutes}:{payload}")  # fmt: skip
    journal.append(WATCH, [draft])
    return draft.id


def known(journal):
    return Known(journal, KINDS, journal.revision(), journal.now())


def test_a_corrected_time_and_source_hold_and_the_record_stays_as_it_was_made(journal):
    made = put(journal, "datum.lkp", LKP, minutes=60)
    right = NOW - timedelta(minutes=95)
    put(journal, "journal.correct", {
        "target": made, "fields": {"sigma_m": 1200.0}, "reason": "misheard",
        "valid_at": right.isoformat(), "source": "COMSUB",
    })  # fmt: skip
    (entry,) = known(journal).entries("datum.lkp")
    assert entry.corrected
    assert entry.record.valid_at == right
    assert entry.record.heard_at == NOW - timedelta(minutes=60)
    assert entry.record.source == "COMSUB"
    assert entry.value.sigma_m == 1200.0
    assert journal.record(made).valid_at == NOW - timedelta(minutes=60)


def test_a_row_of_a_bulk_kind_takes_its_corrected_time(journal):
    made = put(journal, "tracks.position", SHIP, minutes=60)
    right = NOW - timedelta(minutes=95)
    correction = {"target": made, "fields": {}, "reason": "x", "valid_at": right.isoformat()}
    put(journal, "journal.correct", correction)
    columns = known(journal).columns("tracks.position")
    assert columns["valid_at_us"].tolist() == [int(right.timestamp()) * 1_000_000]


@pytest.mark.parametrize("name", ["valid_at", "heard_at"])
def test_a_correction_makes_no_report_from_the_future(journal, name):
    made = put(journal, "datum.lkp", LKP, minutes=60)
    ahead = (NOW + timedelta(minutes=30)).isoformat()
    with pytest.raises(InputError, match="from the future"):
        put(journal, "journal.correct",
            {"target": made, "fields": {}, "reason": "x", name: ahead})  # fmt: skip
