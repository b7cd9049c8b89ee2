"""A journal made by an older program opens, its chain verifies, its picture is made.

``tests/data/old_exercise.sqlite.xz`` is the exercise to 131100Z MAR 27 as the program of commit
186886e wrote it: 408 records. It is never made anew: kinds, payload fields, feeds and keys of
layers that stand in it stay as they are.
"""

from __future__ import annotations

import lzma
from collections.abc import Iterator
from pathlib import Path

import pytest

from layers.catalogue import KINDS, LAYERS
from layers.contract import Moment, Shown
from layers.journal.integrity.chain import verify
from layers.journal.known import Known, check_payload
from layers.journal.store import Journal, open_journal
from layers.picture import picture

OLD = Path(__file__).resolve().parents[1] / "data" / "old_exercise.sqlite.xz"
RECORDS = 408
HEAD = "1621c77d605e20e72e7afb5bc149a47bf384785c27cfe67188e3b39ca8fa8fae"  # printed when made


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    path = tmp_path_factory.mktemp("old") / "exercise.sqlite"
    path.write_bytes(lzma.decompress(OLD.read_bytes()))
    opened = open_journal(path, KINDS)
    yield opened
    opened.close()


def test_its_chain_still_verifies_to_the_head_that_was_printed(journal: Journal) -> None:
    found = verify(journal)
    assert found.intact
    assert (found.records, found.head_hash) == (RECORDS, HEAD)


def test_every_record_in_it_is_still_one_of_its_kind(journal: Journal) -> None:
    records = journal.log(upto_seq=journal.revision(), limit=RECORDS + 1)
    assert len(records) == RECORDS
    for record in records:
        kind = KINDS[record.kind]
        payload = record.payload
        if kind.upgrade is not None and record.version < kind.version:
            payload = kind.upgrade(record.version, payload)
        check_payload(kind, payload, f"record {record.seq}")


def test_its_picture_is_made(journal: Journal) -> None:
    at = journal.now()
    made = picture(journal, Moment(at, at), journal.revision())
    for layer in LAYERS:
        shown = made.layers[layer.key]
        reason = getattr(shown, "reason", "")
        assert "could not be computed" not in reason
        if layer.key in {"datum", "weather", "tracks", "survivors"}:
            assert isinstance(shown, Shown), reason
    survivors = made.shown("survivors")
    assert survivors is not None
    assert survivors.result.pob == 71  # the scenario's own count; as on its first muster
    known = Known(journal, KINDS, journal.revision(), at)
    assert len(known.entries("datum.lkp")) == 1
