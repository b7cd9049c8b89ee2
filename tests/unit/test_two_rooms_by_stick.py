"""Two rooms without a link both write for six hours and exchange what they wrote by stick."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import zipfile
from collections import Counter
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from layers.catalogue import KINDS
from layers.earth.errors import InputError, NotAllowed
from layers.journal.actor import Actor, Role
from layers.journal.copies.joined import join
from layers.journal.copies.parcel import Parcel, mark_of, own_key, pack, unpack
from layers.journal.integrity.chain import verify
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.watch.withheld import release_for
from tests.journals import NOW

FIRST = Actor(name="First Watch", role=Role.WATCH)
SECOND = Actor(name="Second Watch", role=Role.WATCH)


class Ticking:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.at = NOW

    def __call__(self) -> Any:
        return self.at


def draft(clock: Ticking, kind: str, form: str, **payload: Any) -> Draft:
    return Draft(kind=kind, payload=payload, valid_at=clock.at, heard_at=clock.at,
                 source="by hand", identity=form_identity(form))  # fmt: skip


@pytest.fixture
def rooms(tmp_path: Path) -> Any:
    clock = Ticking()
    made = [
        open_journal(tmp_path / f"{name}.sqlite", KINDS, name="HEATH", clock=clock) for name in "ab"
    ]
    yield clock, *made
    for journal in made:
        journal.close()


def six_hours(clock: Ticking, a: Journal, b: Journal) -> None:
    """Let both rooms write: notes and tasks of their own, and one thing told differently."""
    for hour in range(6):
        for minute in range(0, 60, 10):
            clock.at = NOW + timedelta(hours=hour, minutes=minute)
            n = f"{hour}{minute:02d}"
            a.append(FIRST, [draft(clock, "watch.note", f"a{n}", text=f"room A heard {n}")])
            task = {"who": f"ship {n}", "what": "search"}
            b.append(SECOND, [draft(clock, "watch.task", f"b{n}", **task)])
    clock.at = NOW + timedelta(hours=6)
    position = {"subject": "mmsi:299000101", "latitude_deg": 49.5, "longitude_deg": -8.0}
    a.append(FIRST, [draft(clock, "watch.stage", "sa", stage="SUBLOOK", basis="overdue")])
    vessel = {"subject": "mmsi:299000101", "name": "NORTHERN LANTERN", "role": "support ship"}
    a.append(FIRST, [draft(clock, "tracks.vessel", "va", **vessel, max_speed_kn=16.0)])
    b.append(SECOND, [draft(clock, "tracks.vessel", "vb", **vessel, max_speed_kn=12.0)])
    for journal in (a, b):  # the same fact heard by both is one record
        journal.append(FIRST, [draft(clock, "tracks.position", "both", **position)])


def exchanged(journal: Journal, key: Ed25519PrivateKey, room: str, after: int = 0) -> Parcel:
    return unpack(pack(journal, after, by="the officer", room=room, made_us=1, key=key))


def test_both_hold_all_of_it_once_with_who_and_when(rooms: Any) -> None:
    clock, a, b = rooms
    six_hours(clock, a, b)
    keys = [Ed25519PrivateKey.generate() for _ in range(2)]
    from_a, from_b = exchanged(a, keys[0], "Room A"), exchanged(b, keys[1], "Room B")
    clock.at += timedelta(hours=1)
    into_b, into_a = join(b, from_a, SECOND), join(a, from_b, FIRST)
    assert (into_b.refused, into_a.refused) == ((), ())
    assert (into_b.taken, into_b.already_there) == (38, 1)
    assert (into_a.taken, into_a.already_there) == (37, 1)
    held = [journal.log(upto_seq=journal.revision(), limit=500) for journal in (a, b)]
    ids = [{one.id for one in log if "were joined" not in str(one.payload)} for log in held]
    assert ids[0] == ids[1]
    assert len(ids[0]) == 76
    for log in held:
        assert max(Counter(one.id for one in log).values()) == 1
    theirs = [one for one in held[1] if one.payload.get("text", "").startswith("room A heard")]
    assert len(theirs) == 36
    assert {one.author for one in theirs} == {f"First Watch (Room A {from_a.about.mark})"}
    assert {one.heard_at for one in theirs} == {
        NOW + timedelta(hours=h, minutes=m) for h in range(6) for m in range(0, 60, 10)
    }
    note = next(one for one in held[1] if "were joined" in str(one.payload))
    assert "Room A" in note.payload["text"]
    assert "the officer" in note.payload["text"]
    for journal in (a, b):
        assert verify(journal).intact


def test_a_contradiction_is_told_side_by_side_and_nothing_comes_twice(rooms: Any) -> None:
    clock, a, b = rooms
    six_hours(clock, a, b)
    key = Ed25519PrivateKey.generate()
    parcel = exchanged(a, key, "Room A")
    first, again = join(b, parcel, SECOND), join(b, parcel, SECOND)
    (one,) = first.contradictions
    assert (one.kind, one.fields) == ("tracks.vessel", ("max_speed_kn",))
    assert one.ours.payload["max_speed_kn"] == 12.0
    assert one.theirs.payload["max_speed_kn"] == 16.0
    assert again.taken == 0
    assert b.revision() == first.taken + 38 + 1  # its own, and one note of the joining
    later = exchanged(a, key, "Room A", after=30)
    assert len(later.rows) == a.revision() - 30


def test_a_parcel_changed_on_the_way_or_by_a_reader_is_not_taken(rooms: Any) -> None:
    clock, a, b = rooms
    six_hours(clock, a, b)
    key = Ed25519PrivateKey.generate()
    sound = pack(a, 0, by="x", room="Room A", made_us=1, key=key)
    with zipfile.ZipFile(io.BytesIO(sound)) as held:
        parts = {info.filename: held.read(info) for info in held.infolist()}

    def packed(**changed: bytes) -> bytes:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as made:
            for name, content in {**parts, **changed}.items():
                made.writestr(name, content)
        return out.getvalue()

    records = parts["records.jsonl"].replace(b"room A heard 000", b"room A heard 999")
    other = Ed25519PrivateKey.generate().public_key().public_bytes_raw()
    for wrong in (packed(**{"records.jsonl": records}), packed(key=other), packed(more=b"x"),
                  packed(signature=b"x" * 64), sound[:-30], b"", b"PK"):  # fmt: skip
        with pytest.raises(InputError, match="can not be taken in"):
            unpack(wrong)
    assert unpack(packed()).about.mark == mark_of(key.public_key())
    with pytest.raises(NotAllowed):
        join(b, unpack(sound), Actor(name="reader", role=Role.READER))
    with pytest.raises(InputError, match="nothing is recorded after"):
        pack(a, a.revision(), by="x", room="A", made_us=1, key=key)


def test_an_exercise_does_not_come_into_an_operation(tmp_path: Path, rooms: Any) -> None:
    clock, a, _ = rooms
    drill = open_journal(tmp_path / "drill.sqlite", KINDS, exercise=True, clock=clock)
    drill.append(FIRST, [draft(clock, "watch.note", "x", text="drill")])
    parcel = exchanged(drill, Ed25519PrivateKey.generate(), "Drill")
    with pytest.raises(InputError, match="exercise"):
        join(a, parcel, FIRST)
    drill.close()


def test_by_command_with_the_mark_heard_by_another_way(tmp_path: Path, rooms: Any) -> None:
    clock, a, b = rooms
    six_hours(clock, a, b)
    file = tmp_path / "from a.parcel"
    mark = mark_of(own_key(tmp_path / "data").public_key())
    assert (tmp_path / "data" / "room.key").stat().st_mode & 0o777 == 0o600

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        import os

        environment = {**os.environ, "MUSTERPLOT_DATA_FOLDER": str(tmp_path / "data")}
        return subprocess.run(
            [sys.executable, "-m", "layers", *words, "--json"], cwd=Path(__file__).parents[2],
            env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip

    from_a = ("--journal", str(tmp_path / "a.sqlite"))
    told = run("pack", str(file), "--by", "officer", "--room", "Room A", *from_a)
    assert json.loads(told.stdout)["mark"] == mark
    into = ("join", str(file), "--by", "Second Watch", "--journal", str(tmp_path / "b.sqlite"))
    wrong = run(*into, "--mark", "0000-0000-0000-0000")
    assert wrong.returncode == 2
    assert mark in wrong.stderr
    done = json.loads(run(*into, "--mark", mark).stdout)
    assert (done["taken"], done["already_there"]) == (38, 1)
    (one,) = done["contradictions"]
    assert "16" in one["theirs"]["words"]
    assert "12" in one["ours"]["words"]


def test_a_mark_is_read_out_in_figures_alone() -> None:
    """A letter is misheard on a bad line, and 5e12 would be read as a number."""
    for seed in range(20):
        key = Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32)
        assert re.fullmatch(r"\d{4}(?:-\d{4}){4}", mark_of(key.public_key()))


def test_what_one_room_lets_outsiders_see_is_not_opened_in_the_other(rooms: Any) -> None:
    # an older word of the other room was in force after the joining, for it was recorded last
    clock, a, b = rooms
    shut = {"audience": "readers", "names": False, "medical": False, "exact_position": False,
            "reason": "press"}  # fmt: skip
    open_ = {**shut, "names": True, "medical": True, "exact_position": True}
    clock.at = NOW + timedelta(hours=2)
    a.append(FIRST, [draft(clock, "watch.withholding", "o", **open_)])
    a.append(FIRST, [draft(clock, "watch.note", "n", text="the press rang")])
    clock.at = NOW + timedelta(hours=5)
    b.append(SECOND, [draft(clock, "watch.withholding", "s", **shut)])
    clock.at = NOW + timedelta(hours=7)
    done = join(b, exchanged(a, Ed25519PrivateKey.generate(), "Room A"), SECOND)
    assert done.taken == 1
    (why,) = done.refused
    assert "another room" in why
    seen = release_for(Known(b, KINDS, b.revision(), clock.at), "readers")
    assert (seen.names, seen.medical, seen.exact_position) == (False, False, False)
