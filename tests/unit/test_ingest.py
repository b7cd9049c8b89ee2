"""Recognising, unpacking, cutting and isolating; typed records; what is said of bad files."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from datetime import UTC, datetime

import pytest

from layers.catalogue import KINDS
from layers.contract import Feed, Origin, Reading
from layers.ingest import (
    decoder,
    isolated,
    pieces as pieces_module,
    read_content,
    read_path,
    reading,
    recognition,
)
from layers.ingest.isolated import DecoderChild, decoded, encoded
from layers.ingest.pieces import pieces
from layers.journal.record import Draft, Reject
from layers.tracks.feeds import nmea_feed
from tests.samples import sample

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
BUOY = (
    b"#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS  TIDE\n"
    b"#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC   mi    ft\n"
    b"2027 03 16 06 00 240 12.0 15.0   3.1    11   7.0 250 1002.1   9.0  10.1   7.0   MM    MM\n"
)


def read(content: bytes, name: str = "file"):
    """Return (outcomes, drafts, rejects) of a file in memory."""
    got: list[Reading] = []
    summary = read_content(content, name, AT, got.append)
    drafts = [draft for reading in got for draft in reading.drafts]
    return summary.outcomes, drafts, [reject for reading in got for reject in reading.rejects]


def packed(members: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return held.getvalue()


# -- packed files --------------------------------------------------------------------------------


def test_gzip_and_plain_are_the_same_records():
    plain = {draft.id for draft in read(BUOY)[1]}
    assert plain
    assert {draft.id for draft in read(gzip.compress(BUOY), "file.gz")[1]} == plain


def test_each_file_of_an_archive_is_read_and_named():
    outcomes, drafts, rejects = read(packed({"a.txt": BUOY, "b.bin": b"\x01\x02\x03"}), "z.zip")
    assert [outcome.path for outcome in outcomes] == ["z.zip!a.txt", "z.zip!b.bin"]
    assert [outcome.format for outcome in outcomes] == ["ndbc", ""]
    assert len(drafts) == 1
    assert len(rejects) == 1


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (gzip.compress(bytes(150 * 1024**2), 9), "times its size, as no real data does"),
        (packed({"big": bytes(150 * 1024**2)}), "times its size, as no real data does"),
        (gzip.compress(gzip.compress(BUOY)), "an archive inside an archive"),
        (packed({"a.zip": packed({"b": BUOY})}), "an archive inside an archive"),
        (packed({f"{n}.txt": b"x" for n in range(201)}), "an archive of 201 files"),
        (gzip.compress(BUOY)[:-12], "damaged or cut short"),
        (packed({"a.txt": BUOY})[:-30], "damaged or cut short"),
        (b"\x1f\x8b\x08\x00nonsense", "damaged or cut short"),
        (b"BZh91AY&SY", "packed as bzip2, which is not read"),
        (b"", "the file is empty"),
        (b"\x00" * 5000, "the file is empty"),
        (b"\x00\x01\x02\x03" * 100, "not a kind of file that is known"),
    ],
    ids=lambda value: value[:24] if isinstance(value, str) else "",
)
def test_bombs_and_damage_are_one_reject_with_a_sentence(content, sentence):
    _, drafts, rejects = read(content, "f")
    assert drafts == []
    assert len(rejects) == 1
    assert sentence in rejects[0].reason


@pytest.mark.parametrize("packing", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_with_one_byte_changed_never_stops_who_reads_it(packing):
    # LZMA's own error is of no family: a watched folder's reader stumbled over it
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", packing) as archive:
        archive.writestr("a.txt", BUOY)
    whole, said = made.getvalue(), 0
    for place in range(0, len(whole), 3):
        damaged = bytearray(whole)
        damaged[place] ^= 0xFF
        _, drafts, rejects = read(bytes(damaged), "z.zip")
        said += bool(rejects)
        assert rejects or len(drafts) <= 1
    assert said > len(whole) // 12


def test_larger_than_100_mb_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(101 * 1024**2)  # sparse: it takes no room
    got: list[Reading] = []
    read_path(path, AT, got.append)
    assert "too large; accepted: files up to 100 MB" in got[0].rejects[0].reason


def test_a_file_that_is_not_there(tmp_path):
    got: list[Reading] = []
    read_path(tmp_path / "none", AT, got.append)
    assert "cannot be read (No such file" in got[0].rejects[0].reason


# -- text as it comes ----------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b""])
def test_byte_order_mark_makes_no_difference(mark):
    outcomes, drafts, rejects = read(mark + BUOY)
    assert (outcomes[0].format, len(drafts), rejects) == ("ndbc", 1, [])


def test_utf16_is_read():
    assert len(read(BUOY.decode().encode("utf-16"))[1]) == 1


def test_a_line_with_nul_bytes_is_a_reject_and_moves_no_number():
    lines = BUOY.splitlines(keepends=True)
    _, drafts, rejects = read(
        b"".join([*lines, b"2027 03\x00 16\n", lines[2].replace(b"06 00", b"05 00")])
    )
    assert len(drafts) == 2
    assert [(reject.line, reject.reason) for reject in rejects] == [
        (4, "the line holds NUL bytes; accepted: text")
    ]


def test_an_endless_line_costs_one_reject():
    _, drafts, rejects = read(BUOY + b"x" * (3 * 1024**2) + b"\n" + BUOY.splitlines()[2])
    assert len(rejects) == 1
    assert rejects[0].line == 4
    assert "a line of 3145729 bytes" in rejects[0].reason
    assert len(rejects[0].text) <= 200
    assert len(drafts) == 2


# -- long files in pieces ------------------------------------------------------------------------


def test_pieces_keep_every_line_its_number(monkeypatch):
    monkeypatch.setattr(pieces_module, "PIECE_BYTES", 100)
    text = b"head\n" + b"".join(b"line %d\n" % number for number in range(2, 200))
    found = []
    for piece in pieces(io.BytesIO(text), "f", 1):
        lines = piece.data.splitlines()
        assert lines[0] == b"head"
        found += [(piece.first_line + i, line) for i, line in enumerate(lines) if i]
    assert found == [(number, b"line %d" % number) for number in range(2, 200)]


@pytest.mark.parametrize(
    "name", ["ais_nais400.log", "ais_mixed_noisy.txt", "nmea_gps_nl.log", "ais_solent.csv"]
)
def test_a_log_in_pieces_is_the_same_log(name, monkeypatch):
    whole = read(sample(name).read_bytes(), name)
    monkeypatch.setattr(pieces_module, "PIECE_BYTES", 3_000)
    pieced = read(sample(name).read_bytes(), name)
    assert [d.id for d in pieced[1]] == [d.id for d in whole[1]]
    assert [dict(d.payload) for d in pieced[1]] == [dict(d.payload) for d in whole[1]]
    assert {(r.line, r.reason) for r in pieced[2]} == {(r.line, r.reason) for r in whole[2]}


def test_a_stream_keeps_the_parts_of_a_message_between_pieces():
    first = b"!AIVDM,2,1,1,A,55?MbV02;H;s<HtKR20EHE:0@T4@Dn2222222216L961O5Gf0NSQEp6ClRp8,0*1C\n"
    second = b"!AIVDM,2,2,1,A,88888888880,2*25\n"
    origin = Origin(source="udp:10110", received_at=AT, digest="", stream=True)
    follower = nmea_feed.follow()
    assert follower.take(first, origin).drafts == []
    (draft,) = follower.take(second, origin).drafts
    assert draft.kind == "tracks.static"
    follower.take(first, origin)
    (reject,) = follower.end().rejects
    assert "never came" in reject.reason


# -- decoders in a process of their own ----------------------------------------------------------


def test_readings_survive_the_way_between_processes():
    made = Reading(
        drafts=[Draft(kind="k.n", payload={"a": [1, None]}, valid_at=AT, heard_at=AT,
                      source="s", identity="i", version=3)],
        rejects=[Reject(source="s", line=None, text="t", reason="r")],
        passed_over={"heads": 2},
        blobs={"d": b"\x00\x01", "e": b""},
    )  # fmt: skip
    assert decoded(encoded(made)) == made


@pytest.mark.parametrize(
    ("word", "sentence"),
    [
        ("die", "its decoder crashed (signal 6)"),
        ("hang", "its decoder did not end in time"),
        ("eat", "needs more memory than a decoder may have"),
        ("raise", "the file cannot be decoded: it is damaged; ask for it again"),
    ],
)
def test_a_decoder_that_fails_costs_one_file(word, sentence, monkeypatch):
    child = DecoderChild("tests.decoder_stub", "read")
    if word == "hang":
        child.read(b"well", Origin(source="f.nc", received_at=AT, digest="d"))  # it has started
        monkeypatch.setattr(isolated, "FIRST_S", 1.0)
    try:
        origin = Origin(source="f.nc", received_at=AT, digest="d")
        (reject,) = child.read(word.encode(), origin).rejects
        assert sentence in reject.reason
        assert reject.source == "f.nc"
        assert child.read(b"well", origin).passed_over == {"well": 1}
    finally:
        child.end()


def test_a_machine_shared_with_twenty_others_refuses_nothing_by_the_clock():
    """The processor's time ends what runs on; the clock leaves twenty times as much."""
    for size_mb in (0, 1, 100):
        worked_s = decoder.CPU_S + decoder.CPU_PER_MB_S * size_mb
        assert isolated.FIRST_S + isolated.PER_MB_S * size_mb >= 20.0 * worked_s


def test_a_truncated_netcdf_is_a_reject():
    content = sample("argo_R13857_001.nc").read_bytes()
    for cut in (len(content) // 2, len(content) - 7):
        outcomes, drafts, rejects = read(content[:cut], "cut.nc")
        assert drafts == [] or rejects == []
        assert outcomes[0].rejects + outcomes[0].records.total() >= 1


def test_a_reader_that_stumbles_costs_one_piece(caplog):
    def stumble(data: bytes, origin: Origin) -> Reading:
        raise ZeroDivisionError("no")

    feed = Feed(
        key="odd", title="odd", recognise=lambda head, name: 1.0, read=stumble, stale_after_s=1.0
    )
    got: list[Reading] = []
    read_content(b"x", "f", AT, got.append, feed=feed)
    assert "could not make sense of the file; ask for it again" in got[0].rejects[0].reason
    assert "ZeroDivisionError" not in got[0].rejects[0].reason


def test_a_recogniser_that_stumbles_does_not_stop_the_others(monkeypatch, caplog):
    def stumble(head: bytes, name: str) -> float:
        raise IndexError

    odd = Feed(
        key="odd", title="odd", recognise=stumble, read=lambda d, o: Reading(), stale_after_s=1.0
    )
    feeds = recognition.all_feeds()
    monkeypatch.setattr(recognition, "all_feeds", lambda: (odd, *feeds))
    assert recognition.recognise(BUOY, "x").key == "ndbc"


# -- typed records -------------------------------------------------------------------------------

RETRACTION = {
    "kind": "journal.retract",
    "valid_at": "2027-03-16T05:00Z",
    "payload": {"target": "0" * 32, "reason": "typed by mistake"},
}


def test_typed_json_in_three_forms():
    one = json.dumps(RETRACTION).encode()
    assert [draft.kind for draft in read(one)[1]] == ["journal.retract"]
    assert len(read(b"[" + one + b"," + one + b"]")[1]) == 2
    outcomes, drafts, _ = read(one + b"\n\n" + one + b"\n")
    assert outcomes[0].format == "typed-lines"
    assert len({draft.id for draft in drafts}) == 2  # two lines, two records
    assert len(read(json.dumps(RETRACTION, indent=2).encode())[1]) == 1


def test_typed_csv_with_each_separator():
    for separator in ",;\t":
        text = separator.join(("kind", "valid_at", "target", "reason")) + "\r\n"
        text += separator.join(("journal.retract", "152340Z MAR 27", "0" * 32, "mistake")) + "\r\n"
        outcomes, drafts, rejects = read(text.encode())
        assert outcomes[0].format == "typed-csv"
        assert rejects == []
        assert drafts[0].valid_at == datetime(2027, 3, 15, 23, 40, tzinfo=UTC)


def test_an_id_makes_the_same_record_wherever_it_comes_from():
    first = json.dumps({**RETRACTION, "id": "form-7"}).encode()
    again = json.dumps({**RETRACTION, "id": "form-7", "source": "relay"}).encode()
    assert read(first)[1][0].id == read(again)[1][0].id


def test_numbers_and_flags_of_a_csv_take_their_kind():
    text = (
        "kind,valid_at,target,reason,reliability,credibility\n"
        f"journal.grade,2027-03-16T05:00Z,{'0' * 32},heard twice,B,2\n"
        f"journal.grade,2027-03-16T05:00Z,{'0' * 32},heard twice,B,two\n"
    )
    _, drafts, rejects = read(text.encode())
    assert drafts[0].payload["credibility"] == 2
    assert "credibility: 'two' is not a whole number" in rejects[0].reason
    text = (
        f"kind,valid_at,target,reason,settled\njournal.dispute,2027-03-16T05:00Z,{'0' * 32},x,yes\n"
    )
    assert read(text.encode())[1][0].payload["settled"] is True


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"kind": "journal.unmake"}, "'journal.unmake' is not a kind of record; accepted: "),
        ({"valid_at": "2027-03-16T05:00"}, "has no time zone"),
        ({"valid_at": None}, "valid_at: no time"),
        ({"payload": None}, "payload: no payload; accepted: an object of fields"),
        ({"payload": {"target": "x", "reason": "y"}}, "target: 'x' is not written as asked for"),
        (
            {"payload": {**RETRACTION["payload"], "odd": 1}},
            "odd: '1' is no field of this kind",
        ),
        ({"odd": 1}, "'odd' does not belong here"),
        ({"source": 7}, "source: '7' is not usable"),
    ],
)
def test_a_bad_record_names_file_row_and_field(change, sentence):
    good = json.dumps(RETRACTION).encode()
    bad = json.dumps({**RETRACTION, **change}).encode()
    _, drafts, rejects = read(good + b"\n" + bad + b"\n" + good + b"\n", "typed.jsonl")
    assert len(drafts) == 2
    assert len(rejects) == 1
    assert rejects[0].line == 2
    assert rejects[0].reason.startswith("typed.jsonl line 2")
    assert sentence in rejects[0].reason


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b'{"kind": "journal.retract", "valid_at": ' + b"[" * 5000, "nested more than 40 deep"),
        (b'[{"kind": "x", "valid_at": 1}, 3]', "not an object"),
        (b'{"kind": "x", "valid_at": NaN}\n{"kind": "x", "valid_at": NaN}', "NaN is not a number"),
        (b'{"kind": "x", "kind": "x", "valid_at": 1}', "the same key twice"),
        (b'{"kind": "x", "valid_at": 1', "not JSON"),
        (b'{"kind": "a\xff", "valid_at": 1}', "not UTF-8"),
        (b"kind,heard_at,source\nx,y,z\n", "no column valid_at; accepted: kind, valid_at"),
        (b"kind,valid_at\nx,y,z\n", "3 cells under 2 column heads"),
        (b"kind,valid_at,odd\njournal.retract,2027-03-16T05:00Z,1\n", "has no field 'odd'"),
    ],
)
def test_typed_files_that_are_no_records(content, sentence):
    outcomes, drafts, rejects = read(content, "records.json")
    assert outcomes[0].format.startswith("typed")
    assert drafts == []
    assert any(sentence in reject.reason for reject in rejects), rejects


def test_heard_after_it_was_received_is_heard_when_received():
    record = {**RETRACTION, "heard_at": "2027-03-17T00:00Z"}
    assert read(json.dumps(record).encode())[1][0].heard_at == AT


def test_counts_add_up_in_the_sentence():
    summary = read_content(BUOY + b"2027 nonsense\n", "b", AT, lambda _r: None)
    assert summary.sentence() == "1 weather.observation; 1 rejected"


def test_wide_text_is_refused_whole(monkeypatch):
    monkeypatch.setattr(reading, "LARGEST_WHOLE_TEXT", 100)
    _, _, rejects = read(BUOY)
    assert "is too large to be read whole" in rejects[0].reason


@pytest.mark.parametrize("said", ["4_9", "1_0.5", "-_8", "nan", "1e999", "0x31"])
def test_a_slip_that_python_would_take_for_a_number_is_none(said: str) -> None:
    table = (
        "kind,valid_at,subject,latitude_deg,longitude_deg\n"
        f"tracks.position,2027-03-16T06:00:00Z,mmsi:299000101,{said},-8.5\n"
    )
    _, drafts, rejects = read(table.encode(), "typed.csv")
    taken = [KINDS["tracks.position"].model.model_validate(one.payload) for one in drafts
             if isinstance(one.payload["latitude_deg"], float)]  # fmt: skip
    assert not taken
    assert rejects or drafts  # told, here or by the journal's own check
