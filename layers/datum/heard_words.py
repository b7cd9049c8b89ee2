"""How what bears on her is told by voice: words, roles, and what fills that which nobody says.

Figures that nobody speaks (a bearing's error, how far a tapping carries) are ours and are read
back; common practice, no source, unless said.
"""

from __future__ import annotations

from dataclasses import replace

from layers.contract.heard_roles import BEARING, COURSE, SHIP
from layers.datum.heard_bottom import HEARD_BOTTOM
from layers.datum.heard_fill import (
    BANGS,
    SOUNDS,
    fill_bearing,
    fill_depths,
    fill_heard,
    fill_lkp,
    fill_loss,
    fill_movement,
    fill_negative_search,
    fill_range,
    fill_searcher,
    her_places,
)
from layers.datum.heard_seen import (
    AFLOAT,
    CONDITION,
    HEARD_SILENT,
    MEANS,
    OF_THE_SEA,
    PEOPLE,
    PERHAPS_DEBRIS,
    PIECES,
    SEEN,
    SEEN_MARK,
    UNNAMED,
    WEARING,
    WHAT,
    fill_sighting,
)
from layers.earth.said import quantity as q
from layers.journal.words.heard import HeardWords, Slot

DUE = Slot(
    key="due",
    title="when the report was due",
    sort="time",
    ahead=True,
    cues=(
        "report due",
        "next report due",
        "next report",
        "due",
        "report was due",
        "report overdue since",
        "expected to report",
        "due to report",
        "was due to report",
        "should have reported",
        "was due",
        "expected to surface",
    ),
    preps=("", "at", "from", "by"),
)
OVERDUE = Slot(
    key="overdue",
    title="since when she is overdue",
    sort="time",
    past=True,
    or_else="due",
    cues=("overdue", "overdue since", "overdue from", "missed"),
    preps=("", "at", "since", "from"),
)
FROM_SHIP = replace(SHIP, preps=("from", "", "by", "at", "of", "aboard", "on"))
BY_OBSERVER = replace(SHIP, preps=("by", "", "from", "at", "of", "aboard", "on"))
HER_COURSE = replace(COURSE, loose=True,
                     cues=(*COURSE.cues, "intended track", "intended course"))  # fmt: skip
HER_SPEED = Slot(key="speed", title="speed", sort="quantity", measure=q.SPEED, unit="kn",
                 alone=True, loose=True,
                 cues=("speed", "spd", "making", "doing", "at_speed", "proceeding at"),
                 least=0.1, most=60.0)  # fmt: skip
WAY = Slot(key="way", title="length of the way", sort="quantity", measure=q.LENGTH, unit="nmi",
           cues=("for a distance of", "length", "to go"), least=0.1, most=3_000.0)  # fmt: skip
SOUND = Slot(key="sound", title="what was heard", sort="choice", choices=SOUNDS)
BANG = Slot(key="bang", title="what was heard", sort="choice",
            choices={word: word for word in BANGS})  # fmt: skip
HEARD_MARK = Slot(key="heard", title="heard", sort="choice",
                  choices={"heard": True, "hears": True, "hearing": True, "picks up": True,
                           "picking up": True, "picked up": True})  # fmt: skip
NOTHING = Slot(key="nothing", title="nothing seen", sort="choice", choices={
    "nothing seen": True, "nothing found": True, "nil seen": True, "negative search": True,
    "nothing sighted": True, "no sightings": True, "search negative": True,
    "no sighting": True, "nil sighted": True, "nil found": True, "nil": True})  # fmt: skip
SEARCHED = Slot(key="searched", title="searched", sort="choice",
                choices={"searched": True, "search of": True, "having searched": True,
                         "swept": True})  # fmt: skip
BOX = Slot(
    key="box",
    title="box",
    sort="choice",
    choices={"box": True, "area": True, "searched area": True, "rectangle": True},
)
CORNER_1 = Slot(key="corner_1", title="two corners of the box", sort="position")
CORNER_2 = replace(CORNER_1, key="corner_2", preps=("", "to"))
SPACING = Slot(key="spacing", title="track spacing", sort="quantity", measure=q.LENGTH, unit="m",
               cues=("track spacing", "track", "tracks", "spacing", "spaced", "lanes", "lane"),
               loose=False,
               least=1.0, most=50_000.0)  # fmt: skip
START = Slot(key="start", title="from when", sort="time", preps=("from", ""))
END = Slot(key="end", title="until when", sort="time", preps=("until", "to", "till"))
SWEEP = Slot(key="sweep", title="sweep width", sort="quantity", measure=q.LENGTH, unit="m",
             cues=("sweep width", "sweep"), least=1.0, most=200_000.0)  # fmt: skip
BY_SHIP = Slot(key="reporter", title="by whom", sort="name", names=("ship",), preps=("by", "from"))
HEARD = {
    "datum.lkp": HeardWords(
        words=(
            "last known position",
            "lkp",
            "last known",
            "last reported position",
            "last known pos",
            "last position",
            "last heard",
            "boat last heard",
            "boat last seen",
            "boat last known",
            "boat last reported",
            "last seen",
            "last contact",
            "last reported",
            "last posn",
            "last pos",
            "last known posn",
            "last fix",
            "last known fix",
            "dived",
            "submerged",
            "last reported posn",
        ),
        perhaps=dict.fromkeys(
            (
                "lost contact",
                "contact lost",
                "lost touch",
                r"contact with (?:her|the boat|the submarine|\w+) (?:was )?lost",
            ),
            "last known position",
        ),
        needs=("position", "within"),
        takes=("reporter", "unnamed", "means"),
        roles=(BY_SHIP, UNNAMED, MEANS),
        example="lkp 4320N 00840E 1044Z within 2 nmi",
        fill=fill_lkp,
        needs_time=True,
        fields=("sigma_m", "reported_by"),
        names=her_places,
    ),
    "datum.intended_movement": HeardWords(
        words=("intended movement", "pim", "movement"),
        needs=("course|speed|due|overdue",),
        takes=("course", "speed", "up_to", "due", "overdue", "way"),
        roles=(HER_COURSE, DUE, OVERDUE, HER_SPEED, WAY),
        cores=(("course",), ("speed",), ("due",), ("overdue",)),
        perhaps={
            "heading": "course",
            "no report since": "overdue since",
            "nothing heard since": "overdue since",
            "not heard since": "overdue since",
            r"(?:\w+ )?(?:signal|report|message|call)(?: from \w+)? "
            r"(?:not received|not heard|missed|missing),? due(?: at)?": "overdue since",
        },
        timed=False,
        example="course 215 speed 6",
        fill=fill_movement,
    ),
    "datum.bearing": HeardWords(
        words=(),
        # tapping on 055T: of what was heard, a direction is its bearing
        needs=("bearing", "ship"),
        takes=("heading", "range", "bearing_error", "sound", "bang", "heard", "position"),
        roles=(FROM_SHIP, SOUND, BANG, HEARD_MARK, replace(BEARING, loose=True)),
        cores=(("bearing",), ("sound",)),
        example="TENACE bearing 060M 1152",
        fill=fill_bearing,
        fields=("sigma_deg", "latitude_deg", "longitude_deg", "observer"),
    ),
    "datum.range": HeardWords(
        words=(),
        needs=("range", "ship"),
        takes=("range_error", "position"),
        cores=(("range",),),
        roles=(FROM_SHIP,),
        example="range 9.4 nmi from TENACE",
        fill=fill_range,
        fields=("latitude_deg", "longitude_deg", "observer"),
    ),
    "datum.sighting": HeardWords(
        words=(),
        needs=("what", "position|bearing", "ship|unnamed"),
        takes=(
            "seen",
            "within",
            "count",
            "range",
            "heading",
            "pieces",
            "condition",
            "afloat",
            "wearing",
        ),
        roles=(WHAT, SEEN_MARK, BY_OBSERVER, UNNAMED, PIECES, PEOPLE, CONDITION, AFLOAT, WEARING),
        cores=(("what",),),
        perhaps=PERHAPS_DEBRIS,
        others=OF_THE_SEA,
        instead={  # said so, the ship herself bears from what floats (SMCP)
            rf"(\S.*) (?:bearing|bears|brg) (.+) from (?:the |a )?({'|'.join(SEEN)})": (
                "which of the two bears so from the other?",
                r"\3 bearing \2 from \1",
            ),
        },
        example="oil 4315.2N 00830.1E seen by RESCUE 21 at 1230",
        fill=fill_sighting,
        fields=("object_type", "sigma_m", "observer"),
    ),
    "datum.heard": HeardWords(
        words=(),
        needs=("sound", "ship|unnamed"),
        takes=("heard", "position", "within"),
        roles=(SOUND, HEARD_MARK, BY_OBSERVER, UNNAMED),
        cores=(("sound",),),
        example="tapping heard by TENACE 1210",
        fill=fill_heard,
        fields=("within_m", "latitude_deg", "longitude_deg", "observer"),
    ),
    "datum.loss_time": HeardWords(
        words=(),
        needs=("bang", "ship|unnamed"),
        takes=("heard",),
        roles=(BANG, HEARD_MARK, BY_OBSERVER, UNNAMED),
        cores=(("bang",),),
        example="explosion heard by TENACE 1155",
        fill=fill_loss,
        fields=("what", "observer", "earliest", "latest"),
        needs_time=True,
    ),
    "datum.negative_search": HeardWords(
        words=(),
        needs=("nothing", "ship", "corner_1", "corner_2", "spacing", "start", "end"),
        takes=("searched", "box", "sweep"),
        timed=False,
        cores=(("nothing",),),
        roles=(BY_OBSERVER, NOTHING, SEARCHED, BOX, CORNER_1, CORNER_2, SPACING, START, END, SWEEP),
        example="nothing seen TENACE box 4310N 00820E to 4318N 00834E track 0.5 nmi "
        "sweep width 1 nmi 0900 to 1200",
        fill=fill_negative_search,
        fields=("searcher", "waypoints", "started_at", "sweep_width_m"),
    ),
    **HEARD_BOTTOM,
    **HEARD_SILENT,
    "datum.searcher": HeardWords(
        words=("searcher", "can search", "available to search"),
        needs=("ship", "search_speed", "sweep", "endurance"),
        takes=("position", "transit_speed", "crew", "turning"),
        roles=(
            SWEEP,
            Slot(
                key="crew",
                title="crew hours",
                sort="quantity",
                measure=q.SPAN,
                unit="h",
                cues=("crew hours", "crew for"),
                least=0.1,
                most=2_000.0,
            ),
            Slot(
                key="turning",
                title="turning radius",
                sort="quantity",
                measure=q.LENGTH,
                unit="m",
                cues=("turning radius", "turns on"),
                least=1.0,
                most=5_000.0,
            ),
            Slot(
                key="search_speed",
                title="search speed",
                sort="quantity",
                measure=q.SPEED,
                unit="kn",
                alone=True,
                cues=("search speed", "searching at"),
                least=0.1,
                most=500.0,
            ),
            Slot(
                key="transit_speed",
                title="transit speed",
                sort="quantity",
                measure=q.SPEED,
                unit="kn",
                alone=True,
                cues=("transit speed", "transit"),
                least=0.1,
                most=500.0,
            ),
            Slot(
                key="endurance",
                title="endurance",
                sort="quantity",
                measure=q.SPAN,
                unit="h",
                cues=("endurance", "for another"),
                least=0.1,
                most=2_000.0,
            ),
        ),
        example="searcher TENACE search speed 12 kn sweep width 1 nmi endurance 6 h",
        fill=fill_searcher,
        fields=("transit_speed_kn", "ready_at", "name"),
    ),
    "datum.localisation_limit": HeardWords(
        words=("localisation limit", "localised when within"),
        needs=("across_nmi",),
        roles=(
            Slot(
                key="across_nmi",
                title="how small",
                sort="quantity",
                measure=q.LENGTH,
                unit="nmi",
                cues=("across",),
                loose=True,
                least=0.01,
                most=100.0,
            ),
        ),
        example="localisation limit 2 nmi",
        timed=False,
    ),
    "datum.depth_limits": HeardWords(
        words=("depth limits", "she lies in water"),
        needs=("shallowest", "deepest"),
        roles=(
            Slot(
                key="shallowest",
                title="shallowest",
                sort="quantity",
                measure=q.LENGTH,
                unit="m",
                alone=True,
                cues=("shallowest", "least depth", "at least"),
                least=0.0,
                most=11_000.0,
            ),
            Slot(
                key="deepest",
                title="deepest",
                sort="quantity",
                measure=q.LENGTH,
                unit="m",
                alone=True,
                cues=("deepest", "greatest depth", "at most"),
                least=0.1,
                most=11_000.0,
            ),
        ),
        example="depth limits shallowest 40 m deepest 250 m",
        fill=fill_depths,
        timed=False,
    ),
}
