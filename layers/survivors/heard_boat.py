"""How the boat herself, her places and how she lies are told by voice."""

from __future__ import annotations

from dataclasses import replace

from layers.contract.heard_roles import DEPTH, LENGTH
from layers.earth.said import quantity as q
from layers.journal.words.heard import HeardWords, Slot
from layers.survivors.heard_fill import READY, boats, fill_boat, fill_lies, fill_place, places

DEPTH_AT = replace(DEPTH, key="depth_at", cues=(), loose=True, alone=False)
BOAT_LENGTH = replace(LENGTH, least=5.0, most=250.0)

NAME_IS = ("boat's name is", "boat’s name is", "her name is", "boats name is",
           "name of the boat is", "submarine's name is")  # fmt: skip

CHARTED = (r"(?:the )?charts? (?:gives?|shows?|says?|has|have) (\d+ ?(?:m|metres|fathoms))"
           r"(?: (?:at|in|for|around) (?:the |that )?(?:spot|place|datum|position|area)| there)?"
           )  # fmt: skip
HEARD_BOAT = {
    "survivors.boat": HeardWords(
        words=("boat", "submarine", "sub", *NAME_IS),
        introduces="the boat",
        hers=True,
        names=boats,
        needs=("boat_name|length|escape_depth|hull_depth",),
        cores=(("escape_depth",), ("hull_depth",)),
        roles=(
            Slot(
                key="boat_name",
                title="name of the boat",
                sort="word",
                cues=(
                    "named",
                    "boat",
                    "submarine",
                    "sub",
                    "name",
                    "called",
                    "dissub is",
                    *NAME_IS,
                ),
                pattern=r"[A-Za-z][A-Za-z0-9.'-]*",
            ),
            BOAT_LENGTH,
            Slot(
                key="escape_depth",
                title="escape depth",
                sort="quantity",
                measure=q.LENGTH,
                unit="m",
                alone=True,
                cues=("escape depth", "escape limit"),
                least=1.0,
                most=1_000.0,
            ),
            Slot(
                key="hull_depth",
                title="hull depth",
                sort="quantity",
                measure=q.LENGTH,
                unit="m",
                alone=True,
                cues=("hull depth", "collapse depth", "depth limit", "hull good for"),
                least=1.0,
                most=6_000.0,
            ),
        ),
        example="boat GREYWETHER length 68 m escape depth 180 m",
        fill=fill_boat,
        timed=False,
    ),
    "survivors.lies": HeardWords(
        words=(
            "she lies",
            "lies",
            "lying on the bottom",
            "on the bottom",
            "on bottom",
            "boat on bottom",
            "boat on the bottom",
            "boat lies",
            "boat is on the bottom",
            "she is on the bottom",
            "she's on the bottom",
            "boat bottomed",
            "submarine on the bottom",
            "submarine is on the bottom",
            "lying",
            "bottomed",
            "sitting on the bottom",
        ),
        perhaps={
            "heading": "she lies heading",
            **dict.fromkeys(
                (
                    "depth at the seat",
                    "depth of the seat",
                    "seat depth",
                    "depth at the wreck",
                    "depth of (?:the )?(?:boat|submarine|sub)",
                    "boat(?:[’']?s)? depth",
                ),
                "she lies",
            ),
            CHARTED: r"she lies depth \1",
            "charted depth": "she lies depth",
        },
        needs=("her_heading|list|list_side|trim|trim_up|trim_unsaid|depth|depth_at",),
        cores=(("list",), ("trim",), ("trim_up",)),
        roles=(
            Slot(
                key="her_heading",
                title="heading",
                sort="direction",
                alone=True,
                cues=("heading", "hdg", "heads"),
            ),
            Slot(
                key="list",
                title="list",
                sort="quantity",
                measure=q.ANGLE,
                unit="deg",
                alone=True,
                cues=("list", "listing", "heel", "heeled", "heeling"),
                least=0.0,
                most=180.0,
            ),
            Slot(
                key="list_side",
                title="to port or starboard",
                sort="choice",
                choices={
                    "to starboard": "starboard",
                    "to port": "port",
                    "port": "port",
                    "starboard": "starboard",
                },
            ),
            Slot(
                key="trim",
                title="bow down",
                sort="quantity",
                measure=q.ANGLE,
                unit="deg",
                alone=True,
                cues=("bow down", "nose down", "down by the bow"),
                least=0.0,
                most=90.0,
            ),
            Slot(
                key="trim_up",
                title="bow up",
                sort="quantity",
                measure=q.ANGLE,
                unit="deg",
                alone=True,
                cues=("bow up", "nose up", "stern down", "down by the stern"),
                least=0.0,
                most=90.0,
            ),
            Slot(
                key="trim_unsaid",
                title="trim",
                sort="quantity",
                measure=q.ANGLE,
                unit="deg",
                alone=True,
                cues=("trim",),
                least=0.0,
                most=90.0,
            ),
            DEPTH,
            DEPTH_AT,
        ),
        example="she lies heading 200 list 12 to starboard bow down 4 depth 142 m",
        fill=fill_lies,
        fields=("heading_true_deg",),
    ),
    "survivors.place": HeardWords(
        words=("new compartment", "compartment named", "new place"),
        needs=("place_name",),
        takes=("place_sort",),
        roles=(
            Slot(
                key="place_name",
                title="its name",
                sort="word",
                names=("refuge",),
                loose=True,
                cues=("named", "called"),
            ),
            Slot(
                key="place_sort",
                title="what sort of place",
                sort="choice",
                choices={
                    "as refuge": "refuge",
                    "as chamber": "chamber",
                    "as vehicle": "vehicle",
                    "as deck": "deck",
                },
            ),
        ),
        example="new compartment named motor-room as refuge",
        introduces="refuge",
        plural=("compartments", "refuges"),
        endings=(
            "room",
            "rm",
            "ends",
            "end",
            "space",
            "spaces",
            "compartment",
            "section",
            "mess",
            "trunk",
            "tower",
            "flat",
            "control",
        ),
        fill=fill_place,
        fields=("name", "sort"),
        names=places,
        ready_names=READY,
        timed=False,
    ),
}
