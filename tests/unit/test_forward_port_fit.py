"""Fit: every pairing says fits, does not fit or not known, with the limit and the figure."""

from datetime import UTC, datetime, timedelta

import pytest

from layers.earth.errors import InputError
from layers.forward_port import model
from layers.forward_port.ports import fit
from layers.forward_port.ports.fit import Verdict
from tests.unit.forward_port_cases import NOW, ZERO, activity, option, result, row

PIECE = model.Piece(name="frame", length_m=9.8, width_m=3.3, height_m=3.2, mass_t=29.0, load=1)
SHIP = model.Ship(
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


def crane(*reach, largest=None):
    points = tuple(model.Reach(outreach_m=r, capacity_t=c) for r, c in reach)
    return model.Crane(port="P", name="C", largest_t=largest, reach=points)


def field(length=None, width=None):
    return model.Airfield(
        name="F", latitude_deg=50, longitude_deg=-5, runway_length_m=length, runway_width_m=width
    )


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
    answer = fit.crane(PIECE, SHIP, lifter)
    assert (answer.verdict, answer.limit) == (verdict, limit)
    assert answer.need == 29.0


def test_crane_with_no_outreach_asked_is_not_known():
    bare = SHIP.model_copy(update={"outreach_m": None})
    assert fit.crane(PIECE, bare, crane((18, 99))).verdict is Verdict.NOT_KNOWN


@pytest.mark.parametrize(
    ("length", "verdict"),
    [(1750.0, Verdict.FITS), (1524.0, Verdict.DOES_NOT), (None, Verdict.NOT_KNOWN)],
)
def test_runway_length_at_that_load(length, verdict):
    answers = fit.runway([PIECE], AIRCRAFT, field(length, 45.0))
    assert answers[0].verdict is verdict
    assert answers[0].need == 1750.0
    assert answers[1].verdict is Verdict.FITS


def test_load_past_the_aircrafts_table_is_not_known():
    heavy = PIECE.model_copy(update={"mass_t": 31.0})
    assert fit.runway([heavy], AIRCRAFT, field(3000.0))[0].verdict is Verdict.NOT_KNOWN


def test_a_runway_in_feet_entered_as_metres_is_refused_and_named():
    with pytest.raises(InputError, match="runway_length_m"):
        row("airfield", name="F", latitude_deg=50.0, longitude_deg=-5.0, runway_length_m=9002.0)


def test_pieces_of_one_load_go_in_together():
    load = [PIECE, PIECE.model_copy(update={"length_m": 11.0, "mass_t": 9.0})]
    found = {answer.what: answer for answer in fit.hold(load, AIRCRAFT)}
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
    found = {a.what: a for a in fit.deck([PIECE], SHIP)}
    assert found["strength"].need == pytest.approx(29.0 / (9.8 * 3.3))
    assert found["strength"].verdict is Verdict.FITS
    weak = SHIP.model_copy(update={"deck_strength_t_m2": 0.8})
    assert fit.deck([PIECE], weak)[-1].verdict is Verdict.DOES_NOT
    unknown = SHIP.model_copy(update={"deck_length_m": None})
    assert fit.deck([PIECE], unknown)[0].verdict is Verdict.NOT_KNOWN


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
    _, depth = fit.alongside(SHIP, berth, tide(low, 3.0), start, timedelta(hours=14))
    assert depth.verdict is verdict
    assert depth.need == pytest.approx(6.7)


def test_berth_without_tide_or_depth_is_not_known():
    start, stay = datetime(2027, 3, 14, 20, 0, tzinfo=UTC), timedelta(hours=14)
    shallow = model.Berth(port="P", name="B", depth_m=5.9)
    assert fit.alongside(SHIP, shallow, None, start, stay)[1].verdict is Verdict.NOT_KNOWN
    nothing = model.Berth(port="P", name="B")
    assert fit.alongside(SHIP, nothing, tide(1, 3), start, stay)[1].verdict is Verdict.NOT_KNOWN
    long_stay = timedelta(days=9)
    assert fit.alongside(SHIP, shallow, tide(1, 3), start, long_stay)[1].limit is None


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
    found = result(drafts(lifter("harbour", 20.0), lifter("harbour", 33.0, NOW)))
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
