"""Twin journals that differ only in what is withheld send a reader the same pages, byte for byte.

What a page sends is every element of it as the framework writes it for the browser: words, marks'
addresses, tooltips, tables, charts' data, labels and help of each widget.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.page_table import TABLE
from dashboard.view import Seen
from demo_data.scenario import DEMO_NOW, NAME, z
from layers.catalogue import KINDS
from layers.earth.clock import to_us
from layers.journal.known import ListShelf
from layers.journal.record import Draft, Record
from layers.journal.store import Imported, Journal, open_journal
from tests.app.conftest import APP, PATIENCE_S, on_page
from tests.release_pairs import TOLD, TWINS, base, in_order, otherwise_well, record

RULE = {"audience": "readers", "exact_position": False, "medical": False, "reason": "press"}
# names the journal, not what is in it: its place and when it was made
TOKEN = re.compile(rb'data-mp-incident="[0-9a-f]+"')
QUICK_PAGES = ("plot", "wall", "survivors", "response")
PAGES = tuple(link.address for link in TABLE)


class KeptDraft(Draft):
    """A draft that keeps the id that its record has already."""

    @property
    def id(self) -> str:
        return self.identity


def told_to_readers(shelf: ListShelf) -> ListShelf:
    """Return a journal in which the readers of the room are withheld what outsiders are."""
    said = [record("watch.withholding", z(13, "0910"), RULE)]
    for kind, at, payload in TOLD:
        if kind == "watch.told":
            said.append(record(kind, at, {**payload, "audience": "readers"}, "readers"))
    return in_order([*shelf.records, *said], dict(shelf.blobs))


def stored(shelf: ListShelf, path: Path) -> None:
    """Make a journal of records up to the opening, with their ids, times and authors."""
    journal = open_journal(path, KINDS, name=NAME, exercise=True)
    until = [each for each in told_to_readers(shelf).records if each.recorded_at <= DEMO_NOW]
    journal.import_records(map(_imported, until), blobs=shelf.blobs)
    journal.set_clock(DEMO_NOW)
    journal.close()


def _imported(each: Record) -> Imported:
    draft = KeptDraft(
        kind=each.kind, payload=each.payload, valid_at=each.valid_at, heard_at=each.heard_at,
        source=each.source, identity=each.id, version=each.version,
    )  # fmt: skip
    return Imported(recorded_at=each.recorded_at, author=each.author, draft=draft)


def pages(
    path: Path, names: Iterable[str], at: datetime | None, listens: str = "0.0.0.0"
) -> dict[str, list[bytes]]:
    """Return what each page sends to a reader of a journal; by loopback it is the watch."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MUSTERPLOT_DATA_FOLDER", str(path.parent))
        patch.setenv("MUSTERPLOT_DATABASE_URL", str(path))
        patch.setenv("MUSTERPLOT_LISTENS", listens)
        patch.setattr(Journal, "now", lambda _journal: DEMO_NOW)  # whatever time the pages take
        patch.setattr(Seen, "version", property(lambda seen: (to_us(seen.moment.at), 0)))
        st.cache_resource.clear()
        app = AppTest.from_file(str(APP), default_timeout=PATIENCE_S)
        if at is not None:
            app.query_params["as_of"] = str(int(at.timestamp() * 1e6))
        found = {}
        for name in names:
            on_page(app, name)
            assert not app.exception, name
            found[name] = list(_sent(app))
        st.cache_resource.clear()
    return found


def _sent(app: AppTest) -> Iterator[bytes]:
    for node in app._tree:
        proto = getattr(node, "proto", None)
        if proto is not None:
            yield TOKEN.sub(b"", proto.SerializeToString(deterministic=True))


def elsewhere_and_otherwise(rng: random.Random) -> ListShelf:
    """Return the boat elsewhere, with everything seen of her, and her people in another state."""
    there = TWINS["the boat elsewhere"](rng).records
    well = otherwise_well(rng).records
    both = [a if a.payload != b.payload else c
            for a, b, c in zip(there, base().records, well, strict=True)]  # fmt: skip
    return ListShelf(both, base().blobs)


def differences(one: dict[str, list[bytes]], other: dict[str, list[bytes]]) -> list[str]:
    """Return where two readers are sent different things, the beginning of each."""
    found = []
    for page, sent in one.items():
        if len(sent) != len(other[page]):
            found.append(f"{page}: {len(sent)} and {len(other[page])} elements")
        for a, b in zip(sent, other[page], strict=False):
            if a != b:
                at = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), 0)
                span = slice(max(0, at - 80), at + 120)
                found.append(f"{page}: {a[span]!r} | {b[span]!r}")
    return found


def same(
    tmp_path: Path, twin: ListShelf, names: Iterable[str], times: Iterable[datetime | None]
) -> None:
    for folder, shelf in (("one", base()), ("other", twin)):
        (tmp_path / folder).mkdir()
        stored(shelf, tmp_path / folder / "j.sqlite")
    for at in times:
        sent = [pages(tmp_path / f / "j.sqlite", names, at) for f in ("one", "other")]
        found = differences(*sent)
        assert not found, found[:3]


def test_four_pages_of_twins_are_sent_alike(tmp_path: Path) -> None:
    twin = elsewhere_and_otherwise(random.Random(20_270_316))
    same(tmp_path, twin, QUICK_PAGES, (None,))


@pytest.mark.long
@pytest.mark.timeout(3_600)
@pytest.mark.parametrize("twin", TWINS)
def test_all_pages_of_all_twins_are_sent_alike_at_three_times(tmp_path: Path, twin: str) -> None:
    made = TWINS[twin](random.Random(16))
    same(tmp_path, made, PAGES, (None, z(13, "1733"), z(15, "1412")))


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    """The watch, from whom nothing is withheld, is sent other pages by each twin."""
    twin = elsewhere_and_otherwise(random.Random(20_270_316))
    sent = []
    for folder, shelf in (("one", base()), ("other", twin)):
        (tmp_path / folder).mkdir()
        stored(shelf, tmp_path / folder / "j.sqlite")
        sent.append(pages(tmp_path / folder / "j.sqlite", ("plot",), None, listens="127.0.0.1"))
    assert len(differences(*sent)) > 3
