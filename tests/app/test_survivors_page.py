"""The survivors' panels through Streamlit's own test runner: what is read, refused and moved."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal

AT = datetime(2027, 3, 13, 22, 0, tzinfo=UTC)
WATCH = Actor(name="watch officer 1", role=Role.WATCH)


def _page(path: str) -> None:
    from datetime import UTC, datetime
    from types import SimpleNamespace

    from dashboard.panels.survivors import (
        air as survivors_air,
        muster as survivors_muster,
        rows as survivors_rows,
        surface as survivors_surface,
    )
    from layers.catalogue import KINDS
    from layers.contract import Moment
    from layers.journal.actor import Actor, Role
    from layers.journal.store import open_journal
    from layers.picture import picture
    from layers.scene.ink import INKS

    at = datetime(2027, 3, 13, 22, 0, tzinfo=UTC)
    journal = open_journal(path, KINDS, clock=lambda: at)
    moment = Moment(at, at)
    seen: Any = SimpleNamespace(
        picture=picture(journal, moment, journal.seq_at(at), ["survivors", "margin"]),
        moment=moment,
        ink=INKS["night"],
        pen=journal,
        actor=Actor(name="watch officer 1", role=Role.WATCH),
        writable=True,
        now=at,
        answers=SimpleNamespace(margin={}, persons=None),
    )
    who = survivors_muster.show(seen)
    assert who is not None
    air = survivors_rows.show(seen, who)
    assert air is not None
    survivors_air.show_missing(air)
    survivors_surface.show_ready(seen)
    survivors_surface.show_hospital(seen)
    survivors_muster.show_form(seen, who)


def draft(kind: str, payload: dict[str, Any]) -> Draft:
    return Draft(
        kind=kind,
        payload=payload,
        valid_at=AT,
        heard_at=AT,
        source="underwater telephone",
        identity=form_identity(f"{kind} {payload}"),
    )


@pytest.fixture
def app(tmp_path: Path) -> AppTest:
    path = str(tmp_path / "journal.sqlite")
    journal = open_journal(path, KINDS, clock=lambda: AT)
    group = {"persons": 30, "fitness": "walking"}
    told = [
        ("survivors.complement", {"part": "sailing list", "persons": 40}),
        (
            "survivors.move",
            {
                "from_place": "not accounted for",
                "to_place": "after",
                "groups": [group],
                "reason": "headcount",
            },
        ),
        ("survivors.compartment", {"refuge": "after", "free_volume_m3": 260.0, "depth_m": 142.0}),
        (
            "survivors.air",
            {
                "refuge": "after",
                "pressure": {"value": 2.1, "unit": "bar", "reference": "absolute"},
                "oxygen": {"value": 13.0, "unit": "percent"},
                "carbon_dioxide": {"value": 2.2, "unit": "percent"},
            },
        ),
    ]
    for kind, payload in told:
        journal.append(WATCH, [draft(kind, payload)])
    run = AppTest.from_function(_page, kwargs={"path": path}, default_timeout=60).run()
    assert not run.exception, run.exception
    return run


def html(app: AppTest) -> str:
    drawn = [str(part.value) for part in app.markdown]
    return " ".join([*(str(part.proto.body) for part in app.get("html")), *drawn])


def fill_move(app: AppTest, persons: int) -> AppTest:
    def keyed(parts: Any, end: str) -> Any:
        return next(part for part in parts if str(part.key).endswith(end))

    keyed(app.selectbox, ".from").select("after")
    keyed(app.selectbox, ".to").select("vehicle")
    keyed(app.number_input, ".walking").set_value(persons)
    keyed(app.text_input, ".reason").set_value("lift 1")
    next(button for button in app.button if button.label == "Move them").click()
    return app.run()


def test_page_reads_muster_air_and_what_is_missing(app: AppTest) -> None:
    text = html(app)
    assert "30 in the hull, 10 not heard of" in text
    assert text.count('r="6.4"') == 30  # a mark a person
    assert text.count('r="5.6"') == 10  # hollow: nobody has heard of them
    assert ">4.6<" in text  # 2.2 % at 2.1 bar, % SEV
    assert "none is shipped as approved" in text
    assert "may come up, 10 of them not heard of" in text


def test_moving_people_moves_the_muster(app: AppTest) -> None:
    moved = fill_move(app, 16)
    assert not moved.exception
    assert "14 in the hull, 16 in the vehicle, 10 not heard of" in html(moved)


def test_too_many_are_refused_with_a_sentence_and_what_was_typed_is_kept(app: AppTest) -> None:
    refused = fill_move(app, 31)
    assert "31 cannot leave 'after', where the muster has 30" in refused.error[0].value
    kept = next(part for part in refused.number_input if str(part.key).endswith(".walking"))
    assert kept.value == 31
    assert "30 in the hull" in html(refused)


def test_which_compartments_are_flooded_and_which_dry_stands_above_the_rows(
    app: AppTest, tmp_path: Path
) -> None:
    assert "Told flooded" not in html(app)
    journal = open_journal(str(tmp_path / "journal.sqlite"), KINDS, clock=lambda: AT)
    for kind, payload in (
        ("survivors.place", {"name": "engine room", "sort": "refuge"}),
        ("survivors.water", {"refuge": "engine room", "state": "flooded"}),
        ("survivors.water", {"refuge": "after", "state": "dry"}),
    ):
        journal.append(WATCH, [draft(kind, payload)])
    app.run()
    assert "Told flooded: engine room; dry: after." in html(app)
