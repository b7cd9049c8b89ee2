"""The first hour of three incidents, through the screen alone, from an empty exercise.

Everything is typed in the box for what was heard, on the first report's card or in a form; keys,
clicks, fields and seconds are counted and printed. Every number that is read off the screen stands
against a calculation by hand in the lines above it: plane sailing with 1 nmi = 1 minute of
latitude, and the departure divided by the cosine of the middle latitude.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.chart import run
from tests.browser.conftest import Server, Watched, start

pytestmark = pytest.mark.browser
PATIENCE_MS = 120_000
FIRST_PLOT_S, FIRST_PLOT_LINES = 60.0, 8
FIRST_MARGIN_S, FIRST_MARGIN_LINES = 300.0, 20
GAS = 8.314  # J/(mol K), rounded
ROOM_K, CO2_KG_MOL = 290.0, 0.04401
CO2_KG_DAY = 1.0  # a person, awake and resting; life-support handbooks, from memory
HATCH_SHUT = 0.48  # of a cycle that only its hours are told of, when the hatch shuts behind people
# what nobody told makes it "at most", with the names of what is not told
MARGIN = r"(\d+) (h|min) (to spare|short)(?: \([^)]*\))?, carbon dioxide 6 % SEV binds"
SEV_6_KPA = 0.06 * 101.325


# by hand the box is dry; a pressure over the surface's may be water, which leaves less room
MAY_BE_WATER = 0.96
STANDS = """() => [document.activeElement.outerHTML.slice(0, 200),
  document.querySelector("[data-test-script-state]").dataset.testScriptState]"""


@dataclass
class Officer:
    """One who types, and what it cost."""

    page: Page
    began: float = field(default_factory=time.monotonic)
    keys: int = 0
    clicks: int = 0
    fields: int = 0
    lines: int = 0
    again: int = 0
    rows: list[tuple[str, float, int, int, int, int]] = field(default_factory=list)

    def hears(self, line: str) -> None:
        """Type a line and press Enter until it is recorded."""
        page = self.page
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("/")
        expect(page.get_by_label("What was heard")).to_be_focused(timeout=PATIENCE_MS)
        page.keyboard.type(line)
        page.keyboard.press("Enter")
        read = page.get_by_text(re.compile("Understood:|of which day")).first
        expect(read).to_be_visible(timeout=PATIENCE_MS)
        if "of which day" in (read.text_content() or ""):
            # an hour far from now on either day: what these lines tell as due has been
            page.get_by_role("button", name=re.compile(r"^\d{6}Z$")).first.click()
            expect(page.get_by_text("Understood:").first).to_be_visible(timeout=PATIENCE_MS)
            page.get_by_label("What was heard").focus()
            self.clicks += 1
        page.keyboard.press("Enter")
        taken = page.locator(".mp-heard", has_text=re.compile(r"No\. \d+:")).first
        try:
            expect(taken).to_be_visible(timeout=PATIENCE_MS)
        except AssertionError as fault:
            raise AssertionError(f"{line!r} was not taken: {page.evaluate(STANDS)}") from fault
        try:
            expect(page.get_by_label("What was heard")).to_have_value("", timeout=30_000)
        except AssertionError:  # it still stands there read back: one sees it, and presses again
            self.again += 1
            page.keyboard.press("Enter")
        expect(page.get_by_label("What was heard")).to_have_value("", timeout=PATIENCE_MS)
        assert self.again <= 1, "an Enter is lost now and then"
        # what was read back stands until the page has been drawn anew: it is not the next line's
        expect(page.get_by_text("Understood:")).to_have_count(0, timeout=PATIENCE_MS)
        self.keys += 3 + len(line)
        self.lines += 1

    def fills(self, label: str, text: str) -> None:
        """Type into a field of a card or form."""
        self.page.get_by_label(label, exact=True).first.fill(text)
        self.page.keyboard.press("Tab")
        self.keys += 1 + len(text)
        self.fields += 1

    def presses(self, name: str) -> None:
        """Press a button."""
        self.page.get_by_role("button", name=name, exact=True).first.click()
        self.clicks += 1

    def goes(self, page: str) -> None:
        """Go to another page by its name."""
        self.page.get_by_role("link", name=page, exact=True).first.click()
        self.clicks += 1

    def has(self, what: str) -> None:
        """Note what is reached by now."""
        spent = time.monotonic() - self.began
        self.rows.append((what, spent, self.keys, self.clicks, self.fields, self.lines))

    def table(self, title: str) -> str:
        """Return what it cost, a row a thing reached."""
        head = f"{title:<44} seconds  keys clicks fields lines"
        rows = [f"{w:<44} {s:7.1f} {k:5d} {c:6d} {f:6d} {n:5d}" for w, s, k, c, f, n in self.rows]
        return "\n".join(("", head, *rows))


def begun(on: Watched, server: Server) -> Officer:
    on.page.goto(f"{server.address}/plot")
    expect(on.page.get_by_label("What was heard")).to_be_visible(timeout=180_000)
    expect(on.page.get_by_text("First report").first).to_be_visible(timeout=PATIENCE_MS)
    return Officer(on.page)


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory, request: Any) -> Iterator[Server]:
    clock = request.param
    folder = tmp_path_factory.mktemp("hour")
    running = start(folder, "--exercise", "HEATH", "--clock", clock)
    try:
        yield running
    finally:
        running.end()


def marks(page: Page) -> list[str]:
    """Return what each mark on the chart says when it is pointed at."""
    found: list[str] = run(page, "() => musterplot.marks.map(m => m.p.t || '')")
    return found


def until_marked(page: Page, words: str, fits: Callable[[str], bool] = bool) -> str:
    """Wait until a mark says these words, and what fits; return all that it says."""
    for _ in range(PATIENCE_MS // 500):
        for said in marks(page):
            if words in said and fits(said):
                return said
        page.wait_for_timeout(500)
    raise AssertionError(f"nothing on the chart says {words!r}: {marks(page)}")


def until_strip(page: Page, words: str) -> None:
    """Wait until the strip says these words, which a record of a moment ago brings."""
    said = ""
    for _ in range(PATIENCE_MS // 500):
        said = page.locator(".mp-strip").first.inner_text()
        if re.search(words, said):
            return
        page.wait_for_timeout(500)
    raise AssertionError(f"{words!r} is not in the strip: {said}")


def gone(latitude: float, longitude: float, course: float, run_nmi: float) -> tuple[float, float]:
    """Return where a run leads, by plane sailing, degrees."""
    north = run_nmi * math.cos(math.radians(course)) / 60.0
    middle = math.radians(latitude + north / 2.0)
    return (
        latitude + north,
        longitude + run_nmi * math.sin(math.radians(course)) / 60.0 / math.cos(middle),
    )


def place(said: str) -> tuple[float, float]:
    """Return the first place in a sentence, degrees."""
    found = re.search(r"(\d\d)°([\d.]+)′([NS]) (\d{3})°([\d.]+)′([EW])", said)
    assert found, said
    latitude = int(found[1]) + float(found[2]) / 60.0
    longitude = int(found[4]) + float(found[5]) / 60.0
    return latitude * (1 if found[3] == "N" else -1), longitude * (1 if found[6] == "E" else -1)


def co2_hours(percent: float, bar: float, volume_m3: float, people: int) -> float:
    """Return hours from a reading to 6 % surface equivalent, by the law of ideal gases."""
    room = (SEV_6_KPA - percent * bar) * 1_000.0 * volume_m3 / (GAS * ROOM_K)
    return room * CO2_KG_MOL / (people * CO2_KG_DAY / 24.0)


def last_shut(first_dive_h: float, cycle_h: float, dives: int) -> float:
    """Return hours to the hatch shut behind the last, by the likely times of each dive."""
    return first_dive_h + (dives - 1 + HATCH_SHUT) * cycle_h


def hours_to(now: str, then: str) -> float:
    """Return hours between two day-and-hour groups of one month: 281252 to 290305."""
    one, other = ((int(t[:2]) * 24 + int(t[2:4])) + int(t[4:6]) / 60.0 for t in (now, then))
    return other - one


def margins(officer: Officer, now: str) -> dict[str, tuple[float, float]]:
    """Return, by refuge, hours until its level and hours to spare, as the Lifts page says them.

    Waits for the first margin on every page, and notes what it cost.
    """
    page = officer.page
    figure_ = page.locator(".mp-strip", has_text=re.compile(r"Margin\s*[+−≤]"))
    expect(figure_.first).to_be_visible(timeout=PATIENCE_MS)
    officer.has("first margin of two refuges")
    assert officer.lines <= FIRST_MARGIN_LINES
    assert officer.rows[-1][1] <= FIRST_MARGIN_S
    officer.goes("Lifts")
    drawn = page.locator("svg", has_text=re.compile("to spare|short"))
    expect(drawn.first).to_be_visible(timeout=PATIENCE_MS)
    expect(page.get_by_text("rough: ")).to_have_count(0, timeout=PATIENCE_MS)
    told = "\n".join(drawn.locator("text").all_text_contents())
    found = {}
    for name, rest in re.findall(
        r"([A-Z][a-z-]+) refuge(.*?)(?=[A-Z][a-z-]+ refuge|$)", told, re.S
    ):
        until = re.search(r"6 % SEV, (\d{6})Z", rest)
        spare = re.search(MARGIN, rest)
        assert until, rest
        assert spare, rest
        hours = float(spare[1]) / (60.0 if spare[2] == "min" else 1.0)
        found[name.lower()] = (
            hours_to(now, until[1]), hours if spare[3] == "to spare" else -hours
        )  # fmt: skip
    return found


def near(one: tuple[float, float], other: tuple[float, float], minutes: float) -> bool:
    return all(abs(a - b) * 60.0 <= minutes for a, b in zip(one, other, strict=True))


def figure(said: str) -> float:
    """Return the distance that a sentence begins with, nautical miles."""
    found = re.match(r"([\d.]+) nmi", said)
    assert found, said
    return float(found[1])


@pytest.mark.parametrize("server", ["281252Z NOV 26"], indirect=True)
def test_overdue_in_the_ligurian_sea_by_lines_as_they_are_heard(
    on: Watched, server: Server, capsys: pytest.CaptureFixture[str]
) -> None:
    officer = begun(on, server)
    page = on.page
    for line in (
        "lkp 4320N 00840E 1044Z within 2 nmi",
        "course 215 speed 6",
        "report due 1214",
        "52 on board",
        "sublook",
    ):
        officer.hears(line)
    # 6 kn from 1044Z to the missed report at 1214Z is 9.0 nmi on 215 from 43 20.0N 008 40.0E
    there = gone(43.3333, 8.6667, 215.0, 9.0)
    until_marked(page, "dead reckoning", lambda said: near(place(said), there, 0.15))
    # from 1044Z to 1252Z is 2.13 h; at 15 kn, assumed, 32.0 nmi, and the 2 nmi of the position
    ring = until_marked(page, "farthest she can have got")
    assert figure(ring) == pytest.approx(34.0, abs=0.8), ring  # a minute may have gone by
    until_strip(page, r"SUBLOOK")
    officer.has("first plot: position, farthest on, stage, ring")
    assert officer.rows[0][1] <= FIRST_PLOT_S
    assert officer.lines <= FIRST_PLOT_LINES
    officer.hears("TENACE 4310N 00820E 240/12")
    officer.hears("TENACE bearing 060M 1252")
    # variation there is 3.4 east by WMM2025 (read off in the trial): 063.4 true
    bearing = until_marked(page, "bearing")
    assert re.search(r"063(\.\d)?", " ".join(m for m in marks(page) if "bearing" in m)), bearing
    officer.hears("wind 310/25 sea 2.8 m 7 s at TENACE")
    officer.hears("limit launch 2.5 m")
    officer.has("a ship, a bearing, the sea and a limit")
    officer.goes("Weather")
    # Hs 2.8 m is over 2.5 m, with no forecast at all
    expect(page.get_by_text(re.compile(r"Hs 2\.8 m over 2\.5")).first).to_be_visible(
        timeout=PATIENCE_MS
    )
    until_strip(page, r"\bNO\b")
    officer.has("may we dive: no, and why")
    for line in (
        "forward 20 people, aft 26",
        "she lies depth 220 m",
        "aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs",
        "forward o2 19.2 percent co2 1.0 percent at 1.05 bar abs",
        "forward volume 420 m3; aft volume 560 m3",
        "level co2 6 % sev",
        "vehicle 14 seats, 5.5 h cycle, ready 290305Z",
        "aft first",
    ):
        officer.hears(line)
    until_strip(page, r"6\s+not heard of")  # 52 less 20 and 26
    told = margins(officer, "281252")
    # 26 people in 14s are two dives, 20 two more; the spread of a cycle told in a word is wide,
    # and lies on the late side, so that the hours to spare are less than the likely times give
    ready = hours_to("281252", "290305")
    for name, until, dives in (
        ("after", co2_hours(1.9, 1.4, 560.0, 26), 2),
        ("forward", co2_hours(1.0, 1.05, 420.0, 20), 4),
    ):
        assert MAY_BE_WATER * until - 1.0 <= told[name][0] <= until + 1.0, (name, until, told)
        likely = until - last_shut(ready, 5.5, dives)
        assert likely - 5.5 <= told[name][1] <= likely + 1.0, (name, likely, told)
    with capsys.disabled():
        print(officer.table("Ligurian Sea, lines"))
    assert on.errors == []


@pytest.mark.long
@pytest.mark.parametrize("server", ["030410Z JUN 27"], indirect=True)
def test_missed_off_tasmania_by_the_card_across_the_hemispheres(
    on: Watched, server: Server, capsys: pytest.CaptureFixture[str]
) -> None:
    officer = begun(on, server)
    page = on.page
    for label, text in (
        ("Last known position", "44 10.0S 148 30.0E"),
        ("Good to: within, 95 %", "3 nmi"),
        ("Course and speed", "110T 9 kn"),
        ("Last heard", "030110Z"),
        ("Report due", "0340"),
        ("On board", "41 sailing list"),
        ("Name", "PERENTIE"),
        ("Length", "71 m"),
    ):
        officer.fills(label, text)
    page.get_by_text("SUBMISS", exact=True).first.click()
    officer.clicks += 1
    expect(page.get_by_text(re.compile("read: SUBMISS, 0304")).first).to_be_visible(
        timeout=PATIENCE_MS
    )
    # the draft draws at once: 9 kn for 2.5 h to the missed report is 22.5 nmi on 110
    there = gone(-44.1667, 148.5, 110.0, 22.5)
    until_marked(page, "dead reckoning", lambda said: near(place(said), there, 0.3))
    officer.presses("Record the first report")
    # 15 kn, assumed, for 3 h and 3 nmi
    expect(page.get_by_role("button", name="Record the first report")).to_have_count(
        0, timeout=PATIENCE_MS
    )
    ring = until_marked(page, "farthest she can have got")
    assert figure(ring) == pytest.approx(48.0, abs=0.8), ring
    until_strip(page, r"SUBMISS")
    officer.has("first plot: one card")
    assert officer.rows[0][1] <= FIRST_PLOT_S
    for line in (
        "new compartment motor-room 17 people",
        "new compartment control-room 24 people",
        "she lies depth 95 m",
        "motor-room co2 1.2 percent at 1.1 bar abs",
        "control-room o2 20 percent co2 0.9 percent at 1 bar abs",
        "motor-room volume 300 m3; control-room volume 380 m3",
        "level co2 6 % sev",
        "limit launch 3 m",
        "vehicle 10 seats, 4 h cycle, ready 040200Z",
        "motor-room first",
    ):
        officer.hears(line)
    until_strip(page, r"41\s+in hull")
    told = margins(officer, "030410")
    ready = hours_to("030410", "040200")
    for name, until, dives in (
        ("motor-room", co2_hours(1.2, 1.1, 300.0, 17), 2),
        ("control-room", co2_hours(0.9, 1.0, 380.0, 24), 5),
    ):
        assert MAY_BE_WATER * until - 1.0 <= told[name][0] <= until + 1.0, (name, until, told)
        likely = until - last_shut(ready, 4.0, dives)
        assert likely - 4.5 <= told[name][1] <= likely + 1.0, (name, likely, told)
    assert told["control-room"][1] < 0.0, "three dives more than the air of the second room lasts"
    until_strip(page, r"LATE")
    with capsys.disabled():
        print(officer.table("off Tasmania, one card and lines"))
    assert on.errors == []


@pytest.mark.long
@pytest.mark.parametrize("server", ["142235Z JAN 27"], indirect=True)
def test_facts_that_contradict_each_other_over_midnight_and_the_date_line(
    on: Watched, server: Server, capsys: pytest.CaptureFixture[str]
) -> None:
    officer = begun(on, server)
    page = on.page
    officer.hears("report due 2200")
    officer.hears("course 080 speed 10")
    officer.hears("33 on board")
    officer.hears("lkp 5105N 17940E 2035Z within 4 nmi")
    # 10 kn from 2035Z to 2200Z is 14.17 nmi on 080: over the date line to 179 57 W or so
    latitude, longitude = gone(51.0833, 179.6667, 80.0, 14.17)
    assert longitude > 180.0
    there = (latitude, longitude - 360.0)
    until_marked(page, "dead reckoning", lambda said: near(place(said), there, 0.3))
    officer.has("first plot: facts in another order")
    # No. 1 is the exercise's clock; the list of No. 4 was another boat's, No. 5 heard too well
    officer.hears("correct 5: within 6 nmi")
    officer.hears("scrap 4: another boat's list")
    officer.goes("Log")
    expect(page.get_by_text("Head of the journal").first).to_be_visible(timeout=PATIENCE_MS)
    officer.goes("Watch")
    page.get_by_role("radio", name="Handover", exact=True).first.click()
    learnt = page.get_by_text(re.compile("corrected by No. 6")).first
    expect(learnt).to_be_visible(timeout=PATIENCE_MS)
    expect(page.locator("s", has_text=re.compile("4 nmi|7408")).first).to_be_visible(
        timeout=PATIENCE_MS
    )
    expect(page.get_by_text(re.compile("retracted by No. 7")).first).to_be_visible(
        timeout=PATIENCE_MS
    )
    officer.goes("Plot")
    # from 2035Z to 2235Z is 2 h: 30 nmi at 15 kn, and now 6 nmi
    ring = until_marked(page, "farthest she can have got")
    assert figure(ring) == pytest.approx(36.0, abs=0.8), ring
    officer.has("corrected, taken back, and said so in the handover")
    for line in (
        "30 on board",
        "forward 12 people, aft 16",
        "aft 14 people",  # a second count that contradicts the first
        "she lies depth 160 m",
        "aft co2 2 percent at 1.2 bar abs; forward co2 1.1 percent at 1.1 bar abs",
        "aft volume 400 m3; forward volume 350 m3",
        "forward volume 330 m3",  # and a second volume
        "level co2 6 % sev",
        "vehicle 12 seats, 6 h cycle, ready 150800Z",
        "vehicle 8 seats",  # and a vehicle told anew: its cycle stands
        "limit recovery 2 m",
        "forward first, then aft",
    ):
        officer.hears(line)
    told = margins(officer, "142235")
    ready = hours_to("142235", "150800")
    # 30 less 12 and 16, told first, or less 12 and 14
    until_strip(page, r"26 to 28\s+in hull")
    until_strip(page, r"2 to 4\s+not heard of")
    for name, until, dives in (
        ("forward", co2_hours(1.1, 1.1, 330.0, 12), 2),
        ("after", co2_hours(2.0, 1.2, 400.0, 16), 4),
    ):
        assert MAY_BE_WATER * until - 1.0 <= told[name][0] <= until + 1.0, (name, until, told)
        likely = until - last_shut(ready, 6.0, dives)
        assert likely - 6.5 <= told[name][1] <= likely + 1.0, (name, likely, told)
    with capsys.disabled():
        print(officer.table("Aleutians, contradictions"))
    assert on.errors == []
