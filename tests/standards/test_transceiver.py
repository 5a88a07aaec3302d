"""An optic's figures at one rate: its own first, its standard's where it states none."""

import pytest

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Module, Optics
from optiselect.standards.transceiver import transceiver

LX10 = Module(part="STD-LX10", standard="1000BASE-LX10", form="SFP", connector="LC")
LONG = Module(
    part="DEMO-1G-40",
    standard="1000BASE-LX10",
    form="SFP",
    tx_dbm=(-4.0, 1.0),
    rx_dbm=(-24.0, -3.0),
    reach_m={"single-mode": 40_000},
    channel_loss_db={"single-mode": 18.0},
)
DUAL = Module(
    part="DEMO-DUAL",
    standard="1000BASE-LX10",
    form="SFP",
    rates=("100M", "1G"),
    at_rate={"100M": {"tx_dbm": (-15, -8), "rx_dbm": (-25, -8), "tx_nm": (1260, 1360), "rx_nm": (1260, 1360)}},
)


def test_a_standard_fills_what_is_not_given() -> None:
    light = transceiver(LX10, "1G")
    assert (light.medium, light.mode, light.strands, light.rates) == ("fiber", "single-mode", 2, ("1G",))
    assert (light.tx_nm, light.rx_dbm, light.tx_dbm("9")) == ((1260, 1360), (-19.5, -3.0), (-9.0, -3.0))
    assert (light.channel_loss_for("OS2"), light.penalty_for("OS2", own=False), light.penalty_for("OS2", own=True)) == (6.0, 4.5, None)
    assert not light.own_powers and not light.own_sensitivity


def test_the_launch_depends_on_the_core() -> None:
    """1000BASE-LX10 launches -9 dBm into single-mode and -11.5 dBm into multimode (IEEE 802.3 Clause 59, from memory)."""
    light = transceiver(LX10, "1G")
    assert [light.tx_dbm(core) for core in ("9", "50", "62.5")] == [(-9.0, -3.0), (-11.5, -3.0), (-11.5, -3.0)]


def test_100base_fx_states_no_launch_into_single_mode() -> None:
    assert transceiver(Optics(standard="100BASE-FX"), "100M").tx_dbm("9") is None


def test_a_part_with_powers_of_its_own_is_computed() -> None:
    """Neither its own nor its standard's channel loss counts, and the standard's penalty stays with the standard's sensitivity."""
    light = transceiver(LONG, "1G")
    assert (light.own_powers, light.own_sensitivity, light.channel_loss_db) == (True, True, None)
    assert (light.penalty_db, light.standard_penalty_db is not None) == (None, True)
    assert light.reach_for("OS2") == 40_000


def test_a_part_that_states_only_its_launch_keeps_the_standards_sensitivity() -> None:
    light = transceiver(Module(part="A", standard="1000BASE-LX10", tx_dbm=(-6.0, -3.0)), "1G")
    assert (light.own_powers, light.own_sensitivity, light.rx_dbm) == (True, False, (-19.5, -3.0))


def test_a_plain_launch_power_holds_for_every_core() -> None:
    light = transceiver(LONG, "1G")
    assert {light.tx_dbm(core) for core in ("9", "50", "62.5")} == {(-4.0, 1.0)}


def test_at_its_other_rate_a_module_has_its_other_figures() -> None:
    light = transceiver(DUAL, "100M")
    assert (light.tx_dbm("9"), light.rx_dbm, light.standard, light.channel_loss_db) == ((-15, -8), (-25, -8), None, None)
    assert (light.medium, light.mode, light.strands) == ("fiber", "single-mode", 2)


def test_a_standard_of_another_rate_gives_no_figures() -> None:
    light = transceiver(Module(part="A", standard="1000BASE-LX10", rates=("100M", "1G")), "100M")
    assert (light.standard, light.family, light.tx_dbm_by_core, light.rx_dbm, light.reach_m) == (None, None, None, None, None)


def test_at_rate_may_name_a_standard_of_its_own() -> None:
    light = transceiver(Module(part="A", standard="1000BASE-LX10", rates=("100M", "1G"), at_rate={"100M": {"standard": "100BASE-LX10"}}), "100M")
    assert (light.standard, light.tx_dbm("9"), light.own_powers, light.channel_loss_for("OS2")) == ("100BASE-LX10", (-15.0, -8.0), False, 6.0)


def test_the_standard_named_for_a_rate_outranks_what_is_stated_for_the_other() -> None:
    part = Module(part="A", standard="1000BASE-LX10", rates=("100M", "1G"), tx_dbm=(-6, -3), rx_dbm=(-22, -3), at_rate={"100M": {"standard": "100BASE-LX10"}})
    assert transceiver(part, "100M").rx_dbm == (-25.0, -8.0)
    assert transceiver(part, "1G").rx_dbm == (-22, -3)


@pytest.mark.parametrize(
    ("grade", "reach_m"),
    [("62.5/160/500", 26), ("OM1", 33), ("50/400/400", 66), ("OM2", 82), ("OM3", 300), ("OM4", 400), ("OM5", 400), ("OS2", None)],
)
def test_a_grade_takes_the_figure_of_the_next_lower_one_never_of_a_higher(grade: str, reach_m: float | None) -> None:
    """10GBASE-SR, IEEE 802.3 Table 52-6; OM5 is not named there and takes OM4's."""
    assert transceiver(Optics(standard="10GBASE-SR"), "10G").reach_for(grade) == reach_m  # type: ignore[arg-type]


def test_25gbase_sr_is_not_supported_below_om3() -> None:
    light = transceiver(Optics(standard="25GBASE-SR"), "25G")
    assert (light.reach_for("OM2"), light.reach_m is None) == (None, False)


def test_a_penalty_goes_by_grade() -> None:
    """1000BASE-SX: 4.29 dB on OM1, 3.57 dB on OM2 and better (IEEE 802.3 Table 38-5)."""
    light = transceiver(Optics(standard="1000BASE-SX"), "1G")
    assert [light.penalty_for(grade, own=False) for grade in ("OM1", "OM2", "OM4")] == [4.29, 3.57, 3.57]


def test_copper_reach_goes_by_category() -> None:
    light = transceiver(Optics(standard="10GBASE-T"), "10G")
    assert [light.reach_for(category) for category in ("Cat5e", "Cat6", "Cat6A")] == [None, 55, 100]
    assert light.medium == "copper"


def test_an_optic_with_wavelengths_and_no_standard_is_of_fiber() -> None:
    assert transceiver(Optics(tx_nm=(1260, 1360), rates=("1G",)), "1G").medium == "fiber"


def test_an_optic_of_which_nothing_is_stated_is_of_no_known_medium() -> None:
    assert transceiver(Optics(rates=("1G",)), "1G").medium is None


def test_a_standard_that_is_not_known_is_an_error() -> None:
    with pytest.raises(UnknownNameError, match="1000BASE-ZX"):
        transceiver(Optics(standard="1000BASE-ZX"), "1G")


def test_a_transceiver_can_be_a_key() -> None:
    assert len({transceiver(LX10, "1G"), transceiver(LONG, "1G"), transceiver(LX10, "1G")}) == 2


def test_what_the_standard_of_a_rate_leaves_open_is_what_the_part_states() -> None:
    """IEEE 802.3 gives 10GBASE-LR no tolerance of dispersion."""
    module = Module(part="DEMO-FAR", form="SFP", at_rate={"10G": {"standard": "10GBASE-LR"}}, dispersion_ps_nm=800)
    assert transceiver(module, "10G").dispersion_ps_nm == 800
