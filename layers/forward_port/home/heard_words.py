"""How the way home is told by voice: who has what, that it is ready again, who was told."""

from __future__ import annotations

import re

from layers.contract.heard_roles import SHIP
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

WHAT = Slot(key="what", title="what", sort="text")
WHOM = Slot(key="whom", title="which", sort="text", loose=True)
EXPECTED = Slot(key="expected_at", title="when it is expected there", sort="time", ahead=True,
                cues=("expected there", "expected at", "expected"), preps=("at",))  # fmt: skip
ANSWERS = (("accepts", "accepts"), ("accepted", "accepts"), ("refuses", "refuses"),
           ("refused", "refuses"))  # fmt: skip


def fill_held(told: ToldRecord) -> None:
    """Put who has what: ``custody LIMPET: CAPE ARDIS, at Aldermouth``."""
    text = str(told.get("what") or "").strip()
    holder, _, place = text.partition(" at ")
    holder = re.sub(r"^(?:with|now with|is with|handed to|to)\s+", "", holder).strip(" ,;")
    told.put(what=_whom(told), held_by=holder or None, kept_at=place.strip(" ,;") or None)


def fill_told(told: ToldRecord) -> None:
    """Put which port or hospital was told what comes, and what it answered."""
    text = str(told.get("what") or "").strip()
    accepted = None
    for word, value in ANSWERS:
        if found := re.search(rf"(?:^|[,;]\s*){word}\s*[.;,]?\s*$", text, re.IGNORECASE):
            accepted, text = value, text[: found.start()].strip(" ,;")
            break
    told.put(port_or_hospital=_whom(told), coming=text or None, accepted=accepted)
    if told.has("expected_at"):
        told.put(expected_at=told.get("expected_at").isoformat())


def _whom(told: ToldRecord) -> str | None:
    ship = told.get("ship")
    if isinstance(ship, Name):
        return ship.text
    text = re.sub(r"^(?:of|to|the)\s+", "", str(told.get("whom") or "").strip())
    return text or None


HEARD_HOME = {
    "forward_port.held": HeardWords(
        words=("custody", "who has"), needs=("ship|whom", "what"), roles=(SHIP, WHOM, WHAT),
        text="what", whom="whom", fill=fill_held, fields=("what", "held_by"),
        example="custody LIMPET: port agent at Aldermouth"),
    "forward_port.told_coming": HeardWords(
        words=("port told", "hospital told", "airfield told"), needs=("ship|whom", "what"),
        takes=("expected_at",), roles=(SHIP, WHOM, WHAT, EXPECTED), text="what", whom="whom",
        fill=fill_told, fields=("port_or_hospital", "coming"),
        example="port told Aldermouth: LIMPET and her gear expected 1900, accepts"),
}  # fmt: skip
