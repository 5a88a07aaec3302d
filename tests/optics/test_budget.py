"""The light budget of a run, and of a pair of ends."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.model.network import Fiber
from optiselect.model.policy import Policy
from optiselect.optics.budget import available_db, channel_loss_db, length_within_km, margin_db, receive_window_dbm, required_attenuation_db, run_loss_pico
from optiselect.optics.decibels import to_millidecibel
from optiselect.standards.pmd import pmd

DEFAULT = Policy()
O_BAND, C_BAND = (1260.0, 1340.0), (1530.0, 1565.0)


def loss_db(fiber: Fiber, window_nm: tuple[float, float], connections: int = 0, policy: Policy = DEFAULT) -> tuple[float, float]:
    """Least and greatest in dB."""
    found = run_loss_pico(fiber, window_nm, connections, policy)
    assert found is not None
    return to_millidecibel(found[0]) / 1000, to_millidecibel(found[1]) / 1000


def test_a_run_loses_fiber_connections_and_splices_at_most_and_fiber_alone_at_least() -> None:
    run = Fiber(grade="OS2", length_m=1850, strands=12, splices=2)
    assert loss_db(run, O_BAND, 2) == (0.518, 2.84)  # 0.74 + 1.5 + 0.6


def test_10gbase_sr_on_om4_at_400_m_is_exactly_at_its_limit() -> None:
    """1.5 + 0.4 x 3.5 = 2.9 dB against 2.9 dB (IEEE 802.3 Table 52-10): margin 0.000, where binary numbers lose a hair."""
    run = Fiber(grade="OM4", length_m=400, strands=2)
    assert margin_db(2.9, loss_db(run, (840, 860), 2)[1]) == 0.0
    assert run_loss_pico(run, (840, 860), 2, DEFAULT) == (840_000_000_000, 2_900_000_000_000)


def test_a_run_of_no_length_loses_its_connections_only() -> None:
    assert loss_db(Fiber(grade="OS2", length_m=0, strands=2), O_BAND, 2) == (0.0, 1.5)


def test_a_figure_where_the_table_has_none_has_nothing_for_its_least() -> None:
    """Nothing at all, not even the last digit: it is what an overload is held to."""
    run = Fiber(grade="OS2", length_m=1000, strands=2, attenuation_db_km={850: 2.0})
    assert run_loss_pico(run, (845, 855), 0, DEFAULT) == (0, 2_000_000_000_000)


def test_the_policy_sets_the_allowances() -> None:
    policy = Policy(connection_loss_db=0.5, splice_loss_db=0.1, attenuation={"OS2": {"1260-1340": 0.35}})
    assert loss_db(Fiber(grade="OS2", length_m=10_000, strands=2, splices=3), O_BAND, 4, policy) == (2.8, 5.8)  # 3.5 + 2.0 + 0.3


def test_a_measured_loss_replaces_both_extremes() -> None:
    run = Fiber(grade="OS2", length_m=5000, strands=2, splices=9, measured_loss_db={1310: 1.9, 1550: 1.2})
    assert loss_db(run, O_BAND, 4) == (1.9, 1.9)
    assert loss_db(run, C_BAND, 4) == (1.2, 1.2)


def test_a_measured_loss_at_another_wavelength_is_not_used() -> None:
    run = Fiber(grade="OS2", length_m=5000, strands=2, measured_loss_db={1310: 1.9})
    assert loss_db(run, C_BAND) == (0.75, 1.25)


def test_an_own_attenuation_replaces_the_greatest() -> None:
    run = Fiber(grade="OS2", length_m=10_000, strands=2, attenuation_db_km={1310: 0.36})
    assert loss_db(run, O_BAND) == (2.8, 3.6)


def test_an_own_attenuation_below_the_table_is_the_least_too() -> None:
    run = Fiber(grade="OS2", length_m=10_000, strands=2, attenuation_db_km={1310: 0.25})
    assert loss_db(run, O_BAND) == (2.5, 2.5)


def test_where_no_table_reaches_the_loss_is_unknown() -> None:
    assert run_loss_pico(Fiber(grade="OS2", length_m=100, strands=2), (840, 860), 2, DEFAULT) is None


def test_a_measurement_tells_what_no_table_does() -> None:
    run = Fiber(grade="OS2", length_m=100, strands=2, measured_loss_db={850: 1.1})
    assert loss_db(run, (840, 860)) == (1.1, 1.1)


@given(st.sampled_from(["OM3", "OS2", "OS1"]), st.integers(0, 50_000), st.integers(0, 50_000), st.integers(0, 5), st.integers(0, 5))
def test_two_runs_lose_as_much_as_one_of_both_lengths(grade: str, first_m: int, second_m: int, connections: int, splices: int) -> None:
    """Losses add up to the last digit, however a path is cut into runs."""
    window = (1270.0, 1355.0)
    parts = [
        run_loss_pico(Fiber(grade=grade, length_m=length, strands=2, splices=count), window, joints, DEFAULT)  # type: ignore[arg-type]
        for length, count, joints in ((first_m, splices, 0), (second_m, 0, connections))
    ]
    whole = run_loss_pico(Fiber(grade=grade, length_m=first_m + second_m, strands=2, splices=splices), window, connections, DEFAULT)  # type: ignore[arg-type]
    assert tuple(sum(part[side] for part in parts if part) for side in (0, 1)) == whole


def test_lx_sends_to_lx10_with_less_than_lx10_to_lx() -> None:
    """IEEE 802.3 Clauses 38 and 59: -11.0 - (-19.5) - 4.5 = 4.0; -9.0 - (-19.0) - 3.27 = 6.73 dB."""
    lx, lx10 = pmd("1000BASE-LX").figures, pmd("1000BASE-LX10").figures
    assert lx.rx_dbm is not None and lx10.rx_dbm is not None
    assert available_db(lx.tx_dbm["9"][0], lx10.rx_dbm[0], lx10.penalty_db["single-mode"]) == 4.0  # type: ignore[index, call-overload]
    assert available_db(lx10.tx_dbm["9"][0], lx.rx_dbm[0], lx.penalty_db["single-mode"]) == 6.73  # type: ignore[index, call-overload]


@pytest.mark.parametrize(
    ("tx_max_dbm", "rx_overload_dbm", "loss_min_db", "attenuation_db"),
    [
        (4.0, -3.0, 0.0, 7.0),  # a maker's guide: +4 - (-3) = 7 dB (facts got.overload.ex1)
        (5.0, -3.0, 0.0, 8.0),  # another (got.overload.ex2)
        (4.0, -1.0, 0.0, 5.0),  # 10GBASE-ER back to back (got.overload.er)
        (4.0, -3.0, 4.8, 2.2),  # 32 km at the least plausible loss, where the first guide counts on 8 dB
        (4.0, -3.0, 8.0, 0.0),
        (0.5, 0.5, 0.0, 0.0),  # 10GBASE-LR never needs one (got.overload.lr)
    ],
)
def test_what_an_attenuator_must_take_away(tx_max_dbm: float, rx_overload_dbm: float, loss_min_db: float, attenuation_db: float) -> None:
    assert required_attenuation_db(tx_max_dbm, rx_overload_dbm, loss_min_db) == attenuation_db


def test_32_km_at_the_least_plausible_loss() -> None:
    assert loss_db(Fiber(grade="OS2", length_m=32_000, strands=2), C_BAND)[0] == 4.8


def test_what_a_receiver_gets() -> None:
    assert receive_window_dbm((-9.0, -3.0), (0.518, 2.84)) == (-11.84, -3.518)


def test_a_channel_within_its_loss_has_a_margin_and_beyond_it_lacks() -> None:
    assert margin_db(6.0, 5.5) == 0.5
    assert margin_db(6.0, 6.001) == -0.001


def test_a_length_or_count_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        channel_loss_db(-1.0, 0.4)
    with pytest.raises(ValueError, match="above zero"):
        length_within_km(5.0, 1.0, 0.0)


def test_fixed_losses_beyond_the_budget_leave_no_length() -> None:
    assert length_within_km(2.0, 3.0, 0.4) == 0.0


def test_of_two_own_figures_the_greatest_loss_takes_the_greater_and_the_least_the_smaller() -> None:
    own = Fiber(grade="OS2", length_m=1000, strands=2, attenuation_db_km={1300: 0.1, 1320: 0.33})
    assert loss_db(own, (1270.0, 1355.0)) == (0.1, 0.33)


def test_allowances_that_are_not_stated_are_those_of_the_cabling_standard() -> None:
    """TIA-568.3: 0.75 dB a connection, 0.3 dB a splice; nothing is lost on no path."""
    assert channel_loss_db(0.0, 0.4, connections=2, splices=1) == 1.8
    assert channel_loss_db(1.0, 0.4) == 0.4
    assert required_attenuation_db(4.0, -3.0) == 7.0


def test_of_two_readings_the_greatest_loss_takes_the_greater() -> None:
    assert loss_db(Fiber(grade="OS2", length_m=1000, strands=2, measured_loss_db={1300: 1.2, 1320: 1.5}), (1270.0, 1355.0)) == (1.2, 1.5)
