"""Parcels made to break who takes them in: every one is refused in a sentence, or taken whole.

Whoever holds a room's key can sign anything; what is signed still comes from outside. Zip: what a
member says of its size and packing is the sender's word (APPNOTE.TXT 4.4). JSON: numbers without
end, NaN and half characters come through a lenient reader (RFC 8259, sections 6 and 8.2).
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role
from layers.journal.copies import parcel as parcels
from layers.journal.copies.joined import join
from layers.journal.copies.parcel import pack, unpack
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from tests.journals import NOW

WATCH = Actor(name="First Watch", role=Role.WATCH)
KEY = Ed25519PrivateKey.generate()
ROWS, ABOUT = "records.jsonl", "parcel.json"
Parts = dict[str, bytes]


def note(text: str) -> Draft:
    return Draft(kind="watch.note", payload={"text": text}, valid_at=NOW, heard_at=NOW,
                 source="by hand", identity=form_identity(text))  # fmt: skip


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Parts:
    journal = open_journal(tmp_path_factory.mktemp("a") / "a.sqlite", KINDS, clock=lambda: NOW)
    journal.append(WATCH, [note("one"), note("two")])
    packed = pack(journal, 0, by="the officer", room="Room A", made_us=1, key=KEY)
    journal.close()
    with zipfile.ZipFile(io.BytesIO(packed)) as held:
        return {info.filename: held.read(info) for info in held.infolist()}


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Journal]:
    journal = open_journal(tmp_path / "b.sqlite", KINDS, clock=lambda: NOW)
    yield journal
    journal.close()


def signed(parts: Parts, packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return a parcel of these parts, signed as a room signs."""
    held = {name: content for name, content in parts.items() if name != "signature"}
    held["signature"] = KEY.sign(parcels._whole(held))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as made:
        for name, content in held.items():
            made.writestr(name, content)
    return out.getvalue()


def first_row(parts: Parts, place: int, value: Any) -> Parts:
    row = json.loads(parts[ROWS].split(b"\n")[0])
    row[place] = value
    return {**parts, ROWS: json.dumps(row).encode() + b"\n"}


def about(parts: Parts, **changed: Any) -> Parts:
    return {**parts, ABOUT: json.dumps({**json.loads(parts[ABOUT]), **changed}).encode()}


# places in a row: 1 id, 2 kind, 3 version, 4 valid, 5 heard, 7 source, 8 author, 9 payload
WRONG_CELLS = [
    (4, "x"), (4, 10**30), (4, 1.5), (4, float("nan")), (4, None), (4, True), (5, []), (3, "1"),
    (1, 5), (1, "a" * 33), (1, "<script>"), (1, "ab\0d"), (1, "\ud800"), (1, "A" * 32),
    (2, ["a"]), (7, {}), (7, None), (7, "a\0b"), (8, None), (8, "\udfff"),
    (9, None), (9, "{"), (9, "[]"), (9, "5"), (9, "[" * 5000 + "]" * 5000),
    (9, '{"text":' + "9" * 5000 + "}"),
]  # fmt: skip


@pytest.mark.parametrize(("place", "value"), WRONG_CELLS)
def test_a_record_with_something_else_in_a_column_refuses_the_parcel(
    sound: Parts, place: int, value: Any
) -> None:
    with pytest.raises(InputError, match="can not be taken in"):
        unpack(signed(first_row(sound, place, value)))


@pytest.mark.parametrize("changed", [
    {"made_us": "x"}, {"after": "0"}, {"upto": []}, {"exercise": "no"}, {"head": 5},
    {"journal": None}, {"by": {"a": 1}}, {"by": ""}, {"room": "R" * 3000},
    {"room": "North\n(plot-1:8501)"}, {"room": "\u202eNorth"}, {"mark": None}, {"more": 1},
])  # fmt: skip
def test_a_parcel_that_says_nonsense_of_itself_is_refused_before_anything_is_taken(
    sound: Parts, here: Journal, changed: dict[str, Any]
) -> None:
    # a room's name that was too long for the note of the joining left the records in, unsaid
    with pytest.raises(InputError, match="can not be taken in"):
        join(here, unpack(signed(about(sound, **changed))), WATCH)
    assert here.revision() == 0


@pytest.mark.parametrize("packing", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_byte_that_changed_under_any_packing_is_told_as_damage(
    sound: Parts, packing: int
) -> None:
    whole = signed({**sound, "files/none": bytes(range(256)) * 40}, packing)
    refused = 0
    for at in range(40, len(whole), max(len(whole) // 60, 1)):
        damaged = bytearray(whole)
        damaged[at] ^= 0xFF
        with pytest.raises(InputError, match="can not be taken in"):
            unpack(bytes(damaged))
        refused += 1
    assert refused > 50


def test_a_file_that_no_record_names_is_not_kept(sound: Parts) -> None:
    large = b"x" * 1_000_000
    with pytest.raises(InputError, match="belongs to no record"):
        unpack(signed({**sound, f"files/{hashlib.sha256(large).hexdigest()}": large}))


def test_more_members_than_a_parcel_has_are_refused_unread(
    sound: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = signed({**sound, **{f"m{n}": b"" for n in range(30)}})
    monkeypatch.setattr(parcels, "MOST_FILES", 20)
    with pytest.raises(InputError, match="more than 20 files"):
        unpack(many)
    monkeypatch.setattr(parcels, "MOST_BYTES", 10)
    with pytest.raises(InputError, match="more than 0 MB"):
        unpack(signed(sound))


def test_what_is_sound_is_taken_and_odd_words_stand_as_words(sound: Parts, here: Journal) -> None:
    lines: list[Callable[[], Parts]] = [
        lambda: sound,
        lambda: first_row(sound, 8, "First Watch, room North (plot-1:8501)"),
        lambda: first_row(sound, 7, "a line\nand another"),
    ]
    for made in lines:
        join(here, unpack(signed(made())), WATCH)
    held = here.log(upto_seq=here.revision())
    assert {one.payload["text"] for one in held} >= {"one", "two"}


@pytest.mark.parametrize(("by", "room"), [("", "A"), ("x", "a\nb"), ("x" * 201, "A")])
def test_no_parcel_is_made_that_the_other_room_would_refuse(
    here: Journal, by: str, room: str
) -> None:
    here.append(WATCH, [note("one")])
    with pytest.raises(InputError, match="one line"):
        pack(here, 0, by=by, room=room, made_us=1, key=KEY)
