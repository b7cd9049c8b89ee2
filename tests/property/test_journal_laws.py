from __future__ import annotations

import json
import tempfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from layers.earth.errors import RecordRefused
from layers.journal.actor import Actor
from layers.journal.integrity.chain import verify
from layers.journal.known import Known
from layers.journal.record import Draft, canonical, columns_bytes
from layers.journal.store import Journal, open_journal
from tests.chain_by_itself import chain_of
from tests.databases import fresh
from tests.journals import FEED, KINDS, NOW, WATCH, Clock, draft

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**60), 2**60) | st.floats(allow_nan=False) | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=12,
).filter(lambda value: "inf" not in repr(value))


@given(st.dictionaries(TEXT, PLAIN, max_size=6))
def test_the_canonical_text_is_the_sorted_json_of_the_standard_library(
    payload: dict[str, Any],
) -> None:
    wanted = json.dumps(
        payload, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    assert canonical(payload) == wanted
    assert json.loads(canonical(payload)) == payload


@given(TEXT, TEXT, TEXT, st.integers(-(2**62), 2**62))
def test_the_hashed_bytes_are_the_json_list_of_the_columns(
    source: str, author: str, text: str, at_us: int
) -> None:
    row = (1, "ab" * 16, "test.note", 1, at_us, at_us, at_us, source, author, text)
    wanted = json.dumps(list(row), separators=(",", ":"), ensure_ascii=False).encode()
    assert columns_bytes(row) == wanted


class ManyWriters(RuleBasedStateMachine):
    """Four writers with clocks of their own on one journal, held against a plain list."""

    database = "sqlite"

    @initialize()
    def open(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        url = fresh(self.database, Path(self.folder.name))
        self.clocks = [Clock() for _ in range(4)]
        self.writers: list[Journal] = [open_journal(url, KINDS, clock=c) for c in self.clocks]
        self.model: list[tuple[str, str, str]] = []  # id, author, payload text
        self.pictures: dict[int, list[str]] = {}
        self.counted = 0

    def _note(self, drafts: list[Draft], author: str) -> None:
        held = {row[0] for row in self.model}
        for one in drafts:
            if one.id not in held:
                held.add(one.id)
                self.model.append((one.id, author, canonical(one.payload)))

    @rule(
        writer=st.integers(0, 3),
        keys=st.lists(st.integers(0, 60), min_size=1, max_size=5),
        feed=st.booleans(),
    )
    def append(self, writer: int, keys: list[int], feed: bool) -> None:
        drafts = [
            Draft(
                kind="test.note" if key % 2 else "test.spot",
                payload={"text": str(key)} if key % 2 else {"name": str(key), "latitude_deg": 1.0},
                valid_at=NOW - timedelta(days=1),
                heard_at=NOW - timedelta(days=1),
                source=f"source {key % 3}",
                identity=f"form:{key}",
            )
            for key in keys
        ]
        actor = Actor(name=f"writer {writer}", role=(FEED if feed else WATCH).role)
        self.writers[writer].append(actor, drafts)
        self._note(drafts, actor.name)

    @rule(writer=st.integers(0, 3), count=st.integers(1, 3), key=st.integers(0, 1000))
    def append_counted(self, writer: int, count: int, key: int) -> None:
        one = draft(f"counted-{key}", "test.once", NOW - timedelta(days=1), text="x", count=count)
        known = {row[0] for row in self.model}
        try:
            self.writers[writer].append(WATCH, [one])
        except RecordRefused:
            assert self.counted + count > 3
            assert one.id not in known
        else:
            if one.id not in known:
                self.counted += count
            self._note([one], WATCH.name)

    @rule(writer=st.integers(0, 3), minutes=st.integers(-600, 600))
    def set_a_clock(self, writer: int, minutes: int) -> None:
        self.clocks[writer].at = NOW + timedelta(minutes=minutes)

    @rule(writer=st.integers(0, 3))
    def look(self, writer: int) -> None:
        """What was seen at a place in the order is seen there for ever."""
        journal = self.writers[writer]
        upto = journal.revision()
        self.pictures.setdefault(upto, _seen(journal, upto))
        for place, seen in self.pictures.items():
            assert _seen(journal, place) == seen

    @invariant()
    def the_order_is_the_models(self) -> None:
        if not hasattr(self, "writers"):
            return
        journal = self.writers[0]
        records = journal.read(list(KINDS), 10_000)
        assert [(r.id, r.author, canonical(r.payload)) for r in records] == self.model
        assert [r.seq for r in records] == list(range(1, len(records) + 1))
        times = [r.recorded_at for r in records]
        assert times == sorted(times)
        assert all(r.heard_at <= r.recorded_at for r in records)
        sides = journal.read_columns(KINDS["test.spot"], 10_000)
        assert sides["id"].tolist() == [r.id for r in records if r.kind == "test.spot"]

    def teardown(self) -> None:
        if not hasattr(self, "writers"):
            return
        found = verify(self.writers[0])
        assert found.intact
        assert chain_of(self.writers[0].engine) == (found.records, found.head_hash, None)
        for journal in self.writers:
            journal.close()
        self.folder.cleanup()


def _seen(journal: Journal, upto: int) -> list[str]:
    known = Known(journal, KINDS, upto, NOW)
    notes = [e.value.text for e in known.entries("test.note")]
    return [*notes, *known.columns("test.spot")["name"].tolist()]


class ManyWritersOnPostgres(ManyWriters):
    database = "postgresql"


_few = settings(
    max_examples=8,
    stateful_step_count=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
ManyWriters.TestCase.settings = _few
ManyWritersOnPostgres.TestCase.settings = settings(_few, max_examples=2)
TestManyWriters = ManyWriters.TestCase
TestManyWritersOnPostgres = pytest.mark.servers(ManyWritersOnPostgres.TestCase)
