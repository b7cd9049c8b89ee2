"""The published tables: everything read, unknown counted, never taken for yes or no."""

import gzip
from datetime import UTC, datetime

import numpy as np
import pytest

from layers.contract import Origin
from layers.earth.position import Position
from layers.earth.shore.land import Crossing
from layers.forward_port.legs import coast
from layers.forward_port.ports import candidates, port_feeds, port_tables
from tests.samples import sample

RECEIVED = datetime(2027, 3, 13, tzinfo=UTC)
RUNWAY_HEADS = (
    "id,airport_ident,length_{0},width_{0},surface,lighted,closed,le_ident,le_latitude_deg,"
    "le_longitude_deg,he_ident\n"
)


def origin(name="table.csv"):
    return Origin(source=name, received_at=RECEIVED, digest="d" * 64)


def test_all_ports_of_the_index_are_read_and_unknowns_counted():
    data = sample("world_port_index_pub150.csv.gz").read_bytes()
    assert port_feeds.recognise_ports(data[:65536], "x") > 0.9
    reading = port_feeds.read_port_file(data, origin())
    assert len(reading.drafts) == 3768  # rows in the file; SOURCES.md
    assert not reading.rejects
    rows = [draft.payload for draft in reading.drafts]
    # In the file 603 cargo pier depths and 591 channel depths are 0, which means unknown.
    assert sum(row["pier_depth_m"] is None for row in rows) == 603
    assert sum(row["channel_depth_m"] is None for row in rows) == 591
    assert all(row["pier_depth_m"] is None or row["pier_depth_m"] > 0 for row in rows)


def test_all_runways_are_read_in_metres_and_unknowns_counted():
    data = sample("ourairports_runways.csv.gz").read_bytes()
    assert port_feeds.recognise_runways(data[:65536], "x") > 0.9
    reading = port_feeds.read_runway_file(data, origin())
    assert len(reading.drafts) == 48_184  # rows in the file; SOURCES.md
    assert not reading.rejects
    rows = [draft.payload for draft in reading.drafts]
    assert sum(row["length_m"] is None for row in rows) == 296
    assert sum(row["width_m"] is None for row in rows) == 3024
    # 15,677 rows carry a threshold; airports by ICAO place more, the rest stay unplaced.
    placed = sum(row["latitude_deg"] is not None for row in rows)
    assert placed == 48_184 - 19_724
    # 2,500 ft is 762 m exactly
    first = next(row for row in rows if row["airport"] == "00AK")
    assert first["length_m"] == pytest.approx(762.0)


def test_nearest_ports_to_the_datum_with_a_long_runway():
    table = port_tables.read_ports(sample("world_port_index_pub150.csv.gz").read_bytes(), "w")
    runway = port_tables.read_runways(sample("ourairports_runways.csv.gz").read_bytes(), "r")
    columns = {
        "latitude_deg": runway.latitude_deg,
        "longitude_deg": runway.longitude_deg,
        "length_m": runway.length_m,
        "width_m": runway.width_m,
        "closed": runway.closed,
        "surface": runway.surface,
    }
    needs = candidates.Needs(draught_m=6.1, runway_m=1750.0)
    found = candidates.rank(table.numbers, columns, Position(49.8333, -8.5), needs)
    assert np.all(np.diff(found.distance_nmi) >= 0)
    names = table.texts["name"][found.row]
    cobh = int(np.flatnonzero(names == "Cobh")[0])
    assert found.runway[cobh] == 1
    assert runway.airport.iloc[int(found.runway_row[cobh])] == "EICK"
    assert found.distance_nmi[cobh] == pytest.approx(121.4, abs=0.5)
    dark = np.isnan(table.numbers["pier_depth_m"][found.row])
    assert np.all(found.depth[dark] == -1)
    # too shallow at low water is not known only while the tide may bring what lacks
    need, tide = 6.6, table.numbers["tidal_range_m"][found.row]
    pier = table.numbers["pier_depth_m"][found.row]
    for verdict, depth, rises in zip(found.depth[~dark], pier[~dark], tide[~dark], strict=True):
        enough = np.isnan(rises) or rises > 17.0 or depth + rises >= need
        assert verdict == (1 if depth >= need else -1 if enough else 0), (depth, rises)


def columns_of(**changes):
    base = {
        "latitude_deg": np.array([50.0]),
        "longitude_deg": np.array([-5.0]),
        "length_m": np.array([2000.0]),
        "width_m": np.array([45.0]),
        "closed": np.array([0]),
        "surface": np.array(["ASP"], dtype=object),
    }
    return base | changes


PORT = {
    "latitude_deg": np.array([50.1]),
    "longitude_deg": np.array([-5.1]),
    "pier_depth_m": np.array([np.nan]),
    "tidal_range_m": np.array([2.0]),
}


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({}, 1),
        ({"length_m": np.array([1000.0])}, 0),
        ({"length_m": np.array([np.nan])}, -1),
        ({"closed": np.array([1])}, 0),
        ({"surface": np.array(["WATER"], dtype=object)}, 0),
        ({"length_m": np.array([9144.0])}, 0),  # 30,000 ft is no runway on land
        ({"latitude_deg": np.array([np.nan])}, 0),
        ({"latitude_deg": np.array([55.0])}, 0),
        ({"width_m": np.array([np.nan])}, 1),
    ],
)
def test_runway_verdicts(changes, verdict):
    found = candidates.rank(
        PORT, columns_of(**changes), Position(49.8, -8.5), candidates.Needs(draught_m=6)
    )
    assert found.runway[0] == verdict
    assert found.depth[0] == -1


def test_no_port_within_reach_is_an_empty_list():
    far = candidates.rank(PORT, columns_of(), Position(-60.0, 100.0), candidates.Needs(draught_m=6))
    assert len(far.row) == 0


def test_runways_in_metres_that_only_feet_can_be_are_refused_by_row():
    rows = RUNWAY_HEADS.format("m") + "1,EGXX,2744,45,ASP,1,0,12,50.4,-5.0,30\n"
    rows += "2,EGYY,9002,148,ASP,1,0,12,50.4,-5.0,30\n"
    reading = port_feeds.read_runway_file(rows.encode(), origin())
    assert [d.payload["airport"] for d in reading.drafts] == ["EGXX"]
    (reject,) = reading.rejects
    assert reject.line == 3
    assert "EGYY" in reject.reason
    assert "feet" in reject.reason


def test_runways_that_do_not_say_their_unit_are_refused():
    rows = RUNWAY_HEADS.format("ft").replace("length_ft", "length") + "1,EGXX,9002,45,ASP\n"
    reading = port_feeds.read_runway_file(rows.encode(), origin())
    assert "does not say the unit" in reading.rejects[0].reason


def test_port_without_a_position_is_a_reject_with_its_name():
    text = gzip.decompress(sample("world_port_index_pub150.csv.gz").read_bytes()).decode()
    head, first = text.splitlines()[:2]
    bad = first.rsplit(",", 2)[0] + ",,"
    reading = port_feeds.read_port_file(f"{head}\n{bad}\n{first}\n".encode(), origin())
    assert len(reading.drafts) == 1
    assert "no position" in reading.rejects[0].reason
    assert "Maurer" in reading.rejects[0].text


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"\x1f\x8b\x08damaged", "damaged gzip"),
        (b"World Port Index Number,Main Port Name\n1,X\n", "no column"),
        (b"", "no column"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_whole(data, reason):
    reading = port_feeds.read_port_file(data, origin())
    assert not reading.drafts
    assert reason in reading.rejects[0].reason


def test_a_table_parted_by_semicolons_is_refused_in_plain_words():
    content = gzip.decompress(sample("world_port_index_pub150.csv.gz").read_bytes())
    reading = port_feeds.read_port_file(content[:20_000].replace(b",", b";"), origin())
    assert reading.drafts == []
    assert "its columns are parted by ';'" in reading.rejects[0].reason


@pytest.mark.parametrize("cells", [1, 50_000])
def test_a_row_of_more_cells_than_heads_moves_no_column(cells):
    content = gzip.decompress(sample("world_port_index_pub150.csv.gz").read_bytes())
    heads, first, second, _ = content.split(b"\n", 3)
    plain = port_tables.read_ports(b"\n".join((heads, first, second, b"")), "w")
    long = first.rstrip(b"\r") + b"," * cells
    found = port_tables.read_ports(b"\n".join((heads, long, second, b"")), "w")
    assert found.texts["name"].tolist() == plain.texts["name"].tolist()
    latitudes = found.numbers["latitude_deg"].tolist()
    assert latitudes == plain.numbers["latitude_deg"].tolist()


class Island:
    """A coastline of one island, a strip along 52.05 N."""

    folder = None

    def ready(self):
        return True

    def crosses(self, latitudes_deg, longitudes_deg):
        lat = np.asarray(latitudes_deg)
        over = np.flatnonzero((lat[:-1] < 52.05) & (lat[1:] >= 52.05))
        return Crossing(position=Position(52.05, -8.4), distance_m=0.0) if len(over) else None


def test_published_ports_stand_beside_the_options_once_a_datum_is_known():
    from layers.earth.values import DatumValue
    from layers.forward_port import LAYER
    from tests.unit.forward_port_cases import result, row

    def port(number, name, latitude, depth, tide=None):
        return row(
            "wpi", index_number=number, name=name, latitude_deg=latitude, longitude_deg=-8.3,
            pier_depth_m=depth, tidal_range_m=tide, lifts="25 to 49 t",
        )  # fmt: skip

    runway = row(
        "runway", airport="EGXX", name="16/34", length_m=2133.0, width_m=45.0, closed=0,
        latitude_deg=51.84, longitude_deg=-8.49, surface="ASP",
    )  # fmt: skip
    datum = DatumValue(
        where=Position(49.8333, -8.5), radius_95_m=1.0, ellipse_95=None, is_fix=False,
        depth_m=None, lost_at=None,
    )  # fmt: skip
    drafts = [
        port(1, "Deep", 51.8, 11.0), port(2, "Dark", 51.9, None), port(3, "Shoal", 52.0, 3.0, 2.0),
        port(4, "Tidal", 52.1, 3.0, 4.1), port(5, "Untold", 52.2, 3.0),
        port(6, "Slip", 52.3, 3.0, 90.0),
    ]  # fmt: skip
    coast.use(Island())
    try:
        found = result([*drafts, runway], datum=datum)
    finally:
        coast.use(None)
    table = LAYER.tables(found)["Published ports near the datum"].as_dicts()
    assert [r["Port"] for r in table] == ["Deep", "Dark", "Shoal", "Tidal", "Untold", "Slip"]
    # 6 m draught and half a metre below it: 3 m lack 3.5, which 2 m of tide never bring
    assert [r["Depth"].partition(":")[0] for r in table] == [
        "fits", "not known", "does not fit", "not known", "not known", "not known",
    ]  # fmt: skip
    assert "3.5 m short at low water; of the tide its range is 4.1 m" in table[3]["Depth"]
    assert "nobody tells its range" in table[4]["Depth"]
    # an island lies on 52.05N: beyond it the straight distance is no way by sea
    assert [r["By sea"] for r in table][:3] == ["straight is clear"] * 3
    not_yet = "more than 136 nmi: land between, the way round it is not worked out yet"
    assert table[3]["By sea"] == not_yet
    # and those three, by their places, are what a program of its own is asked for
    module, *words = LAYER.errand(found)
    assert module == "layers.forward_port.legs.find_ways"
    assert [float(word) for word in words] == [49.8333, -8.5, 52.1, -8.3, 52.2, -8.3, 52.3, -8.3]
    assert table[0]["Runway by length and paving"] == "fits"
    assert table[0]["Straight from the datum (nmi)"] == pytest.approx(118.4, abs=0.3)
    assert table[0]["Nearest long runway"] == "EGXX"
    assert found.published.depth_unknown == 1
    assert "6 ports are known" in LAYER.sentence(found)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("said", ["inf", "1e300", "-5", "", "nan"])
def test_a_port_whose_number_is_none_is_told_of_without_a_word_of_the_library(said):
    text = gzip.decompress(sample("world_port_index_pub150.csv.gz").read_bytes()).decode()
    head, first = text.splitlines()[:2]
    place = head.lstrip("\ufeff").split(",").index("World Port Index Number")
    cells = first.split(",")
    cells[place] = said
    reading = port_feeds.read_port_file(f"{head}\n{','.join(cells)}\n".encode(), origin())
    assert len(reading.drafts) + len(reading.rejects) == 1
