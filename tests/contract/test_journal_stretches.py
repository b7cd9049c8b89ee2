"""The last row of each and stretches of time: the same from both databases and from a list."""

from __future__ import annotations

import random
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from layers.earth.clock import to_us
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.journal.tables.engine import writing
from layers.journal.tables.schema import SIDES, side_columns, side_table
from tests.databases import fresh
from tests.journals import FEED, KINDS, NOW, WATCH, Clock, draft

NAMES = ("a", "B", "é", "zz", "once")
MINUTE_US = 60_000_000


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.servers)])
def journal(request: pytest.FixtureRequest, tmp_path: Path) -> Any:
    opened = open_journal(fresh(request.param, tmp_path), KINDS, clock=Clock())
    yield opened
    opened.close()


def spot(key: str, name: str, minutes_ago: int, latitude_deg: float = 49.0) -> Draft:
    return Draft(
        kind="test.spot",
        payload={"name": name, "latitude_deg": latitude_deg},
        valid_at=NOW - timedelta(minutes=minutes_ago),
        heard_at=NOW - timedelta(minutes=minutes_ago // 2),
        source="form",
        identity=form_identity(key),
    )


def filled(journal: Journal, seed: int) -> None:
    """Record spots in no order of time, some at the same instant, some then judged."""
    rng = random.Random(seed)
    spots = [
        spot(f"s{number}", rng.choice(NAMES[:4]), rng.randrange(0, 120), float(number))
        for number in range(200)
    ]
    made = journal.append(FEED, [*spots, spot("o", "once", 60)]).records
    judged = rng.sample(made[:200], 30)
    opinions = [
        draft(f"r{r.seq}", "journal.retract", target=r.id, reason="not ours") for r in judged[:20]
    ]
    opinions += [
        draft(
            f"c{r.seq}",
            "journal.correct",
            target=r.id,
            fields={"name": rng.choice([*NAMES[:4], "new"])},
            reason="typing",
        )
        for r in judged[20:]
    ]
    journal.append(WATCH, opinions)


def plain(columns: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Return columns as rows that compare, missing numbers as None."""
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    return [tuple(None if v != v else v for v in row) for row in rows]


@pytest.mark.parametrize("seed", range(4))
def test_a_list_and_the_database_cut_the_same(journal: Journal, seed: int) -> None:
    filled(journal, seed)
    rng = random.Random(seed + 100)
    records = journal.read(list(KINDS), 10_000)
    for upto in (0, 1, 90, 201, 215, journal.revision()):
        ours = Known(journal, KINDS, upto, NOW)
        theirs = Known(ListShelf(records), KINDS, upto, NOW)
        until = NOW - timedelta(minutes=rng.randrange(0, 100))
        for at in (None, until):
            assert plain(ours.latest("test.spot", at)) == plain(theirs.latest("test.spot", at))
        first = to_us(NOW) - rng.randrange(40, 130) * MINUTE_US
        asked = {name: (first, to_us(until)) for name in (*NAMES, "new", "nobody")}
        for most in (1, 3, 1000):
            ours_cut = plain(ours.stretches("test.spot", asked, most))
            assert ours_cut == plain(theirs.stretches("test.spot", asked, most))
        heard = ours.count_heard("test.spot", until)
        assert heard == theirs.count_heard("test.spot", until)
        assert heard == int((ours.columns("test.spot")["heard_at_us"] > to_us(until)).sum())


def test_the_last_of_each_agrees_with_all_rows_read(journal: Journal) -> None:
    filled(journal, 7)
    known = Known(journal, KINDS, journal.revision(), NOW)
    columns = known.columns("test.spot")
    expected: dict[str, tuple[int, int]] = {}
    for name, at, seq in zip(
        columns["name"].tolist(),
        columns["valid_at_us"].tolist(),
        columns["seq"].tolist(),
        strict=True,
    ):
        expected[name] = max(expected.get(name, (0, 0)), (at, seq))
    last = known.latest("test.spot")
    assert last["name"].tolist() == sorted(expected)
    found = zip(last["valid_at_us"].tolist(), last["seq"].tolist(), strict=True)
    assert dict(zip(last["name"].tolist(), found, strict=True)) == expected


def test_a_stretch_brings_the_row_before_it_or_only_the_last_ones(journal: Journal) -> None:
    journal.append(FEED, [spot(str(ago), "a", ago) for ago in (90, 80, 40, 30, 20, 5)])
    known = Known(journal, KINDS, journal.revision(), NOW)
    asked = {"a": (to_us(NOW) - 45 * MINUTE_US, to_us(NOW) - 10 * MINUTE_US)}

    def minutes_ago(most: int) -> list[int]:
        at = known.stretches("test.spot", asked, most)["valid_at_us"]
        return [(to_us(NOW) - int(a)) // MINUTE_US for a in at]

    assert minutes_ago(100) == [80, 40, 30, 20]
    assert minutes_ago(2) == [30, 20]


def test_only_rows_that_have_a_value_are_looked_at_when_asked(journal: Journal) -> None:
    journal.append(FEED, [spot("1", "a", 20, 1.0), spot("2", "a", 10, 2.0)])
    row = journal.read(["test.spot"], 9)[-1]
    gone = draft("c", "journal.retract", target=row.id, reason="not ours")
    assert Known(journal, KINDS, 2, NOW).latest("test.spot")["latitude_deg"].tolist() == [2.0]
    journal.append(WATCH, [gone])
    found = Known(journal, KINDS, 3, NOW).latest("test.spot", having="latitude_deg")
    assert found["latitude_deg"].tolist() == [1.0]


def test_retracting_thousands_is_no_harder(journal: Journal) -> None:
    made = journal.append(FEED, [spot(str(n), "a", n % 100) for n in range(3000)]).records
    opinions = [
        draft(f"r{r.seq}", "journal.retract", target=r.id, reason="wrong log") for r in made[1:]
    ]
    journal.append(WATCH, opinions)
    last = Known(journal, KINDS, journal.revision(), NOW).latest("test.spot")
    assert last["seq"].tolist() == [1]


def test_a_journal_made_before_the_index_gets_it_and_keeps_its_rows(journal: Journal) -> None:
    journal.append(FEED, [spot("1", "a", 20, 1.0)])
    kind = KINDS["test.spot"]
    (index,) = side_table(kind).indexes
    with writing(journal.engine, journal.place) as connection:
        index.drop(connection)
        connection.execute(
            SIDES.update()
            .where(SIDES.c.name == "side_test_spot")
            .values(made_of=side_columns(kind))
        )
    url = journal.engine.url
    place = journal.place.removeprefix("journal ") if url.database is None else url
    again = open_journal(place, KINDS, clock=Clock())
    with again.engine.connect() as connection:
        held = {i["name"] for i in sa.inspect(connection).get_indexes("side_test_spot")}
    assert held == {index.name}
    assert again.read_columns(kind, 9)["latitude_deg"].tolist() == [1.0]
    again.close()
