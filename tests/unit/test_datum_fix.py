"""Fixes from a few lines: closed forms, two solutions, the line that does not belong."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layers.__main__ import main
from layers.datum.lines.fix import cep_m, covariance, dop, fix
from layers.datum.lines.fix_lines import lines_of_file
from layers.datum.lines.line import LineOfPosition
from layers.earth.errors import InputError
from layers.earth.geodesy import WGS84, between, going
from layers.earth.position import Position

DATA = Path(__file__).resolve().parents[1] / "data"
SHIP = Position(49.8, -8.6)
SOUTH_WEST = Position(0.0, 0.0)
SAMPLE = """kind,time,observer,position,bearing,range,sigma
bearing,2027-03-13T14:12Z,SALTMARSH,49 44.0N 008 34.0W,020T,,2deg
bearing,2027-03-13T14:46Z,GREY HERON,49 55.0N 008 20.0W,235.5T,,2deg
range,2027-03-13T19:17Z,SALTMARSH,49 46.0N 008 36.0W,,6.1nmi,300m
"""


def bearing(observer, target, sigma=1.0, error=0.0, name="b"):
    _, true_deg, _ = between(observer, target)
    return LineOfPosition(
        name=name,
        latitude_deg=observer.latitude_deg,
        longitude_deg=observer.longitude_deg,
        sigma=sigma,
        bearing_true_deg=(true_deg + error) % 360.0,
    )


def ranging(observer, target, sigma=50.0, error=0.0, name="r"):
    metres, _, _ = between(observer, target)
    return LineOfPosition(
        name=name,
        latitude_deg=observer.latitude_deg,
        longitude_deg=observer.longitude_deg,
        sigma=sigma,
        range_m=metres + error,
    )


def away(found, target):
    return between(found.position, target)[0]


def test_two_bearings_at_a_right_angle_give_the_closed_form_ellipse():
    # stations (0,0),(10000,0) m; target (5000,5000); sigma 1 deg: 1-sigma 123.413 x 123.413 m.
    # COMPUTED from range*sigma(rad), closed form 7071.07*pi/180
    target = going(going(SOUTH_WEST, 90.0, 5_000.0), 0.0, 5_000.0)
    lines = [bearing(SOUTH_WEST, target), bearing(going(SOUTH_WEST, 90.0, 10_000.0), target)]
    found = fix(lines)
    assert len(found) == 1
    assert away(found[0], target) < 0.01
    sigmas = np.sqrt(np.linalg.eigvalsh(found[0].covariance_m2))
    assert sigmas == pytest.approx([123.413, 123.413], abs=0.05)
    assert found[0].cut_deg == pytest.approx(90.0, abs=0.1)


def test_noise_free_three_range_fix_returns_the_point():
    # stations (0,0),(8000,0),(0,6000); target (3000,4000). COMPUTED: Pythagoras; 1e-3 m asked
    target = going(going(SOUTH_WEST, 90.0, 3_000.0), 0.0, 4_000.0)
    stations = [SOUTH_WEST, going(SOUTH_WEST, 90.0, 8_000.0), going(SOUTH_WEST, 0.0, 6_000.0)]
    found = fix([ranging(place, target, name=f"r{n}") for n, place in enumerate(stations)])
    assert away(found[0], target) < 1e-3
    assert found[0].chi_square < 1e-6


@pytest.mark.parametrize(
    ("angles_deg", "expected"),
    [
        # COMPUTED and closed form sqrt(2)/sin(angle); 2/sqrt(3); 1
        ((0.0, 90.0), 1.41421),
        ((0.0, 60.0), 1.63299),
        ((0.0, 30.0), 2.82843),
        ((0.0, 120.0, 240.0), 1.15470),
        ((0.0, 90.0, 180.0, 270.0), 1.00000),
    ],
)
def test_dilution_of_precision_of_range_lines(angles_deg, expected):
    turn = np.radians(angles_deg)
    assert dop(np.column_stack([np.sin(turn), np.cos(turn)])) == pytest.approx(expected, abs=1e-5)


def test_cep_of_a_round_fix_is_1_17741_sigma():
    # sqrt(-2 ln 0.5); VERIFIED: scipy stats.chi2
    assert cep_m(np.eye(2) * 100.0**2) == pytest.approx(117.741, abs=1e-3)
    assert cep_m(np.eye(2) * 100.0**2, 0.95) == pytest.approx(244.775, abs=1e-3)


def test_cep_of_a_long_fix_agrees_with_a_million_draws():
    rng = np.random.default_rng(3)
    draws = rng.standard_normal((1_000_000, 2)) * [300.0, 80.0]
    counted = np.median(np.hypot(*draws.T))
    assert cep_m(np.diag([300.0**2, 80.0**2])) == pytest.approx(counted, rel=0.005)


def test_two_ranges_give_both_places():
    target = Position(49.85, -8.45)
    other = going(SHIP, 140.0, 9_000.0)
    found = fix([ranging(SHIP, target, name="a"), ranging(other, target, name="b")])
    assert len(found) == 2
    assert min(away(solution, target) for solution in found) < 0.1
    for solution in found:
        assert solution.chi_square < 1e-6


def test_a_bearing_tells_which_of_the_two():
    target = Position(49.85, -8.45)
    other = going(SHIP, 140.0, 9_000.0)
    lines = [ranging(SHIP, target, name="a"), ranging(other, target, name="b")]
    found = fix([*lines, bearing(SHIP, target, 2.0, name="c")])
    assert len(found) == 1
    assert away(found[0], target) < 1.0


def test_time_differences_fix_on_a_hyperbola():
    target = Position(49.84, -8.5)
    posts = [going(target, turn, 12_000.0) for turn in (10.0, 130.0, 250.0)]
    lines = []
    for number in range(3):
        one, two = posts[number], posts[(number + 1) % 3]
        lines.append(
            LineOfPosition(
                name=f"d{number}",
                latitude_deg=one.latitude_deg,
                longitude_deg=one.longitude_deg,
                sigma=30.0,
                difference_m=between(two, target)[0] - between(one, target)[0],
                second=(two.latitude_deg, two.longitude_deg),
            )
        )
    assert away(fix(lines)[0], target) < 0.5


def test_the_line_that_does_not_belong_is_named():
    target = Position(49.84, -8.5)
    posts = [going(target, turn, 10_000.0) for turn in (20.0, 95.0, 170.0, 245.0, 310.0)]
    lines = [bearing(post, target, name=f"ship {n}") for n, post in enumerate(posts)]
    lines[2] = bearing(posts[2], target, error=8.0, name="ship 2")
    found = fix(lines)[0]
    assert found.suspect == "ship 2"
    assert found.chance < 0.01


def test_three_lines_cannot_tell_which_one_is_wrong():
    target = Position(49.84, -8.5)
    posts = [going(target, turn, 10_000.0) for turn in (20.0, 140.0, 260.0)]
    errors = (0.0, 0.0, 9.0)
    lines = [
        bearing(post, target, error=error, name=f"ship {n}")
        for n, (post, error) in enumerate(zip(posts, errors, strict=True))
    ]
    found = fix(lines)[0]
    assert found.suspect is None
    assert "three cannot tell" in found.remark


def test_ellipse_holds_the_truth_nineteen_times_in_twenty():
    rng = np.random.default_rng(11)
    target = Position(49.84, -8.5)
    posts = [going(target, turn, 12_000.0) for turn in (30.0, 110.0, 200.0)]
    inside = 0
    for _ in range(120):
        lines = [
            bearing(post, target, 1.5, error=1.5 * rng.standard_normal(), name=f"{n}")
            for n, post in enumerate(posts)
        ]
        found = fix(lines)[0]
        metres, turn, _ = between(found.position, target)
        off = metres * np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
        inside += off @ np.linalg.inv(found.covariance_m2) @ off <= 5.99146  # chi2.ppf(.95, 2)
    assert 106 <= inside <= 120  # 114 expected, 2.4 sigma about it


def test_two_bearings_from_the_same_point_are_refused():
    target = Position(49.84, -8.5)
    with pytest.raises(InputError, match="from the same point"):
        fix([bearing(SHIP, target), bearing(SHIP, target, error=1.0)])


def test_parallel_bearings_are_refused():
    one = bearing(Position(0.0, 0.0), Position(0.0, 1.0))
    two = replace(one, longitude_deg=0.1)
    with pytest.raises(InputError):
        fix([one, two])


def test_open_geometry_is_refused():
    with pytest.raises(InputError, match="along each other"):
        covariance(np.array([[1.0, 0.0], [1.0, 0.0]]))


def test_fix_verb_prints_the_keys(tmp_path, capsys):
    path = tmp_path / "lines.csv"
    path.write_text(SAMPLE)
    assert main(["fix", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    first = answer["solutions"][0]
    assert {"latitude_deg", "longitude_deg", "ellipse_95", "cep_m", "residuals", "suspect"} <= set(
        first
    )
    assert set(first["ellipse_95"]) == {"semi_major_m", "semi_minor_m", "bearing_true_deg"}
    assert len(first["residuals"]) == 3


def test_json_and_csv_give_the_same_lines():
    csv_lines, _ = lines_of_file(SAMPLE.encode(), "lines.csv")
    salt = {"observer": "SALTMARSH", "position": "49 44.0N 008 34.0W"}
    heron = {"observer": "GREY HERON", "position": "49 55.0N 008 20.0W"}
    there = {"latitude_deg": 49.76666666666667, "longitude_deg": -8.6, "observer": "SALTMARSH"}
    objects = [
        salt | {"bearing": "020T", "sigma": "2deg"},
        heron | {"bearing": "235.5T", "sigma_deg": 2},
        there | {"range_nmi": 6.1, "sigma_m": 300},
    ]
    json_lines, _ = lines_of_file(json.dumps({"lines": objects}).encode(), "lines.json")
    for one, two in zip(csv_lines, json_lines, strict=True):
        assert one.latitude_deg == pytest.approx(two.latitude_deg)
        assert one.sigma == two.sigma
        assert one.bearing_true_deg == two.bearing_true_deg


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("bearing,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,361T,,2deg", "0 to 360"),
        ("bearing,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,R045,,2deg", "heading"),
        ("bearing,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,045,,2deg", "does not say true"),
        ("range,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,,0m,2m", "not a range"),
        ("range,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,,12,2m", "no unit"),
        ("bearing,,A,49 44.0N 008 34.0W,045M,,2deg", "needs its time"),
        ("bearing,2027-03-13T14:12,A,49 44.0N 008 34.0W,045T,,2deg", "time zone"),
        ("sextant,2027-03-13T14:12Z,A,49 44.0N 008 34.0W,045T,,2deg", "not a kind of line"),
        ("bearing,2027-03-13T14:12Z,A,91N 008 34.0W,045T,,2deg", "91N"),
    ],
)
def test_bad_rows_are_refused_with_a_sentence(tmp_path, capsys, line, said):
    path = tmp_path / "lines.csv"
    path.write_text("kind,time,observer,position,bearing,range,sigma\n" + line + "\n")
    assert main(["fix", str(path), "--json"]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert said in out.err
    assert "row 1" in out.err
    assert out.err.count("\n") == 1


@pytest.mark.parametrize("name", ["fix_lines.csv", "fix_lines.json"])
def test_the_sample_files_give_one_fix(name, capsys):
    assert main(["fix", str(DATA / name), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["lines"] == 3
    assert len(answer["solutions"]) == 1
    found = Position(
        answer["solutions"][0]["latitude_deg"], answer["solutions"][0]["longitude_deg"]
    )
    assert between(found, Position(49.83, -8.5))[0] < 1_500.0
    assert answer["solutions"][0]["chance_of_such_a_misfit"] > 0.01


@pytest.mark.parametrize(("by_deg", "most_named"), [(10.0, 0.5), (25.0, 0.8)])
def test_of_the_lines_accused_nearly_all_are_the_wrong_one(by_deg, most_named):
    # five bearings good to 2 degrees from posts all round, one off by much more: own geometry
    rng = np.random.default_rng(19)
    right = named = 0
    for _ in range(40):
        bad = int(rng.integers(0, 5))
        lines = []
        for number in range(5):
            lon, lat, _ = WGS84.fwd(-8.5, 49.83, rng.uniform(0, 360), rng.uniform(6e3, 2e4))
            true = WGS84.inv(lon, lat, -8.5, 49.83)[0]
            error = by_deg * rng.choice([-1, 1]) if number == bad else 2.0 * rng.standard_normal()
            lines.append(LineOfPosition(
                name=str(number), latitude_deg=lat, longitude_deg=lon, sigma=2.0,
                bearing_true_deg=(true + error) % 360.0,
            ))  # fmt: skip
        suspect = fix(lines)[0].suspect
        named += suspect is not None
        right += suspect == str(bad)
    assert named >= most_named * 40
    assert right >= 0.95 * named
