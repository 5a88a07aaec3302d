"""Published reach, dispersion, copper, and what still passes."""

from math import inf
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.model.catalog import Module
from optiselect.model.terms import LADDERS
from optiselect.optics.dispersion import worst_dispersion_ps_nm_km
from optiselect.rules.distance import (
    NO_LIMIT,
    NOT_SUPPORTED,
    Limit,
    copper_limit_m,
    dispersion_limit_m,
    pair_reach_m,
    rate_mbit_s,
    reach_limit_m,
    throughput_at,
)
from optiselect.standards.transceiver import transceiver
from tests.rules.fitting import breaches, built_to, copper, fiber, holds, light, link, sentences

PAIR = {"form": "SFP", "rates": ["100M"], "medium": "single-pair"}
SLOWING = Module(part="SLOW", reach_m={"single-pair": 3000}, throughput_mbit_s={500: 60, 1500: 15, 3000: 4}, **PAIR)

# Published reach


@pytest.mark.parametrize(
    ("standard", "grade", "metres"),
    [
        ("1000BASE-SX", "62.5/160/500", 220),  # IEEE 802.3 Clause 38, Table 38-2
        ("1000BASE-SX", "OM1", 275),
        ("1000BASE-SX", "50/400/400", 500),
        ("1000BASE-SX", "OM2", 550),
        ("1000BASE-SX", "OM4", 550),  # no reach of its own: that of the grade below
        ("1000BASE-LX", "OM2", 550),  # IEEE 802.3 Clause 38, Table 38-6
        ("1000BASE-LX", "OS2", 5000),
        ("10GBASE-SR", "62.5/160/500", 26),  # IEEE 802.3 Clause 52, Table 52-6
        ("10GBASE-SR", "OM1", 33),
        ("10GBASE-SR", "50/400/400", 66),
        ("10GBASE-SR", "OM2", 82),
        ("10GBASE-SR", "OM3", 300),
        ("10GBASE-SR", "OM4", 400),
        ("10GBASE-SR", "OM5", 400),
        ("10GBASE-LRM", "OM3", 220),  # IEEE 802.3 Clause 68, Table 68-2
        ("10GBASE-LRM", "50/400/400", 100),
        ("100BASE-FX", "OM1", 2000),  # IEEE 802.3 Clause 26
    ],
)
def test_reach_by_grade(standard: str, grade: str, metres: float) -> None:
    module = built_to(standard)
    assert reach_limit_m(light(standard), (grade,)) == Limit(metres)  # type: ignore[arg-type]
    assert holds("reach", link(module, module, fiber(metres, grade)))
    assert not holds("reach", link(module, module, fiber(metres + 1, grade)))


@pytest.mark.parametrize("ladder", LADDERS, ids=lambda ladder: ladder[0])
@pytest.mark.parametrize("standard", ["1000BASE-SX", "1000BASE-LX", "10GBASE-SR", "10GBASE-LRM", "25GBASE-SR", "100BASE-FX", "1000BASE-LX10"])
def test_a_better_grade_never_reaches_less(standard: str, ladder: tuple[Any, ...]) -> None:
    reaches = [reach_limit_m(light(standard), (grade,)).value or 0.0 for grade in ladder]
    assert reaches == sorted(reaches, reverse=True)


def test_a_grade_never_takes_the_figure_of_a_higher_one() -> None:
    """25GBASE-SR is published from OM3 on (IEEE 802.3 Clause 112): nothing on OM2."""
    sr = built_to("25GBASE-SR")
    assert reach_limit_m(light("25GBASE-SR"), ("OM2",)) == NOT_SUPPORTED
    assert sentences("reach", link(sr, sr, fiber(10, "OM2")))[0] == "core/1: R1 is 10 m long, and no reach on OM2 is published for 25GBASE-SR module"


def test_a_path_of_several_grades_reaches_as_far_as_the_least() -> None:
    """10GBASE-SR: 300 m on OM3, 400 m on OM4."""
    sr = built_to("10GBASE-SR")
    assert reach_limit_m(light("10GBASE-SR"), ("OM3", "OM4")) == Limit(300)
    assert sentences("reach", link(sr, sr, fiber(200, "OM3"), fiber(150, "OM4")))[0] == (
        "core/1: R1, R2 are 350 m long, and 10GBASE-SR module reaches 300 m on OM3, OM4"
    )


def test_the_reach_of_both_ends_counts() -> None:
    """LX with LX10: 5 km, the lesser."""
    lx, lx10 = built_to("1000BASE-LX"), built_to("1000BASE-LX10")
    mixed = link(lx, lx10, fiber(5001))
    assert pair_reach_m(light("1000BASE-LX"), light("1000BASE-LX10"), mixed.path) == Limit(5000)
    assert [breach.path for breach in breaches("reach", mixed)] == ["core/1"]


@pytest.mark.parametrize(
    ("grade", "measured", "metres"),
    [
        ("OM1", {850: 220}, 275),  # 220 MHz km on 62.5 um meet the row of 200
        ("OM1", {850: 160}, 220),
        ("OM2", {850: 450}, 500),
        ("OM1", {1300: 500}, 275),  # measured elsewhere: says nothing at 850 nm
    ],
)
def test_a_measured_bandwidth_takes_the_row_that_it_meets(grade: str, measured: dict[float, float], metres: float) -> None:
    """IEEE 802.3 Clause 38, Table 38-2: rows by core and modal bandwidth; looked up, never scaled."""
    sx = built_to("1000BASE-SX")
    assert holds("reach", link(sx, sx, fiber(metres, grade, modal_bandwidth_mhz_km=measured)))
    assert not holds("reach", link(sx, sx, fiber(metres + 1, grade, modal_bandwidth_mhz_km=measured)))


def test_a_bandwidth_below_every_row_is_not_supported() -> None:
    sx = built_to("1000BASE-SX")
    poor = link(sx, sx, fiber(10, "OM1", modal_bandwidth_mhz_km={850: 120}))
    assert sentences("reach", poor)[0] == "core/1: R1 is 10 m long, and no reach on a fiber of that modal bandwidth is published for 1000BASE-SX module"


def test_a_reach_that_is_not_stated_is_unknown() -> None:
    own = Module(part="BARE", form="SFP", rates=["1G"], mode="single-mode", strands=2, connector="LC", tx_nm=(1260, 1360), rx_nm=(1260, 1360))
    assert {(breach.unknown, breach.available) for breach in breaches("reach", link(own, own, fiber(1)))} == {(True, "the published reach of BARE")}


def test_a_reach_of_0_m_is_a_limit_and_not_a_refusal() -> None:
    zero = built_to("1000BASE-LX10", reach_m={"single-mode": 0})
    assert reach_limit_m(transceiver(zero, "1G"), ("OS2",)) == Limit(0) != NOT_SUPPORTED
    assert holds("reach", link(zero, zero, fiber(0)))


def test_tenths_of_metres_add_up() -> None:
    sx = built_to("1000BASE-SX")
    assert holds("reach", link(sx, sx, fiber(100.1, "OM2"), fiber(200.2, "OM2"), fiber(249.7, "OM2")))


# Dispersion


@pytest.mark.parametrize(
    ("tx_nm", "ps_nm", "km"),
    [
        ((1550, 1550), 800, 44.42),  # 18.01 ps/(nm km) at 1550 (ITU-T G.652, Table 2 and formula)
        ((1310, 1310), 91, 69.52),  # -1.309 with the zero at 1324 (by the formula), worse than 0.91 with it at 1300
        ((1260, 1260), 63.5, 10.0),  # -6.35 at 1260, the zero at 1324
    ],
)
def test_dispersion_ends_where_the_tolerance_does(tx_nm: tuple[float, float], ps_nm: float, km: float) -> None:
    sender = light("10GBASE-LR", tx_nm=tx_nm, dispersion_ps_nm=ps_nm)
    assert dispersion_limit_m(sender, ("OS2",)).value == pytest.approx(km * 1000, rel=2e-3)


def test_only_the_senders_tolerance_counts() -> None:
    weak, strong = built_to("10GBASE-LR", part="weak", dispersion_ps_nm=10), built_to("10GBASE-LR", part="strong", dispersion_ps_nm=100)
    assert [breach.path for breach in breaches("dispersion", link(weak, strong, fiber(5000)))] == ["core/1 to gate/1"]


def test_below_10_gbit_s_the_published_reach_stands_for_it() -> None:
    assert dispersion_limit_m(light("1000BASE-LX10"), ("OS2",)) == NO_LIMIT


def test_from_10_gbit_s_on_it_is_unknown_beyond_the_standards_reach() -> None:
    far = built_to("10GBASE-LR", reach_m={"single-mode": 20_000})
    assert dispersion_limit_m(light("10GBASE-LR"), ("OS2",)) == Limit(10_000, "dispersion tolerance")
    assert holds("dispersion", link(far, far, fiber(10_000)))
    found = breaches("dispersion", link(far, far, fiber(10_001)))
    assert {(breach.unknown, breach.available) for breach in found} == {(True, "the dispersion tolerance of 10GBASE-LR module")}


def test_without_a_standard_it_is_unknown_at_once() -> None:
    own = Module(part="OWN", form="SFP+", rates=["10G"], mode="single-mode", strands=2, connector="LC", tx_nm=(1300, 1320), reach_m={"single-mode": 10_000})
    assert dispersion_limit_m(transceiver(own, "10G"), ("OS2",)) == Limit(0.0, "dispersion tolerance")


def test_dispersion_of_an_unknown_wavelength_is_unknown_from_the_first_metre_on() -> None:
    assert dispersion_limit_m(transceiver(Module(part="X", form="SFP+", rates=["10G"], dispersion_ps_nm=800), "10G"), ("OS2",)) == Limit(0.0, "sent wavelength")


def test_dispersion_is_told_to_a_thousandth() -> None:
    weak, strong = built_to("10GBASE-LR", part="weak", dispersion_ps_nm=10), built_to("10GBASE-LR", part="strong", dispersion_ps_nm=100)
    (breach,) = breaches("dispersion", link(weak, strong, fiber(5001.234)))
    assert breach.required == pytest.approx(worst_dispersion_ps_nm_km(light("10GBASE-LR").tx_nm) * 5.001234, abs=0.0005)
    assert breach.required == round(breach.required, 3)
    assert breach.facts["limit_m"] == round(dispersion_limit_m(light("10GBASE-LR", dispersion_ps_nm=10), ("OS2",)).value, 3)


def test_multimode_has_no_limit_by_chromatic_dispersion() -> None:
    assert dispersion_limit_m(light("10GBASE-SR"), ("OM4",)).value == inf


# Copper


@pytest.mark.parametrize(
    ("rate", "category", "metres"),
    [
        ("10M", "Cat5e", 100),
        ("100M", "Cat5e", 100),  # IEEE 802.3 Clause 25
        ("1G", "Cat5e", 100),  # IEEE 802.3 Clause 40
        ("1G", "Cat6A", 100),
        ("2.5G", "Cat5e", 100),  # IEEE 802.3 Clause 126, from memory
        ("5G", "Cat6", 100),
        ("10G", "Cat6", 55),  # IEEE 802.3 Clause 55; TSB-155
        ("10G", "Cat6A", 100),
    ],
)
def test_copper_reach(rate: str, category: str, metres: float) -> None:
    assert copper_limit_m(None, None, rate, category) == Limit(metres)  # type: ignore[arg-type]
    assert holds("copper-reach", link(None, None, copper(metres, category), rate=rate))
    assert not holds("copper-reach", link(None, None, copper(metres + 1, category), rate=rate))


@pytest.mark.parametrize(("rate", "category"), [("10G", "Cat5e"), ("25G", "Cat6A")])
def test_copper_that_no_standard_supports(rate: str, category: str) -> None:
    assert copper_limit_m(None, None, rate, category) == NOT_SUPPORTED  # type: ignore[arg-type]
    assert [breach.available for breach in breaches("copper-reach", link(None, None, copper(1, category), rate=rate))] == [0.0, 0.0]


def test_a_10_gbit_s_copper_module_reaches_less_than_the_socket() -> None:
    """10GBASE-T in an SFP+ commonly 30 m (facts copper.10gbase-t-sfp, trade)."""
    module = built_to("10GBASE-T", form="SFP+", connector="RJ45", reach_m={"Cat6": 30, "Cat6A": 30})
    assert copper_limit_m(transceiver(module, "10G"), None, "10G", "Cat6A") == Limit(30)
    assert sentences("copper-reach", link(module, None, copper(31, "Cat6A"), rate="10G")) == [
        "core/1: R1 is 31 m long, and 10GBASE-T module reaches 30 m on Cat6A at 10G"
    ]


def test_a_cable_of_unknown_category_is_unknown() -> None:
    assert copper_limit_m(None, None, "1G", "twisted-pair") == Limit(None, "category of the cable")


def test_a_known_end_still_limits_beside_an_unknown_one() -> None:
    bare = Module(part="BARE", form="SFP", rates=["1G"], medium="copper", connector="RJ45")
    assert copper_limit_m(transceiver(bare, "1G"), None, "1G", "Cat6") == Limit(100, "published reach")
    found = breaches("copper-reach", link(bare, None, copper(101, "Cat6"), rate="1G"))
    assert [(breach.path, breach.unknown) for breach in found] == [("core/1", True), ("gate/1", False)]


# What passes


@pytest.mark.parametrize(("length_m", "mbit_s"), [(0, 60), (500, 60), (501, 15), (1500, 15), (3000, 4), (3001, 0)])
def test_what_passes_at_a_length(length_m: float, mbit_s: float) -> None:
    assert throughput_at(transceiver(SLOWING, "100M"), length_m) == mbit_s


def test_what_does_not_slow_passes_its_rate() -> None:
    assert throughput_at(light("1000BASE-LX10"), 9000) is None
    assert throughput_at(None, 90) is None


@pytest.mark.parametrize(("wanted", "length_m", "enough"), [(15, 1500, True), (15.1, 1500, False), (None, 3000, True), (None, 3001, False), (4, 3000, True)])
def test_what_is_needed_must_pass(wanted: float | None, length_m: float, enough: bool) -> None:
    fitted = link(SLOWING, SLOWING, copper(length_m, "single-pair"), throughput_mbit_s=wanted)
    assert holds("throughput", fitted) is enough


def test_no_link_passes_more_than_its_rate() -> None:
    lx10 = built_to("1000BASE-LX10")
    assert sentences("throughput", link(lx10, lx10, fiber(100), throughput_mbit_s=1200)) == [
        "core/1 to gate/1: 1200 Mbit/s must pass, and 1000BASE-LX10 module passes 1000 Mbit/s at 100 m"
    ]


@pytest.mark.parametrize(("rate", "mbit_s"), [("10M", 10), ("100M", 100), ("2.5G", 2500), ("100G", 100_000)])
def test_a_rate_in_mbit_s(rate: str, mbit_s: float) -> None:
    assert rate_mbit_s(rate) == mbit_s  # type: ignore[arg-type]


# The limit and the check are one


@given(
    length_m=st.floats(0, 30_000),
    standards=st.tuples(*[st.sampled_from(["1000BASE-LX", "1000BASE-LX10", "1000BASE-SX"])] * 2),
    grade=st.sampled_from(["OS2", "OM1", "OM2", "OM3"]),
)
def test_the_limit_of_a_pair_is_where_its_check_turns(length_m: float, standards: tuple[str, str], grade: str) -> None:
    """For every pair that its modes allow: the reach rule holds if and only if the length is within `pair_reach_m`."""
    fitted = link(built_to(standards[0]), built_to(standards[1]), fiber(round(length_m, 3), grade))
    limit = pair_reach_m(light(standards[0]), light(standards[1]), fitted.path)
    within = limit.value is not None and fitted.path.length_m <= limit.value
    assert within == (holds("reach", fitted) and holds("fiber-mode", fitted))
