"""Fit: every pairing says fits, does not fit or not known, with the limit and the figure."""

import itertools
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.earth.errors import InputError
from layers.forward_port import model
from layers.forward_port.ports import air_fit, fit, packing, ship_fit
from layers.forward_port.ports.fit import Verdict
from tests.unit.forward_port_cases import NOW, ZERO, activity, option, result, row

PIECE = model.Piece(name="frame", length_m=9.8, width_m=3.3, height_m=3.2, mass_t=29.0, load=1)
SHIP = model.CandidateShip(
    name="SHIP",
    length_m=98.0,
    draught_m=6.1,
    under_keel_m=0.6,
    outreach_m=18.0,
    deck_length_m=40.0,
    deck_width_m=15.0,
    deck_strength_t_m2=1.0,
)
AIRCRAFT = model.Aircraft(
    name="freighter",
    hold_length_m=20.5,
    hold_width_m=4.0,
    hold_height_m=3.0,
    payload_t=37.0,
    runway=(
        model.RunwayNeed(payload_t=20.0, length_m=1450.0),
        model.RunwayNeed(payload_t=30.0, length_m=1750.0),
    ),
    runway_width_m=30.0,
)
TRAILER = model.Trailer(
    name="low-loader",
    bed_height_m=0.95,
    mass_t=21.0,
    tractor_wheelbase_m=3.9,
    trailer_wheelbase_m=9.2,
    width_m=2.75,
)


def crane(*reach, largest=None, rigging=1.0, factor=1.1, **more):
    points = tuple(model.CraneReach(outreach_m=r, capacity_t=c) for r, c in reach)
    return model.Crane(
        port="P",
        name="C",
        largest_t=largest,
        reach=points,
        rigging_t=rigging,
        dynamic_factor=factor,
        **more,
    )


def field(length=None, width=None):
    return model.Airfield(
        name="F", latitude_deg=50, longitude_deg=-5, runway_length_m=length, runway_width_m=width,
        elevation_m=0.0, hottest_c=15.0,  # the standard atmosphere at sea level: no metre more
    )  # fmt: skip


def road(**more):
    return model.Road(name="R", airfield="F", port="P", length_km=30.0, **more)


@pytest.mark.parametrize(
    ("lifter", "verdict", "limit"),
    [
        (crane((14, 45), (18, 33), (22, 26)), Verdict.FITS, 33.0),
        (crane((12, 60), (16, 28), (20, 19)), Verdict.DOES_NOT, 19.0),  # between: the greater
        (crane((12, 60), (16, 40)), Verdict.NOT_KNOWN, None),  # the table ends short
        (crane(largest=60), Verdict.NOT_KNOWN, None),  # 60 t, but at what outreach
        (crane(largest=20), Verdict.DOES_NOT, 20.0),  # not even close in
        (crane(), Verdict.NOT_KNOWN, None),
    ],
)
def test_crane_at_its_outreach(lifter, verdict, limit):
    answer = ship_fit.crane(PIECE, SHIP, lifter)
    assert (answer.verdict, answer.limit) == (verdict, limit)
    if answer.limit is not None and answer.what.endswith("hooked on"):
        assert answer.need == pytest.approx((29.0 + 1.0) * 1.1)


def test_a_bare_mass_at_the_capacity_is_not_known_without_rigging_and_motion():
    """29 t at 29.0 t: by the bare mass it would fit to the kilogram."""
    bare = crane((18, 29), rigging=None, factor=None)
    answer = ship_fit.crane(PIECE, SHIP, bare)
    assert answer.verdict is Verdict.NOT_KNOWN
    assert "rigging and dynamic factor not entered" in answer.note
    assert ship_fit.crane(PIECE, SHIP, crane((18, 29))).verdict is Verdict.DOES_NOT


def test_an_assumed_figure_settles_nothing_when_it_fits():
    assert ship_fit.crane(PIECE, SHIP, crane((18, 60), basis="assumed")).verdict is (
        Verdict.NOT_KNOWN
    )
    assert ship_fit.crane(PIECE, SHIP, crane((18, 9), basis="assumed")).verdict is Verdict.DOES_NOT
    assert "surveyed" in ship_fit.crane(PIECE, SHIP, crane((18, 60), basis="surveyed")).note


@pytest.mark.parametrize(
    ("pieces", "deck", "verdict"),
    [
        ([(10.0, 9.0)], (12.0, 8.0), Verdict.DOES_NOT),  # by area and length it would
        ([(7.0, 6.0), (7.0, 6.0)], (10.0, 8.5), Verdict.DOES_NOT),  # 84 of 85 square metres
        ([(7.0, 6.0), (7.0, 6.0)], (15.0, 7.0), Verdict.FITS),
        ([(6.0, 2.5)] * 4, (12.6, 5.6), Verdict.FITS),
        ([(6.0, 2.5)] * 4, (12.0, 5.0), Verdict.NOT_KNOWN),  # only with nothing between them
        ([(5.0, 3.0), (3.0, 5.0), (5.0, 3.0), (3.0, 5.0)], (8.5, 8.5), Verdict.FITS),  # pinwheel
    ],
)
def test_pieces_are_laid_out_on_the_deck(pieces, deck, verdict):
    ship = SHIP.model_copy(update={"deck_length_m": deck[0], "deck_width_m": deck[1]})
    load = [
        PIECE.model_copy(update={"name": f"p{k}", "length_m": a, "width_m": b})
        for k, (a, b) in enumerate(pieces)
    ]
    assert ship_fit.deck(load, ship)[0].verdict is verdict


def test_what_is_laid_out_lies_on_the_deck_and_nothing_overlaps():
    rng = np.random.default_rng(4)
    for _ in range(40):
        pieces = [(float(a), float(b)) for a, b in rng.uniform(1.0, 6.0, (6, 2))]
        placed = packing.packed(pieces, (14.0, 9.0))
        if placed is None:
            continue
        for x, y, length, width in placed:
            assert x + length <= 14.0 + 1e-6
            assert y + width <= 9.0 + 1e-6
        for one, other in itertools.combinations(placed, 2):
            apart_along = one[0] + one[2] <= other[0] + 1e-6 or other[0] + other[2] <= one[0] + 1e-6
            across = one[1] + one[3] <= other[1] + 1e-6 or other[1] + other[3] <= one[1] + 1e-6
            assert apart_along or across
        assert {round(a * b, 6) for a, b in pieces} == {
            round(length * width, 6) for _, _, length, width in placed
        }


def test_twelve_hundred_tonnes_need_a_deck_that_carries_them():
    load = [PIECE.model_copy(update={"name": f"p{k}", "mass_t": 60.0}) for k in range(20)]
    assert ship_fit.deck(load, SHIP)[1].verdict is Verdict.NOT_KNOWN
    light = SHIP.model_copy(update={"deck_load_t": 900.0})
    assert ship_fit.deck(load, light)[1].verdict is Verdict.DOES_NOT


def test_a_runway_high_and_hot_must_be_longer():
    """ICAO: 7 % for 300 m, 1 % a degree over standard (11.1 °C at 600 m): 1.14 × 1.189."""
    high = field(2200.0, 45.0).model_copy(update={"elevation_m": 600.0, "hottest_c": 30.0})
    need = air_fit.runway([PIECE], AIRCRAFT, high)[0].need
    assert need == pytest.approx(1750.0 * 1.14 * (1 + 0.01 * (30.0 - 11.1)), abs=1.0)


def test_grass_and_unknown_ground_and_feet_are_no_yes():
    answers = {
        words: {a.what: a for a in air_fit.runway([PIECE], AIRCRAFT, field(2000.0, 45.0).model_copy(
            update={"surface": words}))}
        for words in ("", "GRASS", "asphalt")
    }  # fmt: skip
    assert answers[""]["runway surface"].verdict is Verdict.NOT_KNOWN
    assert answers["GRASS"]["runway surface"].verdict is Verdict.NOT_KNOWN
    assert answers["asphalt"]["runway surface"].verdict is Verdict.FITS
    assert answers["asphalt"]["runway strength"].verdict is Verdict.NOT_KNOWN
    feet = air_fit.runway([PIECE], AIRCRAFT, field(4900.0, 45.0))[0]
    assert feet.verdict is Verdict.NOT_KNOWN
    assert "may be feet" in feet.note


def test_crane_with_no_outreach_asked_is_not_known():
    bare = SHIP.model_copy(update={"outreach_m": None})
    assert ship_fit.crane(PIECE, bare, crane((18, 99))).verdict is Verdict.NOT_KNOWN


@pytest.mark.parametrize(
    ("length", "verdict"),
    [(1750.0, Verdict.FITS), (1524.0, Verdict.DOES_NOT), (None, Verdict.NOT_KNOWN)],
)
def test_runway_length_at_that_load(length, verdict):
    answers = air_fit.runway([PIECE], AIRCRAFT, field(length, 45.0))
    assert answers[0].verdict is verdict
    assert answers[0].need == pytest.approx(1750.0)
    assert answers[1].verdict is Verdict.FITS


@pytest.mark.parametrize("absent", [("elevation_m",), ("hottest_c",), ("elevation_m", "hottest_c")])
def test_a_runway_of_unknown_height_or_heat_is_long_enough_for_nobody(absent):
    """It may need 14 % more at 600 m; one too short at sea level is too short anywhere."""
    unknown = dict.fromkeys(absent)
    long, short = (field(m, 45.0).model_copy(update=unknown) for m in (1900.0, 1500.0))
    answer = air_fit.runway([PIECE], AIRCRAFT, long)[0]
    assert answer.verdict is Verdict.NOT_KNOWN
    assert "not entered" in answer.note
    assert air_fit.runway([PIECE], AIRCRAFT, short)[0].verdict is Verdict.DOES_NOT


def test_load_past_the_aircrafts_table_is_not_known():
    heavy = PIECE.model_copy(update={"mass_t": 31.0})
    assert air_fit.runway([heavy], AIRCRAFT, field(3000.0))[0].verdict is Verdict.NOT_KNOWN


def test_a_runway_in_feet_entered_as_metres_is_refused_and_named():
    with pytest.raises(InputError, match="runway_length_m"):
        row("airfield", name="F", latitude_deg=50.0, longitude_deg=-5.0, runway_length_m=9002.0)


def test_pieces_of_one_load_go_in_together():
    load = [PIECE, PIECE.model_copy(update={"length_m": 11.0, "mass_t": 9.0})]
    found = {answer.what: answer for answer in air_fit.hold(load, AIRCRAFT)}
    assert found["payload"].verdict is Verdict.DOES_NOT  # 38 of 37 t
    assert found["hold length"].verdict is Verdict.DOES_NOT  # 20.8 of 20.5 m
    assert found["hold width"].verdict is Verdict.FITS
    assert found["hold height"].verdict is Verdict.DOES_NOT


def test_bridge_of_four_metres_and_a_tenth():
    found = {a.what: a for a in fit.road(PIECE, TRAILER, road(overhead_m=4.1, bridge_t=49.0))}
    high = next(a for what, a in found.items() if what.startswith("overhead"))
    assert high.verdict is Verdict.DOES_NOT
    assert high.need == pytest.approx(0.95 + 3.2 + 0.1)
    assert found["bridge load"].verdict is Verdict.DOES_NOT  # 50 t
    assert found["width"].verdict is Verdict.NOT_KNOWN
    assert found["width in the tightest corner"].verdict is Verdict.NOT_KNOWN


def test_corner_too_tight_to_turn_at_all():
    found = fit.road(PIECE, TRAILER, road(corner_radius_m=9.0, corner_width_m=20.0))
    assert found[-1].verdict is Verdict.DOES_NOT
    assert "cannot turn" in found[-1].note


def test_deck_strength_and_room():
    found = {a.what: a for a in ship_fit.deck([PIECE], SHIP)}
    assert found["strength"].need == pytest.approx(29.0 / (9.8 * 3.3))
    assert found["strength"].verdict is Verdict.FITS
    weak = SHIP.model_copy(update={"deck_strength_t_m2": 0.8})
    assert ship_fit.deck([PIECE], weak)[-1].verdict is Verdict.DOES_NOT
    unknown = SHIP.model_copy(update={"deck_length_m": None})
    assert ship_fit.deck([PIECE], unknown)[0].verdict is Verdict.NOT_KNOWN


def tide(low, high):
    start = datetime(2027, 3, 14, 18, 0, tzinfo=UTC)
    turns = [
        {"at": start + n * timedelta(hours=6), "height_m": high if n % 2 else low} for n in range(6)
    ]
    return model.Tide.model_validate({"port": "P", "turns": tuple(turns)})


@pytest.mark.parametrize(("low", "verdict"), [(0.8, Verdict.FITS), (0.7, Verdict.DOES_NOT)])
def test_water_under_her_at_the_lowest_of_the_stay(low, verdict):
    berth = model.Berth(port="P", name="B", length_m=120.0, depth_m=5.9)
    start = datetime(2027, 3, 14, 20, 0, tzinfo=UTC)
    _, depth = ship_fit.alongside(SHIP, berth, tide(low, 3.0), [start], timedelta(hours=14))
    assert depth.verdict is verdict
    assert depth.need == pytest.approx(6.7)


def test_berth_without_tide_or_depth_is_not_known():
    start, stay = datetime(2027, 3, 14, 20, 0, tzinfo=UTC), timedelta(hours=14)
    shallow = model.Berth(port="P", name="B", depth_m=5.9)
    assert ship_fit.alongside(SHIP, shallow, None, [start], stay)[1].verdict is Verdict.NOT_KNOWN
    nothing = model.Berth(port="P", name="B")
    found = ship_fit.alongside(SHIP, nothing, tide(1, 3), [start], stay)
    assert found[1].verdict is Verdict.NOT_KNOWN
    long_stay = timedelta(days=9)
    assert ship_fit.alongside(SHIP, shallow, tide(1, 3), [start], long_stay)[1].limit is None


def drafts(*cranes):
    return [
        option(port="P", ship="SHIP", berth="B"),
        activity("out"),
        row("piece", **PIECE.model_dump()),
        row("ship", **SHIP.model_dump()),
        *cranes,
    ]


def lifter(source, capacity, at=ZERO):
    reach = [{"outreach_m": 18.0, "capacity_t": capacity}]
    return row("crane", at, source, port="P", name="C", reach=reach)


def crane_answer(found):
    return next(a for a in found.options[0].fits if "crane" in a.against)


def test_a_later_word_of_the_same_source_replaces_its_earlier():
    found = result(drafts(lifter("harbour", 20.0), lifter("harbour", 60.0, NOW)))
    assert crane_answer(found).verdict is Verdict.FITS


def test_two_sources_that_disagree_are_not_known_until_one_is_adopted():
    found = result(drafts(lifter("harbour", 20.0), lifter("agent", 33.0, NOW)))
    answer = crane_answer(found)
    assert answer.verdict is Verdict.NOT_KNOWN
    assert "20 t, 33 t" in answer.note
    assert any("reports disagree" in words for words in found.options[0].unknowns)


def test_no_crane_entered_is_not_known_and_says_so():
    assert "no crane is entered" in crane_answer_of_port(result(drafts())).note


def crane_answer_of_port(found):
    return next(a for a in found.options[0].fits if a.what == "capacity")


NOBODY: dict = {
    "ship": "NOBODY",
    "aircraft": "UNKNOWN TYPE",
    "airfield": "NOFIELD",
    "trailer": "NO TRAILER",
    "port": "NOPORT",
}


@pytest.mark.parametrize("kind", list(NOBODY))
def test_what_an_option_names_and_nobody_entered_is_not_known_and_says_so(kind):
    found = result([activity("a"), option("o", last="a", **{kind: NOBODY[kind]})]).options[0]
    (answer,) = [a for a in found.fits if a.subject == NOBODY[kind]]
    assert answer.verdict is Verdict.NOT_KNOWN
    assert f"nobody has entered this {kind}" in answer.note
    assert any(NOBODY[kind] in words for words in found.unknowns)


def test_no_road_between_airfield_and_port_is_not_known():
    drafts = [
        activity("a"),
        option("o", last="a", port="P", airfield="F", trailer="T"),
        row("piece", name="x", length_m=5.0, width_m=2.0, height_m=2.0, mass_t=5.0, load=1),
        row("trailer", **TRAILER.model_dump() | {"name": "T"}),
    ]
    found = result(drafts).options[0]
    assert any("nobody has entered a road between them" in words for words in found.unknowns)


def test_what_no_field_holds_is_said_to_be_asked_for():
    from layers.forward_port import LAYER

    for what in ("Axle loads", "height under a crane's hook", "drivers' rest"):
        assert what in LAYER.caution


def way_in(ship=SHIP, **port):
    """Return the answers on the way into a port: the channel, then what is over it."""
    entered = model.Port(name="P", latitude_deg=50, longitude_deg=-5, **port)
    return ship_fit.approach(ship, entered)


@pytest.mark.parametrize(
    ("air_draught_m", "port", "channel", "over"),
    [
        # of a port that is only a name and a place nothing is known of the way in
        (30.0, {}, Verdict.NOT_KNOWN, Verdict.NOT_KNOWN),
        (30.0, {"channel_depth_m": 8.0}, Verdict.FITS, Verdict.NOT_KNOWN),
        (30.0, {"overhead_m": 40.0}, Verdict.NOT_KNOWN, Verdict.FITS),
        (30.0, {"overhead_m": 25.0}, Verdict.NOT_KNOWN, Verdict.DOES_NOT),
        (None, {"overhead_m": 40.0}, Verdict.NOT_KNOWN, Verdict.NOT_KNOWN),
        (None, {"nothing_overhead": True}, Verdict.NOT_KNOWN, Verdict.FITS),
        # a bridge that somebody told goes before "nothing is there"
        (30.0, {"nothing_overhead": True, "overhead_m": 25.0}, Verdict.NOT_KNOWN, Verdict.DOES_NOT),
        (30.0, {"nothing_overhead": True, "channel_depth_m": 9.0, "basis": "assumed"},
         Verdict.NOT_KNOWN, Verdict.NOT_KNOWN),
        # too shallow at chart datum, and no tide entered: it may come with the tide
        (30.0, {"channel_depth_m": 6.0}, Verdict.NOT_KNOWN, Verdict.NOT_KNOWN),
    ],
)  # fmt: skip
def test_a_way_in_of_which_nobody_told_is_no_open_way(air_draught_m, port, channel, over):
    ship = SHIP.model_copy(update={"air_draught_m": air_draught_m})
    assert [answer.verdict for answer in way_in(ship, **port)] == [channel, over]


def test_what_is_not_known_of_a_port_stands_among_what_would_decide_it():
    drafts = [
        activity("a"),
        option("o", last="a", port="P", ship="S"),
        row("ship", name="S", length_m=90.0, draught_m=6.0),
        row("port", name="P", latitude_deg=50.0, longitude_deg=-5.0, channel_depth_m=9.0),
    ]
    found = result(drafts).options[0]
    assert any("bridge or a cable" in words for words in found.unknowns)
    assert not any("depth of the channel" in words for words in found.unknowns)


@pytest.mark.parametrize(
    ("named", "absent"),
    [
        ({"airfield": "F", "trailer": "T"}, "aircraft"),
        ({"aircraft": "A"}, "airfield"),
        ({"airfield": "F", "aircraft": "A"}, "trailer"),
    ],
)
def test_half_a_way_that_an_option_leaves_open_is_not_known(named, absent):
    """An airfield without an aircraft, or without what drives from it, is no way to the quay."""
    drafts = [
        activity("a"),
        option("o", last="a", port="P", **named),
        row("piece", name="x", length_m=5.0, width_m=2.0, height_m=2.0, mass_t=5.0, load=1),
    ]
    found = result(drafts).options[0]
    assert any(f"the option names no {absent}" in words for words in found.unknowns)


def test_an_option_by_sea_alone_is_asked_for_no_aircraft_and_no_trailer():
    drafts = [activity("a"), option("o", last="a", port="P", ship="S")]
    words = " ".join(result(drafts).options[0].unknowns)
    assert "no aircraft" not in words
    assert "no trailer" not in words
