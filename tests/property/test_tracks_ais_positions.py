"""Position reports unpacked many at a time read as pyais reads them one by one."""

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from pyais import decode
from pyais.encode import encode_dict

from layers.tracks.feeds.ais_positions import checksums_hold, decode_positions

MESSAGES = st.lists(
    st.fixed_dictionaries(
        {
            "msg_type": st.sampled_from([1, 2, 3, 18]),
            "mmsi": st.integers(1_000_000, 999_999_999).map(lambda n: f"{n:09d}"),
            "lat": st.floats(-90, 90) | st.just(91.0),
            "lon": st.floats(-180, 180) | st.just(181.0),
            "speed": st.integers(0, 1023).map(lambda n: n / 10),
            "course": st.integers(0, 3600).map(lambda n: n / 10),
            "heading": st.integers(0, 359) | st.just(511),
        }
    ),
    min_size=1,
    max_size=20,
)


@given(MESSAGES)
@settings(max_examples=60, deadline=None)
def test_fields_agree_with_pyais(messages):
    sentences = [
        encode_dict(message, radio_channel="A", sentence_type="VDM")[0].encode()
        for message in messages
    ]
    assert checksums_hold(sentences).all()
    found = decode_positions([sentence.split(b",")[5] for sentence in sentences])
    for row, sentence in enumerate(sentences):
        theirs = decode(sentence).asdict()
        assert found.message_type[row] == theirs["msg_type"]
        assert found.mmsi[row] == int(theirs["mmsi"])
        somewhere = abs(theirs["lat"]) <= 90 and abs(theirs["lon"]) <= 180
        assert np.isfinite(found.latitude_deg[row]) == somewhere
        if somewhere:
            # pyais rounds to six decimals
            assert found.latitude_deg[row] == pytest.approx(theirs["lat"], abs=6e-7)
            assert found.longitude_deg[row] == pytest.approx(theirs["lon"], abs=6e-7)
        same(found.speed_kn[row], theirs["speed"], 102.3)
        same(found.course_true_deg[row], theirs["course"], 360.0)
        same(found.heading_true_deg[row], theirs["heading"], 360.0)


def same(ours: float, theirs: float, not_available: float) -> None:
    if theirs >= not_available:
        assert np.isnan(ours)
    else:
        assert ours == pytest.approx(theirs, abs=0.051)


@given(MESSAGES, st.integers(0, 60), st.integers(1, 255))
@settings(max_examples=60, deadline=None)
def test_a_changed_character_breaks_the_checksum(messages, place, change):
    sentence = bytearray(
        encode_dict(messages[0], radio_channel="A", sentence_type="VDM")[0].encode()
    )
    place = 1 + place % (sentence.index(b"*") - 1)
    sentence[place] ^= change
    if sentence[place] in (0, ord("*")):
        return
    assert not checksums_hold([bytes(sentence)])[0]
