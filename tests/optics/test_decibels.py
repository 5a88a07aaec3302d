"""Decibels against an independent unit library (pint), and the exactness of sums."""

from decimal import Decimal

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from optiselect.optics.decibels import (
    average_to_oma,
    dbm_of_mw,
    micro,
    milli,
    millimetres,
    mw_of_dbm,
    oma_to_average,
    product_db,
    ratio_db,
    rounded_db,
    sum_db,
    to_millidecibel,
)

UNITS = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
DECIMALS = st.decimals(min_value=-1000, max_value=1000, places=6, allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize("level_dbm", [-45.0, -31.0, -14.4, -3.0, 0.0, 0.5, 4.0, 10.5])
def test_a_level_is_the_power_that_pint_gives(level_dbm: float) -> None:
    assert mw_of_dbm(level_dbm) == pytest.approx(UNITS.Quantity(level_dbm, "dBm").to("mW").magnitude, rel=1e-12)


@pytest.mark.parametrize("power_mw", [1e-4, 0.1, 0.5, 1.0, 2.0, 15.6])
def test_a_power_is_the_level_that_pint_gives(power_mw: float) -> None:
    assert dbm_of_mw(power_mw) == pytest.approx(UNITS.Quantity(power_mw, "mW").to("dBm").magnitude, abs=1e-12)


def test_a_ratio_is_the_loss_that_pint_gives() -> None:
    assert ratio_db(1.0, 0.25) == pytest.approx(-UNITS.Quantity(0.25, "").to("dB").magnitude, abs=1e-12)


@pytest.mark.parametrize("power_mw", [0.0, -1.0, float("nan")])
def test_no_light_has_no_level(power_mw: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        dbm_of_mw(power_mw)
    with pytest.raises(ValueError, match="above zero"):
        ratio_db(1.0, power_mw)


def test_average_power_and_modulation_amplitude() -> None:
    """OMA 0.031 mW with an extinction ratio of 9 dB is -17 dBm (a maker's handbook on FC-PI; facts got.oma-er)."""
    assert oma_to_average(dbm_of_mw(0.031), 9.0) == pytest.approx(-17.0, abs=0.05)


@given(st.floats(-30, 10), st.floats(0.5, 20))
def test_the_two_scales_convert_back(level_dbm: float, extinction_ratio_db: float) -> None:
    """OMA and average power are each other's inverse at one extinction ratio."""
    assert average_to_oma(oma_to_average(level_dbm, extinction_ratio_db), extinction_ratio_db) == pytest.approx(level_dbm, abs=1e-9)


def test_an_extinction_ratio_is_above_0_db() -> None:
    with pytest.raises(ValueError, match="extinction ratio"):
        oma_to_average(-5.0, 0.0)


@pytest.mark.parametrize(
    ("value", "thousandths"), [(0.0005, 1), (-0.0005, -1), (0.0004999, 0), (2.9, 2900), (1.0005, 1001), (-8.2, -8200), (1e-9, 0), (12, 12000)]
)
def test_halves_go_away_from_zero(value: float, thousandths: int) -> None:
    """1.0005 is below its half in binary; it is rounded as it is written."""
    assert milli(value) == thousandths


@pytest.mark.parametrize(
    ("pico", "thousandths"), [(0, 0), (499_999_999, 0), (500_000_000, 1), (-500_000_000, -1), (-499_999_999, 0), (2_900_000_000_000, 2900)]
)
def test_a_sum_of_runs_is_rounded_once(pico: int, thousandths: int) -> None:
    assert (to_millidecibel(pico), type(to_millidecibel(pico))) == (thousandths, int)


def test_nothing_is_lost_where_binary_numbers_lose() -> None:
    assert sum_db(0.1, 0.2) == 0.3
    assert sum_db(product_db(0.4, 3.5), 1.5) == 2.9
    assert rounded_db(-0.0001) == 0.0


@given(DECIMALS)
def test_micro_is_exact_to_six_places(value: Decimal) -> None:
    """A figure written with six decimals keeps them all."""
    assert micro(float(value)) == int(value * 1_000_000)


@pytest.mark.parametrize("value", [float("inf"), float("nan")])
def test_only_finite_figures_are_rounded(value: float) -> None:
    with pytest.raises((ValueError, OverflowError, ArithmeticError)):
        milli(value)


@pytest.mark.parametrize("powers_mw", [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0)])
def test_a_ratio_needs_powers_above_zero(powers_mw: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        ratio_db(*powers_mw)


@given(st.one_of(st.floats(0, 1e6), st.floats(-1e13, 1e13), st.decimals(0, 100_000, places=4).map(float), st.integers(0, 10**15).map(float)))
@example(0.0005)
@example(1.0005)
@example(549.9994999)
@example(2.0**50 + 0.25)
def test_a_length_in_whole_millimetres_is_what_its_thousandths_are(length_m: float) -> None:
    assert millimetres(length_m) == milli(length_m)
