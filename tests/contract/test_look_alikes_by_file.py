"""Things that come by a file, a feed or another room's parcel are told apart by their names.

Nobody can be asked of what comes so. Each sort of thing that the plot knows by a name comes here
twice, under names that no eye tells apart (I, small L and figure 1, O and nought by eye; blanks
that a page draws as one), and all that leaves the house is looked at, with pages' tables, marks,
the log's words and what can be chosen in a form. Invented from end to end.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from layers.catalogue import KINDS
from layers.contract import Moment, Unavailable
from layers.earth.said.alike import looks, visible
from layers.heard import Grammar, hear
from layers.heard.record import around_journal, drafts_of
from layers.journal.actor import Actor, Role
from layers.journal.copies.joined import join
from layers.journal.copies.parcel import pack, unpack
from layers.journal.holds import holding
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, file_identity, form_identity
from layers.journal.releases.released import read_as
from layers.journal.releases.rules import Release
from layers.journal.store import Journal, open_journal
from layers.picture import Picture, picture, result_keys
from tests import half_known
from tests.contract.test_look_alikes_everywhere import NOW, Out, all_that_leaves
from tests.contract.test_names_typed_apart import last_of_each

HAND = Actor(name="duty officer", role=Role.WATCH)
FEED = Actor(name="feed reader", role=Role.FEED, via="feed")
DEMO = last_of_each()  # what a record of each kind tells beside its name
# kind, the field that names it, the name told first and by whom it then comes: the other
TWINS: dict[str, tuple[str, str, str]] = {
    "survivors.vehicle": ("name", "KESTREL 1", "KESTREL l"),
    "survivors.chamber": ("name", "chamber 1", "chamber I"),
    "survivors.ship": ("name", "OSPREY IO", "OSPREY 10"),
    "survivors.hospital": ("hospital", "Upper Infirmary 1", "Upper Infirmary l"),
    "survivors.place": ("name", "hold 1", "hold l"),
    "survivors.craft": ("craft", "CURLEW O", "CURLEW 0"),
    "forward_port.port": ("name", "Oldhaven 1", "Oldhaven I"),
    "forward_port.ship": ("name", "CAPE 10", "CAPE IO"),
    "forward_port.airfield": ("name", "Moor strip", "Moor  strip"),
    "transponders.drop": ("transponder", "TP1", "TPI"),
    "datum.searcher": ("name", "SEEKER 1", "SEEKER l"),
    "datum.object": ("name", "raft 1", "raft l"),
    "watch.in_charge": ("who", "A. Ilin", "A. llin"),
    "weather.station": ("station", "XO", "X0"),
}
BY_PARCEL = {"survivors.chamber", "forward_port.port", "watch.in_charge", "datum.searcher"}
SAYS_MORE = {
    "survivors.place": {"sort": "refuge"},
    "survivors.vehicle": {"ready_at": (NOW + timedelta(hours=5)).isoformat()},
    "survivors.chamber": {"available_at": (NOW + timedelta(hours=9)).isoformat()},
    "datum.searcher": {"ready_at": (NOW + timedelta(hours=2)).isoformat(), "object": "DISSUB"},
    "datum.object": {"left_dissub_from": (NOW - timedelta(hours=5)).isoformat(),
                     "left_dissub_to": (NOW - timedelta(hours=3)).isoformat()},
}  # fmt: skip


def told(kind: str, name: str, minutes_ago: float, *, by_file: bool) -> Draft:
    at = NOW - timedelta(minutes=minutes_ago)
    payload = {**DEMO[kind].payload, **SAYS_MORE.get(kind, {}), TWINS[kind][0]: name}
    if "latitude_deg" in payload:  # in the operation's own sea
        payload |= {"latitude_deg": 56.3 + minutes_ago / 100, "longitude_deg": -9.0}
    identity = (
        file_identity("ab" * 32, f"{kind} {name}") if by_file else form_identity(f"{kind} {name}")
    )
    return Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="list.csv",
                 identity=identity)  # fmt: skip


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    path: Path = tmp_path_factory.mktemp("twins") / "j.sqlite"
    half_known.make(path)
    made = open_journal(path, KINDS, clock=lambda: NOW)
    other = open_journal(path.with_name("other.sqlite"), KINDS, name=half_known.NAME,
                         exercise=True, clock=lambda: NOW)  # fmt: skip
    for kind, (_, name, twin) in TWINS.items():
        made.append(HAND, [told(kind, name, 9.0, by_file=False)])
        if kind in BY_PARCEL:
            other.append(HAND, [told(kind, twin, 5.0, by_file=False)])
        else:
            done = made.append(FEED, [told(kind, twin, 5.0, by_file=True)])
            assert done.count == 1, done.rejects
    key = Ed25519PrivateKey.generate()
    parcel = unpack(pack(other, 0, by="the officer", room="North", made_us=1, key=key))
    assert join(made, parcel, HAND).taken == len(BY_PARCEL)
    other.close()
    yield made
    made.close()


@pytest.fixture(scope="module")
def made(journal: Journal) -> tuple[Picture, Known]:
    moment, upto = Moment(NOW, NOW), journal.revision()
    return picture(journal, moment, upto), Known(journal, KINDS, upto, NOW)


@pytest.fixture(scope="module")
def out(made: tuple[Picture, Known]) -> Out:
    return all_that_leaves(*made)


def alone(name: str) -> re.Pattern[str]:
    """Return the pattern of a name that stands by itself, and is not told apart behind it."""
    return re.compile(rf"(?<![\w.]){re.escape(name)}(?![\w]| ‹with )")


def test_no_later_name_stands_anywhere_without_what_tells_it_apart(out: Out) -> None:
    for name, text in out.items():
        text = re.sub(r"[\n\r\t]+", " ", text).replace("\\u2039", "‹").replace("\\u203a", "›")
        for _, _, twin in TWINS.values():
            assert not alone(twin).search(text), (name, twin)


# of a person in charge the later holds; what no answer of this half-known night needs is not told
TOLD = set(TWINS) - {
    "survivors.chamber", "survivors.ship", "survivors.craft", "forward_port.ship",
    "watch.in_charge", "weather.station",
}  # fmt: skip


def test_both_of_each_are_there(out: Out, made: tuple[Picture, Known]) -> None:
    everything = "\n".join(out.values())
    shown, known = made
    for kind, (field, name, twin) in TWINS.items():
        names = [getattr(entry.value, field) for entry in known.entries(kind)]
        assert name in names, kind
        assert any(said.startswith(f"{twin} ‹with ") for said in names), kind
        if kind in TOLD:
            assert f"{twin} ‹with " in everything, kind
            assert alone(name).search(everything), kind
    reasons = [one.reason for one in shown.layers.values() if isinstance(one, Unavailable)]
    assert not [reason for reason in reasons if "could not be computed" in reason]


def test_no_two_cells_of_a_table_look_the_same_and_are_not(made: tuple[Picture, Known]) -> None:
    shown, _ = made
    looked_at = 0
    for key, layer in shown.layers.items():
        if isinstance(layer, Unavailable):
            continue
        for name, table in layer.tables.items():
            for column in zip(*table.rows, strict=True):
                cells = {cell for cell in column if isinstance(cell, str)}
                assert len({looks(visible(cell)) for cell in cells}) == len(cells), (key, name)
                looked_at += len(cells)
        labels = {mark.label for mark in layer.marks if mark.label}
        assert len({looks(visible(label)) for label in labels}) == len(labels), key
    assert looked_at > 20


def test_the_log_says_which_of_them_a_record_names(
    journal: Journal, made: tuple[Picture, Known]
) -> None:
    _, known = made
    twins = {twin for _, _, twin in TWINS.values()}
    said = 0
    for record in known.told_apart(journal.log(upto_seq=journal.revision())):
        words = holding(known, record).now_words(400, names=True)
        for twin in twins:
            assert not alone(twin).search(words), words
            said += f"{twin} ‹with " in words
    assert said >= len(TWINS)


def test_what_is_recorded_stays_as_it_came(journal: Journal) -> None:
    names = {
        str(record.payload.get(field))
        for kind, (field, _, _) in TWINS.items()
        for record in journal.read([kind], journal.revision())
    }
    assert {twin for _, _, twin in TWINS.values()} <= names
    assert not [name for name in names if "‹" in name]


def test_a_name_chosen_as_it_is_told_apart_is_recorded_as_itself(journal: Journal) -> None:
    known = Known(journal, KINDS, journal.revision(), NOW)
    chosen = next(e.value.name for e in known.entries("survivors.vehicle")
                  if e.value.name.startswith("KESTREL l"))  # fmt: skip
    assert chosen == "KESTREL l ‹with small L›"
    task = Draft(kind="watch.task", payload={"who": chosen, "what": "stand by"}, valid_at=NOW,
                 heard_at=NOW, source="hand", identity=form_identity("chosen"))  # fmt: skip
    (record,) = journal.append(HAND, [task]).records
    assert record.payload["who"] == "KESTREL l"
    (fix,) = journal.append(HAND, [Draft(
        kind="journal.correct", valid_at=NOW, heard_at=NOW, source="hand",
        identity=form_identity("fixed"),
        payload={"target": record.id, "reason": "other", "fields": {"who": "KESTREL 1"}},
    )]).records  # fmt: skip
    assert fix.payload["fields"] == {"who": "KESTREL 1"}


def test_a_line_that_says_the_later_name_is_heard_as_that_name(journal: Journal) -> None:
    grammar = Grammar(KINDS)
    line = "vehicle KESTREL l 12 seats, 5 h cycle, ready 091400Z"
    heard = hear(line, grammar, around_journal(grammar, journal, NOW))
    names = [one.payload["name"] for one in heard.understood]
    assert names == ["KESTREL l ‹with small L›"], heard  # as it is read back
    drafts = drafts_of(heard, now=NOW, source="hand", form_id="line")
    assert [r.payload["name"] for r in journal.append(HAND, drafts).records] == ["KESTREL l"]


def test_under_a_release_a_name_is_told_apart_only_from_what_is_read_there(
    journal: Journal, made: tuple[Picture, Known]
) -> None:
    upto = journal.revision()
    read = read_as(journal, KINDS, Release(exact_position=False, medical=False, names=False))
    known = Known(read, KINDS, upto, NOW)
    here = {str(one) for kind in KINDS if not KINDS[kind].columns
            for entry in known.entries(kind) for one in entry.record.payload.values()}  # fmt: skip
    told = {twin for _, _, twin in TWINS.values() if any(f"{twin} ‹with " in one for one in here)}
    for _, name, twin in TWINS.values():
        assert (twin in told) == (name in here and twin not in here)


def test_a_twin_that_was_taken_back_leaves_the_other_as_it_is(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: NOW)
    first = told("survivors.vehicle", "KESTREL l", 9.0, by_file=True)
    journal.append(FEED, [first])
    journal.append(FEED, [told("survivors.vehicle", "KESTREL 1", 5.0, by_file=True)])
    before = Known(journal, KINDS, journal.revision(), NOW)
    assert [e.value.name for e in before.entries("survivors.vehicle")] == [
        "KESTREL l", "KESTREL 1 ‹with figure 1›"
    ]  # fmt: skip
    assert [e.value.name for e in Known(journal, KINDS, 1, NOW).entries("survivors.vehicle")] == [
        "KESTREL l"
    ]
    keys = result_keys(before, Moment(NOW, NOW))
    back = {"target": first.id, "reason": "no such vehicle"}
    journal.append(HAND, [Draft(kind="journal.retract", payload=back, valid_at=NOW, heard_at=NOW,
                                source="hand", identity=form_identity("back"))])  # fmt: skip
    after = Known(journal, KINDS, journal.revision(), NOW)
    assert [e.value.name for e in after.entries("survivors.vehicle")] == ["KESTREL 1"]
    assert result_keys(after, Moment(NOW, NOW))["weather"] != keys["weather"]
    listed = Known(ListShelf(journal.read(list(KINDS), 2)), KINDS, 2, NOW)
    assert [e.value.name for e in listed.entries("survivors.vehicle")][1] == (
        "KESTREL 1 ‹with figure 1›"
    )
    journal.close()


@pytest.mark.parametrize(
    ("names", "shown"),
    [
        (["TPl", "TPI", "TP1"], ["TPl", "TPI ‹with capital I›", "TP1 ‹with figure 1›"]),
        (["I l", "l I", "l l"], ["I l", "l I ‹with small L and capital I›", "l l ‹with small L›"]),
        (["A1 1l", "A1 l1", "A1 ll"], None),
        (["A B", "A  B", "A   B"], ["A B", "A  B ‹with 2 blanks›", "A   B ‹with 3 blanks›"]),
        (["X l", "X 1 ‹with small L›", "X I"], None),
        (["LIMPET", "LIMP\u0415T"], ["LIMPET", "LIMP\u0415T ‹with Cyrillic letters›"]),
    ],
)
def test_however_many_look_alike_no_two_are_shown_alike(
    tmp_path: Path, names: list[str], shown: list[str] | None
) -> None:
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: NOW)
    for name in names:
        journal.append(FEED, [told("survivors.vehicle", name, 5.0, by_file=True)])
    known: Any = Known(journal, KINDS, journal.revision(), NOW)
    found = [entry.value.name for entry in known.entries("survivors.vehicle")]
    journal.close()
    assert len({looks(visible(one)) for one in found}) == len(names), found
    if shown is not None:
        assert found == shown
