"""How objects of search are told by voice: found by whom with how many, suspended, joined.

Each line is opened by its word; the object stands before the colon. How many were alive is never
taken as none: it is asked for.
"""

from __future__ import annotations

import re

from layers.contract.heard_roles import SHIP
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

WHAT = Slot(key="what", title="what of it", sort="text")
WHOM = Slot(key="whom", title="which object", sort="text", loose=True)
_BY = re.compile(r"\bby\s+(?P<by>[^,;]+)", re.IGNORECASE)
_COUNT = r"(?P<n>\d{1,4}|none|no one|nobody)\s+(?:were\s+|was\s+)?%s\b"
_NONE = ("none", "no one", "nobody")
# by TENACE or TERN, not 3 alive: two readings, or none of what is said
_TURNED = re.compile(r"\b(?:not(?! all\b)|or|nor|neither|maybe|perhaps|possibly|unless)\b", re.I)


def fill_object_found(told: ToldRecord) -> None:
    """Put which object was found, by whom, how many alive and dead."""
    text = str(told.get("what") or "")
    alive, dead = _count("alive", text), _count("dead", text)
    told.put(object=_object(told), by=_by(text), alive=alive, dead=dead)
    if re.search(
        r"\b(?:not all|others? (?:still )?(?:missing|sought)|search goes on)\b", text, re.I
    ):
        told.put(all_of_it=False)
    if _by(text) is None:
        told.lack("by whom it was found: by …")
    if alive is None:
        told.lack("how many were alive: 3 alive, none alive")
    _plainly(told)


def fill_suspended(told: ToldRecord) -> None:
    """Put which search is suspended, or taken up again, by whose decision and why."""
    text = str(told.get("what") or "").strip()
    resumed = bool(re.match(r"(?:resumed|taken up again)\b", text, re.IGNORECASE))
    by = _by(text)
    told.put(object=_object(told), by=by, resumed=True if resumed else None)
    reason = _BY.sub("", text, count=1) if by else text
    reason = re.sub(r"^(?:resumed|taken up again)\b", "", reason, flags=re.IGNORECASE)
    told.put(reason=reason.strip(" ,;.") or None)
    if by is None:
        told.lack("by whose decision: by …")
    _plainly(told)


def fill_joined(told: ToldRecord) -> None:
    """Put which two objects are one: ``objects joined raft 2: raft 1``."""
    into, _, reason = str(told.get("what") or "").strip().partition(",")
    into = re.sub(r"^(?:is|with|into|and)\s+", "", into, flags=re.IGNORECASE).strip()
    told.put(object=_object(told), into=into or None, reason=reason.strip() or None)


def _plainly(told: ToldRecord) -> None:
    said = f"{told.get('whom') or ''} {told.get('what') or ''}"
    if turned := _TURNED.search(said):
        told.lack(f"it said plainly, without {turned[0].lower()}")


def _object(told: ToldRecord) -> str | None:
    ship = told.get("ship")
    if isinstance(ship, Name):
        return ship.text
    text = str(told.get("whom") or "").strip()
    return re.sub(r"^(?:of|for|the)\s+", "", text, flags=re.IGNORECASE) or None


def _by(text: str) -> str | None:
    found = _BY.search(text)
    return found["by"].strip() if found else None


def _count(what: str, text: str) -> int | None:
    found = re.search(_COUNT % what, text, re.IGNORECASE)
    if found is None:
        return None
    return 0 if found["n"].lower() in _NONE else int(found["n"])


HEARD_OBJECTS = {
    "datum.object_found": HeardWords(
        words=("object found", "found object"), needs=("ship|whom", "what"),
        roles=(SHIP, WHOM, WHAT), text="what", whom="whom", fill=fill_object_found,
        fields=("object", "by", "alive"),
        example="object found raft 1: by TENACE, 3 alive, 1 dead"),
    "datum.search_suspended": HeardWords(
        words=("search suspended", "search resumed"), needs=("ship|whom", "what"),
        roles=(SHIP, WHOM, WHAT), text="what", whom="whom", fill=fill_suspended,
        fields=("by",), example="search suspended raft 1: by the duty officer, all areas twice"),
    "datum.objects_joined": HeardWords(
        words=("objects joined", "same object"), needs=("ship|whom", "what"),
        roles=(SHIP, WHOM, WHAT), text="what", whom="whom", fill=fill_joined,
        fields=("object", "into"), example="same object raft 2: raft 1, one light seen twice"),
}  # fmt: skip
