"""Rows "Decompression and oxygen dose" of the check values, traps included."""

from __future__ import annotations

import math

import pytest

from layers.earth.errors import InputError
from layers.earth.units import PA_PER_FSW
from layers.survivors.chambers.oxygen_dose import dose_of_band, dose_of_step, rate_per_min
from layers.survivors.chambers.schedule import BREATHING, PressureBand, Schedule, Step, read_csv
from layers.survivors.muster.escape_or_wait import stated_risk


@pytest.mark.parametrize(
    ("po2_ata", "units"),
    [
        (0.6, 0.2617),
        (0.8, 0.6534),
        (1.0, 1.0000),
        (1.2, 1.3235),
        (1.6, 1.9286),
        (2.0, 2.4971),
        (2.8, 3.5651),
    ],
)
def test_oxygen_dose_rate_matches_clark_and_lambertsen(po2_ata: float, units: float) -> None:
    # Clark & Lambertsen 1970-71, ((PO2-0.5)/0.5)^0.833: formula VERIFIED, values COMPUTED
    assert rate_per_min(po2_ata) == pytest.approx(units, abs=1e-4)


@pytest.mark.parametrize(
    ("po2_ata", "printed"),
    [(0.6, 0.27), (0.7, 0.47), (0.8, 0.65), (0.9, 0.83), (1.0, 1.00), (1.1, 1.16), (1.2, 1.32)],
)
def test_oxygen_dose_rate_is_within_a_hundredth_of_the_printed_table(
    po2_ata: float, printed: float
) -> None:
    # the rate table seen beside the formula (VERIFIED); its 0.27 at 0.6 is 0.26 by formula
    assert rate_per_min(po2_ata) == pytest.approx(printed, abs=0.0101)


@pytest.mark.parametrize("po2_ata", [0.0, 0.21, 0.5])
def test_no_dose_at_or_below_half_an_atmosphere(po2_ata: float) -> None:
    # same source: zero at or below 0.5 ata
    assert rate_per_min(po2_ata) == 0.0


def test_dose_through_a_change_of_pressure_is_the_integral_of_the_rate() -> None:
    # COMPUTED: a fine sum of the published rate over the same change, 1.6 down to 0.3 ata
    n = 200_000
    fine = sum(rate_per_min(1.6 - (k + 0.5) / n * 1.3) for k in range(n)) * 90.0 / n
    assert dose_of_step(1.6, 0.3, 90.0) == pytest.approx(fine, rel=1e-6)
    assert dose_of_step(0.3, 1.6, 90.0) == pytest.approx(fine, rel=1e-6)


def test_a_stay_of_one_hour_at_one_atmosphere_of_oxygen_is_sixty_units() -> None:
    # the unit's definition: 1 ata for 1 min is 1 unit (Clark & Lambertsen 1970-71)
    step = Step(
        from_bar_abs=1.01325,
        to_bar_abs=1.01325,
        minutes=60.0,
        breathing="oxygen",
        oxygen_fraction=1.0,
    )
    band = PressureBand(saturated_from_bar_abs=1.0, saturated_to_bar_abs=2.0, steps=(step,))
    assert dose_of_band(band) == pytest.approx(60.0, rel=1e-9)


# US Navy Diving Manual Rev 7, Table 13-9, heliox saturation decompression (VERIFIED at second
# hand): ft/h by depth. Used only to check that a table is added up rightly, and that it is refused
# for people out of compressed air.
HELIOX_FSW_PER_H = ((1600, 200, 6), (200, 100, 5), (100, 50, 4), (50, 0, 3))


def test_travel_hours_of_the_heliox_table_add_up_as_computed() -> None:
    # COMPUTED arithmetic on Table 13-9: 27.833 h from 100 fsw to 4 fsw, 114.500 h from 600 fsw
    def hours(start: float, end: float = 4.0) -> float:
        return sum(
            max(min(start, top) - max(end, bottom), 0.0) / rate
            for top, bottom, rate in HELIOX_FSW_PER_H
        )

    assert hours(100.0) == pytest.approx(27.833, abs=0.01)
    assert hours(600.0) == pytest.approx(114.500, abs=0.01)
    # the same hours entered as steps of a schedule are the length of its stay
    bar = [1.013 + fsw * PA_PER_FSW / 1e5 for fsw in (100.0, 50.0, 4.0, 0.0)]
    minutes = (50 / 4 * 60, 46 / 3 * 60, 84.0)
    steps = tuple(
        Step(
            from_bar_abs=high,
            to_bar_abs=low,
            minutes=taken,
            breathing="air",
            oxygen_fraction=0.21,
        )
        for high, low, taken in zip(bar, bar[1:], minutes, strict=False)
    )
    band = PressureBand(saturated_from_bar_abs=1.3, saturated_to_bar_abs=4.5, steps=steps)
    # 80 min at 4 fsw, then to the surface at 1 fsw/min: 84 min (p. 15-34, VERIFIED)
    assert band.hours == pytest.approx(27.833 + 84.0 / 60.0, abs=0.01)


@pytest.mark.parametrize("mixture", ["heliox", "helium", "he-o2", "trimix"])
def test_a_heliox_table_is_refused_for_people_out_of_compressed_air(mixture: str) -> None:
    # TRAP, VERIFIED: a heliox schedule on air or nitrox gave 3 cases in 12 at 40.2 msw
    # (Eckenhoff & Vann 1985, Undersea Biomed Res 12(1) 41-52, PMID 4035817)
    rows = (
        "saturated_from_bar_abs,saturated_to_bar_abs,from_bar_abs,to_bar_abs,minutes,breathing,"
        f"oxygen_fraction,oxygen_l_min\n1.3,4,2.0,1.0,1200,{mixture},0.2,0\n"
    )
    with pytest.raises(InputError, match="compressed air"):
        read_csv(rows, name="t", source="s", approved_by="a", invented=True)
    assert not any("he" in gas for gas in BREATHING)


def test_no_schedule_and_no_rate_is_shipped() -> None:
    from layers.survivors.chambers import schedule

    held = [v for v in vars(schedule).values() if isinstance(v, (Schedule, PressureBand, Step))]
    assert held == []


def test_escape_statement_of_parker_2000() -> None:
    # VERIFIED (abstract): depth < 300 fsw and internal pressure < 11 fsw: risk below 5 %
    assert stated_risk(299.9, 10.9) == "below 5 %"
    assert stated_risk(465.0, 2.9) == ""


def test_oxygen_a_person_burns_in_an_hour_agrees_with_nasa() -> None:
    # NASA RP-1324 (Wieland 1994), 0.84 kg O2 a day, VERIFIED; 24.516 l/h COMPUTED
    from layers.survivors.chambers.chamber import OXYGEN_M3_PERSON_H

    litres = 0.84 / 0.0319988 / 24.0 * 8.314462618 * 273.15 / 101_325.0 * 1000.0
    assert pytest.approx(24.516, abs=1e-3) == OXYGEN_M3_PERSON_H * 1000.0
    assert litres == pytest.approx(24.516, abs=0.01)
    assert math.isfinite(litres)
