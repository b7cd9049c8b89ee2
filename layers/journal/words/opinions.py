"""How what is thought of another record is told: scrap 14: wrong ship; correct 12: 1150Z."""

from __future__ import annotations

from layers.journal.words.heard import HeardWords, Slot, ToldRecord

RECORD = Slot(key="record", title="which record", sort="record")
REASON = Slot(key="reason", title="reason", sort="text",
              offered=("wrong", "told twice", "not hers"))  # fmt: skip


def _fill_opinion(told: ToldRecord) -> None:
    """Put which record is meant and why; a correction also what it should read."""
    record = told.get("record")
    told.put(target=record.id if record is not None else None, reason=told.get("reason"))
    told.put(fields=told.get("fields"))
    if told.has("valid_at"):
        told.put(valid_at=told.get("valid_at").isoformat())
        told.assume("", fields={})
    told.assume("", reason="as heard")


def _opinion(words: tuple[str, ...], example: str, needs: tuple[str, ...] = ("reason",),
             amends: bool = False) -> HeardWords:  # fmt: skip
    return HeardWords(
        words=words,
        needs=("record", *needs),
        roles=(RECORD, REASON),
        text="reason",
        example=example,
        fill=_fill_opinion,
        fields=("target", "fields"),
        amends=amends,
        timed=False,
    )


HEARD = {
    "journal.correct": _opinion(
        ("correct", "amend", "correction"), "correct 12: 1150Z", needs=(), amends=True
    ),
    "journal.retract": _opinion(
        (
            "scrap",
            "strike",
            "retract",
            "disregard",
            "cancel",
            "scrub",
            "delete",
            "undo",
            "withdraw",
            "take back",
        ),
        "scrap 14: wrong ship",
    ),
    "journal.dispute": _opinion(("dispute", "doubt"), "doubt 14: another ship heard nothing"),
    "journal.adopt": _opinion(("adopt",), "adopt 14: agrees with the buoy"),
}
