"""What a record says, as a person would write it: units, places, times; no person in a list."""

from __future__ import annotations

import pytest

from layers.journal.words.payloads import payload_rows, payload_words


@pytest.mark.parametrize(
    ("payload", "said"),
    [
        ({"depth_m": 132.4, "depth_sigma_m": 1.0}, "depth 132.4 m; depth good to 1 m"),
        ({"battery_percent": 97.0, "state": "answers"}, "battery 97 %; state answers"),
        ({"sound_speed_m_s": 1495.2}, "sound speed 1495.2 m/s"),
        ({"course_true_deg": 47.5, "bow_down_deg": 3}, "course 047.5°T; bow down 3°"),
        ({"air_c": 11, "speed_km_h": 60, "volume_m3": 418.0},
         "air temperature 11 °C; speed 60 km/h; volume 418 m³"),
        ({"band_hz": [100.0, 400.0]}, "band 100, 400 Hz"),
        # 49° 50.0′ N is 49.8333°, 8° 30.0′ W is −8.5°: 50/60 and 30/60 of a degree, by hand
        ({"latitude_deg": 49.833333, "longitude_deg": -8.5}, "position 49°50.0′N 008°30.0′W"),
        ({"ship_latitude_deg": 49.5, "ship_longitude_deg": 0},
         "ship\'s position 49°30.0′N 000°00.0′E"),
        ({"latitude_deg": 95.0, "longitude_deg": 0.0}, "latitude 95°; longitude 0°"),
        ({"latitude_deg": 49.5}, "latitude 49.5°"),
        # ISO 8601 to a date-time group (ACP 121)
        ({"next_report_due": "2027-03-16T07:00:00Z"}, "next report due 160700Z MAR 27"),
        ({"at": "2027-03-16T07:00:30Z"}, "at 2027-03-16T07:00:30Z"),
        ({"remark": "2027-13-16T07:00:00Z"}, "remark 2027-13-16T07:00:00Z"),
        ({"is_dissub": False, "note": "", "left": None, "ranges": []}, "it is her own fix no"),
        ({"ranges": [{"slant_m": 330.3, "transponder": "TP1"}, {"slant_m": 12}]},
         "ranges (range: 330.3 m; transponder: TP1), (range: 12 m)"),
        ({"target": "0f" * 16, "item": 2}, "item 2"),
        ({"oxygen": {"unit": "percent", "value": 17.7},
          "pressure": {"reference": "absolute", "unit": "bar", "value": 2.1}},
         "oxygen 17.7 %; pressure 2.1 bar (reference: absolute)"),
        ({"depth_m": "not measured"}, "depth not measured"),
        ({"binds_kg_co2_per_kg": "x"}, "carbon dioxide bound by each kg x"),
    ],
)  # fmt: skip
def test_a_payload_is_said_plainly(payload: dict[str, object], said: str) -> None:
    assert payload_words(payload) == said


def test_persons_are_named_only_where_they_may_be() -> None:
    moved = {"persons": 1, "names": ["A. Invented"], "fields": {"names": ["B. Invented"]}}
    assert "Invented" not in payload_words(moved)
    assert "Invented" not in str(payload_rows(moved, names=False))
    assert payload_words(moved, names=True) == (
        "persons 1; names A. Invented; fields (names: B. Invented)"
    )


def test_what_is_too_long_ends_in_an_ellipsis() -> None:
    assert payload_words({"note": "x" * 50}, most=10) == "note xxxx…"
    assert payload_rows({"note": "x" * 50, "target": "0f" * 16}, names=False) == [
        ("note", "x" * 50),
        ("which record", "0f" * 16),
    ]


def test_a_record_looked_at_whole_loses_no_digit_and_no_field() -> None:
    # a transponder's place is good to a metre: a tenth of a minute (185 m) alone would hide it
    payload = {"latitude_deg": 49.833153215727144, "longitude_deg": -8.5, "depth_m": 141.70000001,
               "note": "", "seen_by": None, "at": "2027-03-16T07:00:30Z"}  # fmt: skip
    assert payload_rows(payload, names=False) == [
        ("position", "49°50.0′N 008°30.0′W (49.833153215727144, -8.5)"),
        ("depth", "141.70000001 m"),
        ("note", "not given"),
        ("seen by", "not given"),
        ("at", "2027-03-16T07:00:30Z"),
    ]
