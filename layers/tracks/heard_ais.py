"""What AIS told beside positions: safety texts, calls for help, aids to navigation."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from layers.earth.position import Position
from layers.journal.known import Entry, Known
from layers.tracks.model import HeardAid, HeardText, role_of

MOST_TEXTS, MOST_AIDS = 50, 200
TEXTS_FOR = timedelta(hours=48)
# Words of search and rescue transmitters, man overboard devices and beacons (IEC 61097-14 and
# ITU-R M.585, from memory), and those that a person would type.
_HELP = re.compile(
    r"\b(SART|MOB|EPIRB)[- ]?(ACTIVE|\b)|MAN OVERBOARD|MAYDAY|DISTRESS|SINKING|ABANDON|status 14",
    re.IGNORECASE,
)
_TEST = re.compile(r"\bTEST\b", re.IGNORECASE)
# ITU-R M.1371-5, table 71 (from memory), 4 as IALA has since given it: the kinds of aid that
# somebody who looks for a wreck wants to see.
AID_WORDS = {1: "reference point", 2: "racon", 3: "structure off shore", 4: "emergency wreck mark",
             5: "light, without sectors", 6: "light, with sectors", 19: "isolated danger",
             27: "preferred channel", 28: "isolated danger, floating", 29: "safe water",
             30: "special mark", 31: "light vessel"}  # fmt: skip
WRECK_MARKS = (4, 19, 28)


def heard_texts(known: Known, until: datetime) -> tuple[HeardText, ...]:
    """Return the safety texts of the last two days, the newest first."""
    names = known.latest("tracks.static", having="name")
    called = dict(zip(names["subject"].tolist(), names["name"].tolist(), strict=True))
    held = [
        entry
        for entry in known.entries("tracks.safety_text")
        if until - TEXTS_FOR <= entry.record.valid_at <= until
    ]
    held.sort(key=lambda entry: entry.record.valid_at, reverse=True)
    return tuple(
        HeardText(
            subject=entry.value.subject,
            name=called.get(entry.value.subject, ""),
            text=entry.value.text,
            at=entry.record.valid_at,
            distress=is_call(entry.value.subject, entry.value.text),
            record_id=entry.id,
        )
        for entry in held[:MOST_TEXTS]
    )


def is_call(subject: str, text: str) -> bool:
    """Whether a text is a call for help: its words say so, or its number; a test is none."""
    if _TEST.search(text):
        return False
    return bool(_HELP.search(text)) or role_of(subject) == "distress transmitter"


def heard_aids(known: Known, until: datetime) -> tuple[HeardAid, ...]:
    """Return each aid as it last said where it is, marks of wrecks first."""
    newest: dict[str, Entry] = {}
    for entry in known.entries("tracks.aid"):
        held = newest.get(entry.value.subject)
        if entry.record.valid_at <= until and (
            held is None or entry.record.valid_at >= held.record.valid_at
        ):
            newest[entry.value.subject] = entry
    found = sorted(newest.values(), key=lambda e: (not _marks_wreck(e.value), e.value.name))
    return tuple(
        HeardAid(
            subject=entry.value.subject,
            name=entry.value.name,
            words=_words(entry.value),
            position=Position(entry.value.latitude_deg, entry.value.longitude_deg),
            at=entry.record.valid_at,
            off_position=bool(entry.value.off_position),
            record_id=entry.id,
        )
        for entry in found[:MOST_AIDS]
    )


def _marks_wreck(aid: object) -> bool:
    name, kind = str(getattr(aid, "name", "")), getattr(aid, "aid_type", 0)
    return kind in WRECK_MARKS or "WRECK" in name.upper() or "WK" in name.upper().split()


def _words(aid: object) -> str:
    kind = int(getattr(aid, "aid_type", 0))
    words = AID_WORDS.get(kind, "fixed mark" if 7 <= kind <= 18 else "floating mark")
    words = "aid to navigation" if kind == 0 else words
    return f"virtual {words}" if getattr(aid, "virtual", False) else words
