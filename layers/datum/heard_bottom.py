"""How what lies on the bottom is told by voice: a contact, the boat herself, a charted wreck."""

from __future__ import annotations

from layers.datum.heard_fill import fill_contact, fill_wreck, names_of_wrecks
from layers.journal.words.heard import HeardWords, Slot

# what lies on the bottom is she only where somebody says so
BOTTOM = Slot(key="bottom", title="on the bottom", sort="choice", choices={
    "on the bottom": True, "on bottom": True, "lying on the bottom": True, "bottomed": True,
    "lies": True, "sitting on the bottom": True, "lying": True})  # fmt: skip
IDENTIFIED = Slot(key="identified", title="is it she", sort="choice", choices={
    "the boat herself": "DISSUB", "identified as the boat": "DISSUB", "she lies": "DISSUB",
    "boat lies": "DISSUB", "boat on the bottom": "DISSUB", "boat on bottom": "DISSUB",
    "boat is on the bottom": "DISSUB", "she is on the bottom": "DISSUB",
    "she's on the bottom": "DISSUB", "boat found": "DISSUB", "boat bottomed": "DISSUB",
    "submarine on the bottom": "DISSUB", "found her": "DISSUB",
    "submarine is on the bottom": "DISSUB", "not identified": "not identified",
    "unidentified": "not identified"})  # fmt: skip
TOLD_BY = Slot(key="told_by", title="by whom", sort="choice", choices={
    "reported to the watch": "reported to the watch"})  # fmt: skip
HEARD_BOTTOM = {
    "datum.contact": HeardWords(
        words=("contact on the bottom", "bottom contact", "sonar contact", "bottom target"),
        needs=("position", "ship|told_by"),
        takes=("within", "length", "depth", "form", "bottom", "identified"),
        cores=(("bottom", "position"), ("identified", "position")),
        roles=(
            BOTTOM,
            IDENTIFIED,
            TOLD_BY,
            Slot(
                key="form",
                title="form",
                sort="choice",
                choices={
                    "hull": "hull",
                    "hull shaped": "hull",
                    "broken up": "broken",
                    "unclear form": "unclear",
                    "natural feature": "natural",
                },
            ),
        ),
        example="sonar contact 4315.2N 00830.1E by TENACE length 60 m depth 142 m within 50 m",
        fill=fill_contact,
        fields=("sigma_m", "observer"),
    ),
    "datum.wreck": HeardWords(
        words=("charted wreck", "wreck"),
        needs=("position",),
        takes=("wreck_name", "length", "depth"),
        roles=(Slot(key="wreck_name", title="name", sort="word", cues=("named", "called")),),
        example="charted wreck 4312.4N 00828.8E length 70 m depth 138 m",
        fill=fill_wreck,
        fields=("name", "source"),
        names=names_of_wrecks,
        timed=False,
    ),
}
