"""Those aboard go into a chamber of the plan that nobody has entered as a place, as booked."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from dashboard.panels.survivors.sortie import _drafts, _Said
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.muster.muster import muster
from tests.unit.lift_cases import NOW, chamber, lift, limits, vehicle

WATCH = Actor(name="watch officer 1", role=Role.WATCH)


def test_back_with_people_for_a_chamber_that_is_no_place_yet(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'j.sqlite'}"
    journal = open_journal(url, KINDS, clock=lambda: NOW + timedelta(hours=4))
    added: list[Draft] = []

    def add(kind: str, payload: Any, hours: float = 0.0) -> None:
        at = NOW + timedelta(hours=hours)
        plain = payload if isinstance(payload, dict) else payload.model_dump(mode="json")
        draft = Draft(kind=kind, payload=plain, valid_at=at, heard_at=at, source="test",
                      identity=form_identity(f"t{len(added)}"))  # fmt: skip
        added.append(draft)
        journal.append(WATCH, [draft])

    add("survivors.complement", {"part": "list", "persons": 30})
    groups = [{"persons": 14, "fitness": "walking"}]
    moved = {"from_place": "not accounted for", "to_place": "after", "groups": groups,
             "reason": "told"}  # fmt: skip
    add("survivors.move", moved)
    add("survivors.vehicle", vehicle("V1"))
    add("survivors.chamber", chamber("chamber 3"))
    add("survivors.lift_limits", limits())
    add("survivors.lift", lift("A1", 0, "V1", "after", 14, 0))
    add("survivors.sortie_phase", {"vehicle": "V1", "lift": "A1", "phase": "down"}, 1.0)
    away = {"vehicle": "V1", "lift": "A1", "phase": "away", "walking_aboard": 12}
    add("survivors.sortie_phase", away, 2.0)
    twelve = [{"persons": 12, "fitness": "walking"}]
    add("survivors.move", {**moved, "from_place": "after", "to_place": "vehicle",
                           "groups": twelve}, 2.0)  # fmt: skip
    at = NOW + timedelta(hours=3)
    known = Known(journal, KINDS, journal.seq_at(journal.now()), at)
    moment = Moment(as_of=at, at=at)
    setting = read_setting(known, moment, None)
    places = muster(known, moment).by_place
    shown = SimpleNamespace(result=SimpleNamespace(by_place=places))
    seen: Any = SimpleNamespace(now=at, picture=SimpleNamespace(shown=lambda key: shown))
    said = _Said(phase=Phase.BACK, at="", battery="", chamber="chamber 3", walking="", lying="",
                 moves=True, form_id="f1")  # fmt: skip
    drafts = _drafts(seen, setting, setting.lifts[0], said)
    journal.append(WATCH, drafts)
    later = Known(journal, KINDS, journal.seq_at(journal.now()), at)
    assert muster(later, moment).by_place["chamber 3"] == 12  # those aboard, not the plan's 14
