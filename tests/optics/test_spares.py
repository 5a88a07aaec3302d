"""Spares by the exact Poisson distribution, against SciPy and the examples in print."""

from math import exp, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from optiselect.optics.spares import expected_failures, probability_covered, spares_needed


@given(st.integers(0, 60), st.floats(0, 80))
def test_what_spares_cover_is_the_distribution_of_scipy(spares: int, mean: float) -> None:
    """P(failures <= k) is the Poisson distribution function."""
    assert probability_covered(spares, mean) == pytest.approx(float(poisson.cdf(spares, mean)), abs=1e-12)


@given(st.integers(1, 5000), st.floats(1, 20_000), st.sampled_from([24.0, 720.0, 2160.0, 8760.0]), st.sampled_from([0.5, 0.9, 0.95, 0.99, 0.999]))
def test_the_spares_needed_are_the_quantile_of_scipy(units: int, fit: float, hours: float, level: float) -> None:
    """The least k that reaches the level."""
    assert spares_needed(units, fit, hours, level) == int(poisson.ppf(level, units * fit * 1e-9 * hours))


@pytest.mark.parametrize("mean", [2_000.0, 50_000.0])
def test_a_great_many_failures_do_not_underflow(mean: float) -> None:
    assert spares_needed(1, mean * 1e9, 1.0, 0.95) == int(poisson.ppf(0.95, mean))


def test_a_level_out_of_reach_of_the_numbers_still_ends() -> None:
    assert spares_needed(10, 1000.0, 720.0, 1 - 2**-53) < 30


def test_four_spares_for_400_hours() -> None:
    """m = 400 h x 0.003534 per hour at 95 %: 4 spares (statistics question; facts spares.example1: P(<=3) = 0.9447, P(<=4) = 0.9852)."""
    assert spares_needed(1, 0.003534e9, 400.0, 0.95) == 4
    assert probability_covered(3, 1.4136) == pytest.approx(0.9447, abs=5e-5)
    assert probability_covered(4, 1.4136) == pytest.approx(0.9852, abs=5e-5)


def test_a_common_pool_needs_12_where_separate_ones_need_17() -> None:
    """A textbook problem after Barlow and Proschan 1981 (facts spares.example2): m = 8 pooled; 2.6, 3.0 and 2.4 apart."""
    assert spares_needed(1, 8e9, 1.0, 0.9) == 12
    apart = [probability_covered(k, mean) for k, mean in ((6, 2.6), (6, 3.0), (5, 2.4))]
    assert apart[0] * apart[1] * apart[2] == pytest.approx(0.9160, abs=5e-5)


def test_what_cannot_fail_needs_no_spare() -> None:
    assert (spares_needed(0, 300.0, 720.0, 0.99), spares_needed(50, 0.0, 720.0, 0.99)) == (0, 0)
    assert probability_covered(0, 0.0) == 1.0
    assert probability_covered(-1, 1.0) == 0.0


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1])
def test_a_service_level_lies_between_0_and_1(level: float) -> None:
    with pytest.raises(ValueError, match="service level"):
        spares_needed(10, 300.0, 720.0, level)


def test_negative_figures_are_refused() -> None:
    with pytest.raises(ValueError, match="not negative"):
        expected_failures(-1, 300.0, 720.0)
    with pytest.raises(ValueError, match="not negative"):
        probability_covered(1, -0.5)


def test_a_level_that_is_met_exactly_is_met() -> None:
    """P(no failure) at a mean of 1 is 1/e: no spare gives just that."""
    assert spares_needed(1, 1e9, 1.0, exp(-1)) == 0
    assert spares_needed(1, 1e9, 1.0, exp(-1) * (1 + 1e-12)) == 1


def test_no_time_no_failure_and_certainty_is_no_more_than_1() -> None:
    """A sum of 60 rounded terms may come out a hair above 1."""
    assert expected_failures(10, 300.0, 0.0) == 0.0
    assert max(probability_covered(60, mean / 7) for mean in range(1, 70)) == 1.0


def test_figures_below_1_are_figures() -> None:
    assert expected_failures(10, 0.5, 0.25) == pytest.approx(1.25e-9)
    assert probability_covered(0, 0.5) == pytest.approx(exp(-0.5))


@pytest.mark.parametrize("figures", [(1, inf, 1.0), (1, 1.0, inf), (1, -1.0, 1.0), (1, 1.0, -1.0), (-1, 1.0, 1.0)])
def test_figures_without_bound_are_refused(figures: tuple[int, float, float]) -> None:
    with pytest.raises(ValueError, match="finite"):
        expected_failures(*figures)


def test_a_mean_without_bound_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        probability_covered(1, inf)


@pytest.mark.parametrize("level", [0.01, 0.5, 0.999])
@pytest.mark.parametrize("mean", [1590.0, 1600.0, 1610.0, 2500.0, 40_000.0, 350_400.0])
def test_terms_far_below_a_great_mean_need_not_be_added(mean: float, level: float) -> None:
    """40 units of the most failures that a document can state, over 100 years, are the last; SciPy has the same quantiles."""
    assert spares_needed(1, mean * 1e6, 1000.0, level) == int(poisson.ppf(level, mean))
