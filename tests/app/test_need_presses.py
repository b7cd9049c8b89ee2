"""Where a panel says that nothing is known of something, its form is one press away."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.tools.need import kinds_for
from layers.catalogue import KINDS


def _page(path: str) -> None:
    import uuid
    from datetime import UTC, datetime
    from types import SimpleNamespace

    from dashboard.panels.datum import evidence, fix, found, searched, steered
    from dashboard.panels.forward_port import chain, fit
    from dashboard.panels.survivors import surface
    from dashboard.panels.weather import hatch, meteogram, sortie
    from layers.catalogue import KINDS, LAYERS
    from layers.contract import Moment
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.record import Draft, form_identity
    from layers.journal.store import open_journal
    from layers.picture import picture
    from layers.scene.ink import INKS

    at = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
    actor = Actor(name="watch officer", role=Role.WATCH)
    journal = open_journal(path, KINDS, clock=lambda: at)
    place = {"latitude_deg": -38.1, "longitude_deg": 176.9}
    if journal.revision() < 3:
        for kind, payload in (
            ("datum.lkp", {**place, "sigma_m": 2000.0, "reported_by": "the watch"}),
            ("weather.observation", {**place, "station": "SOLVEIG", "sort": "ship", "hs_m": 2.8}),
            ("survivors.complement", {"part": "all on board", "persons": 38}),
            ("forward_port.port", {"name": "TAURANGA", **place}),
        ):
            journal.append(actor, [Draft(
                kind=kind, payload=payload, valid_at=at, heard_at=at, source="telephone",
                identity=form_identity(uuid.uuid4().hex),
            )])  # fmt: skip
    moment = Moment(at, at)
    seen: Any = SimpleNamespace(
        picture=picture(journal, moment, journal.revision(), [one.key for one in LAYERS]),
        ink=INKS["night"], writable=True, now=at, about=None, moment=moment, pen=journal,
        actor=actor, exercise=True, known=Known(journal, KINDS, journal.revision(), at),
    )  # fmt: skip
    for panel in (evidence, fix, found, searched, steered, chain, fit, hatch):
        panel.show(seen)
    surface.show_water(seen)
    surface.show_hospital(seen)
    meteogram.show_waves(seen)
    meteogram.show(seen)
    sortie.show_limits(seen)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> AppTest:
    path: Path = tmp_path_factory.mktemp("need") / "need.sqlite"
    run = AppTest.from_function(_page, args=(str(path),), default_timeout=240).run()
    assert not run.exception, run.exception
    return run


@pytest.mark.parametrize(
    "kind",
    [
        "datum.bearing", "datum.time_difference", "datum.object", "datum.negative_search",
        "tracks.position", "survivors.in_water", "survivors.hospital", "weather.seat",
        "weather.vehicle_limit", "weather.tidal_stream", "weather.limit",
        "forward_port.option", "forward_port.piece",
    ],
)  # fmt: skip
def test_what_is_lacking_has_its_press(app: AppTest, kind: str) -> None:
    offered = {str(one) for group in app.get("button_group") for one in group.options}
    assert f"Add: {KINDS[kind].title}" in offered


def test_a_press_shows_the_form(app: AppTest) -> None:
    group: Any = next(one for one in app.get("button_group") if one.key == "need.water")
    group.set_value("survivors.in_water")
    app.run()
    assert not app.exception, app.exception
    assert any(button.label.startswith("Record") for button in app.button)


def test_a_word_within_a_word_offers_no_form() -> None:
    said = "no weather is known yet; to ask for: an airfield report, or a typed observation"
    assert not [kind for kind in kinds_for(said) if kind.startswith("forward_port.")]
    assert "forward_port.port" in kinds_for("no candidate port is known yet")
