"""What every fitter knows: trade facts, each `common practice, no source` unless it says otherwise."""

import pytest

from optiselect.model.catalog import Catalog, Module
from optiselect.model.network import Device, FixedOptic, Link
from optiselect.rules import ALL_RULES, RULE_BY_ID
from optiselect.rules.examples import example
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.standards.transceiver import transceiver
from tests.rules.fitting import SITES, all_breaches, breaches, built_to, copper, fiber, holds, link

PAIR_AND_PATH = [rule.id for rule in ALL_RULES if rule.scope in ("pair", "path") and rule.id != "earthing"]


def works(fitted: FittedLink) -> bool:
    """Whether the pair and the path pass every rule, nothing left unknown."""
    return all(holds(rule_id, fitted) for rule_id in PAIR_AND_PATH)


@pytest.mark.parametrize("rate", ["10M", "100M", "1G"])
def test_copper_ends_at_100_m(rate: str) -> None:
    """Common practice, no source."""
    assert works(link(None, None, copper(100, "Cat5e"), rate=rate))
    assert not works(link(None, None, copper(101, "Cat5e"), rate=rate))


def test_gigabit_on_ordinary_multimode_ends_at_550_m() -> None:
    """Common practice, no source (and IEEE 802.3 Clause 38, Table 38-2)."""
    sx = built_to("1000BASE-SX")
    assert works(link(sx, sx, fiber(550, "OM2")))
    assert not works(link(sx, sx, fiber(551, "OM2")))


def test_a_special_two_strand_multimode_module_carries_gigabit_2_km() -> None:
    """Common practice, no source: sold beyond the standard, by a reach of its own."""
    special = Module(
        part="MM-2KM",
        form="SFP",
        rates=["1G"],
        mode="multimode",
        strands=2,
        connector="LC",
        tx_nm=(1270, 1355),
        rx_nm=(1260, 1360),
        tx_dbm=(-9, -3),
        rx_dbm=(-20, -3),
        reach_m={"OM1": 2000, "OM2": 2000},
    )
    assert works(link(special, special, fiber(2000, "OM2")))
    assert not works(link(special, special, fiber(2001, "OM2")))


@pytest.mark.parametrize(
    "module",
    [module for module in Catalog.open_standard().modules if module.form == "SFP" and transceiver(module, module.rates[0]).strands == 2],
    ids=lambda module: module.part,
)  # type: ignore[index]
def test_a_two_strand_sfp_presents_lc(module: Module) -> None:
    """Common practice, no source."""
    assert module.connector == "LC"


def test_one_strand_needs_opposite_wavelengths() -> None:
    """Common practice, no source (and IEEE 802.3 Clause 59)."""
    d, u = built_to("1000BASE-BX10-D"), built_to("1000BASE-BX10-U")
    assert works(link(d, u, fiber(5000)))
    assert not works(link(d, d, fiber(5000)))
    assert not works(link(u, u, fiber(5000)))


def test_two_strands_take_the_same_part_at_both_ends() -> None:
    """Common practice, no source."""
    lx10 = built_to("1000BASE-LX10")
    assert works(link(lx10, lx10, fiber(5000)))


def test_the_socket_of_a_shared_port_goes_dead_when_its_cage_is_used() -> None:
    """Common practice, no source."""
    shared = {"devices.core.ports.1.kind": "shared", "devices.core.ports.1.copper_rates": ["1G"], "fitted.L2.0.port": "1"}
    assert [breach.rule for breach in all_breaches(example(shared))] == ["port-once"]


def test_a_long_reach_single_pair_module_covers_about_3_km_at_reduced_throughput() -> None:
    """Common practice, no source."""
    single_pair = {
        "form": "SFP",
        "rates": ["100M"],
        "medium": "single-pair",
        "reach_m": {"single-pair": 3000},
        "throughput_mbit_s": {500: 60, 1500: 15, 3000: 4},
    }
    near = Module(part="NEAR", role="near", pairs_with="far", **single_pair)
    far = Module(part="FAR", role="far", pairs_with="near", **single_pair)
    assert works(link(near, far, copper(3000, "single-pair"), throughput_mbit_s=4))
    assert [breach.available for breach in breaches("throughput", link(near, far, copper(3000, "single-pair"), throughput_mbit_s=15))] == [4]
    assert not works(link(near, far, copper(3001, "single-pair")))


def test_100_mbit_s_fixed_optics_with_two_single_mode_strands_reach_20_km() -> None:
    """Common practice, no source: the powers of such an optic are of its kind (-15 to -8 dBm sent, -28 dBm heard)."""
    port = FixedOptic(
        id="1",
        optic={
            "rates": ["100M"],
            "mode": "single-mode",
            "strands": 2,
            "connector": "SC",
            "tx_nm": (1290, 1330),
            "rx_nm": (1260, 1360),
            "tx_dbm": (-14, -8),
            "rx_dbm": (-28, -8),
            "reach_m": {"single-mode": 20_000},
        },
    )

    def over(length_m: float) -> FittedLink:
        plain = link(None, None, fiber(length_m), rate="100M")
        light = transceiver(port.optic, "100M")
        ends = [
            FittedEnd(Device(id=place, site=site.id, ports=(port,)), site, "1", port, "fixed", light)
            for place, site in zip(("core", "gate"), SITES, strict=True)
        ]
        return FittedLink(Asked(Link(id="L1", ends=("core", "gate")), "100M", plain.path, plain.policy), *ends)

    assert works(over(20_000))
    assert not works(over(20_001))
    assert all(holds(rule.id, over(20_000)) for rule in ALL_RULES if rule.scope == "end")


def test_fiber_modules_do_not_negotiate_a_rate() -> None:
    """A 100 Mb/s module in a gigabit-only cage does not link (common practice, no source)."""
    assert [breach.path for breach in all_breaches(example({"fitted.L1.0.module": "DEMO-100-LX10"})) if breach.rule == "rate"] == ["core/1"]


def test_a_module_that_does_both_rates_runs_at_the_ports_setting() -> None:
    """Common practice, no source."""
    dual = Module(
        part="DUAL",
        form="SFP",
        rates=["100M", "1G"],
        mode="single-mode",
        strands=2,
        connector="LC",
        tx_nm=(1290, 1330),
        rx_nm=(1260, 1360),
        tx_dbm=(-9, -3),
        rx_dbm=(-21, -3),
        reach_m={"single-mode": 10_000},
        at_rate={"100M": {"tx_dbm": (-15, -8), "rx_dbm": (-28, -8)}},
    )
    assert works(link(dual, built_to("100BASE-LX10"), fiber(5000), rate="100M"))
    assert works(link(dual, built_to("1000BASE-LX10"), fiber(5000), rate="1G"))


def test_flat_and_angled_never_mate() -> None:
    """Common practice, no source."""
    assert {breach.rule for breach in all_breaches(example(RULE_BY_ID["polish"].breaks))} == {"polish"}
