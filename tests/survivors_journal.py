"""A small journal of people for tests: says records through the kinds' own checks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from layers.journal.kinds import OPINIONS
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, Record, as_record, form_identity
from layers.survivors.kinds import KINDS
from layers.transponders.model import KINDS as NET_KINDS

AT = datetime(2027, 3, 13, 15, 0, tzinfo=UTC)
FIX = next(kind for kind in NET_KINDS if kind.name == "transponders.typed_fix")
CATALOGUE = {kind.name: kind for kind in (*OPINIONS, *KINDS, FIX)}


class Told:
    """Records in the order they are told, each checked and refused as the journal would."""

    def __init__(self) -> None:
        self.records: list[Record] = []

    def known(self) -> Known:
        return Known(ListShelf(self.records), CATALOGUE, len(self.records), AT)

    def add(
        self, kind: str, payload: dict[str, Any], hours: float = 0.0, source: str = "telephone"
    ) -> str:
        at = AT + timedelta(hours=hours)
        seq = len(self.records) + 1
        draft = Draft(
            kind=kind,
            payload=payload,
            valid_at=at,
            heard_at=at,
            source=source,
            identity=form_identity(str(seq)),
        )
        value = check_payload(CATALOGUE[kind], payload, kind)
        refuse = CATALOGUE[kind].refuse
        if refuse is not None:
            refuse(value, draft, self.known())
        self.records.append(as_record(draft, seq=seq, recorded_at=at, author="watch"))
        return draft.id

    def complement(
        self, part: str, persons: int, hours: float = 0.0, source: str = "telephone"
    ) -> str:
        return self.add("survivors.complement", {"part": part, "persons": persons}, hours, source)

    def report(
        self, place: str, persons: int, hours: float = 0.0, source: str = "telephone"
    ) -> str:
        return self.add("survivors.report", {"place": place, "persons": persons}, hours, source)

    def move(self, origin: str, to: str, groups: Any, hours: float = 0.0) -> str:
        if isinstance(groups, int):
            groups = [(groups, "unknown")]
        made = []
        for persons, fitness, *was in groups:
            made.append({"persons": persons, "fitness": fitness})
            if was:
                made[-1]["was"] = was[0]
        payload = {"from_place": origin, "to_place": to, "groups": made, "reason": "as told"}
        return self.add("survivors.move", payload, hours)

    def opinion(self, kind: str, target: str, hours: float = 0.0, **more: Any) -> str:
        return self.add(kind, {"target": target, "reason": "as told", **more}, hours)
