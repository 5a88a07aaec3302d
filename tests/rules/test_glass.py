"""Mode, core, strands, wavelengths and roles."""

from typing import Any

import pytest

from optiselect.model.catalog import Cord, Module
from tests.rules.fitting import breaches, built_to, copper, fiber, holds, link, sentences


def sending(tx_nm: tuple[float, float], rx_nm: tuple[float, float], **own: Any) -> Module:
    """A single-strand module of its own plan."""
    return Module(
        **{
            "part": f"B{tx_nm[0]:g}",
            "form": "SFP",
            "rates": ["1G"],
            "mode": "single-mode",
            "strands": 1,
            "connector": "LC",
            "tx_nm": tx_nm,
            "rx_nm": rx_nm,
            **own,
        }
    )


# Mode and core


@pytest.mark.parametrize(
    ("standard", "grade", "carried"),
    [
        ("1000BASE-LX10", "OS2", True),
        ("1000BASE-LX10", "OS1", True),
        ("1000BASE-LX10", "OM2", True),  # a reach of 550 m is published for it (IEEE 802.3 Clause 59, from memory)
        ("1000BASE-LX", "OM1", True),  # IEEE 802.3 Clause 38, Table 38-6
        ("1000BASE-LX", "OM3", True),  # by the row of OM2, the next lower of its core
        ("10GBASE-LRM", "OM1", True),  # IEEE 802.3 Clause 68, Table 68-2
        ("10GBASE-LR", "OM3", False),
        ("1000BASE-SX", "OS2", False),
        ("100BASE-FX", "OS2", False),
    ],
)
def test_which_glass_carries_which_light(standard: str, grade: str, carried: bool) -> None:
    module = built_to(standard)
    assert holds("fiber-mode", link(module, module, fiber(100, grade))) is carried


def test_what_the_mode_refuses_is_said_once() -> None:
    """No second finding on reach or light for the same cause."""
    sx = built_to("1000BASE-SX")
    refused = link(sx, sx, fiber(100))
    assert sentences("fiber-mode", refused) == [
        "core/1: 1000BASE-SX module is multimode, and R1 is single-mode fiber (OS2)",
        "gate/1: 1000BASE-SX module is multimode, and R1 is single-mode fiber (OS2)",
    ]
    assert [breaches(rule, refused) for rule in ("reach", "dispersion", "light-budget", "overload")] == [[], [], [], []]


def test_a_single_mode_run_behind_a_multimode_one_is_refused() -> None:
    lx = built_to("1000BASE-LX")
    assert sentences("fiber-mode", link(lx, lx, fiber(100, "OM2"), fiber(100, "OS2"))) == [
        "core/1 to gate/1: run R2 is single-mode, and R1 is multimode fiber (OM2)"
    ]


def test_62_5_um_into_50_um_is_refused() -> None:
    """It loses up to 4.7 dB, and one way only (TIA-568 application table note)."""
    sx = built_to("1000BASE-SX")
    assert sentences("core", link(sx, sx, fiber(100, "OM1"), fiber(100, "OM2"))) == ["core/1 to gate/1: the core of run R2 is 50 um, and that of R1 is 62.5 um"]


@pytest.mark.parametrize("pair", [("OM3", "OM4"), ("OM2", "50/400/400"), ("OM1", "62.5/160/500"), ("OS1", "OS2")])
def test_grades_of_one_core_join(pair: tuple[str, str]) -> None:
    module = built_to("1000BASE-LX")
    joined = link(module, module, *(fiber(50, grade) for grade in pair))
    assert holds("fiber-mode", joined)
    assert holds("core", joined)


# Strands


@pytest.mark.parametrize(
    ("a", "b", "same"), [("1000BASE-LX10", "1000BASE-LX", True), ("1000BASE-LX10", "1000BASE-BX10-D", False), ("40GBASE-SR4", "40GBASE-SR4", True)]
)
def test_both_ends_use_the_same_number_of_strands(a: str, b: str, same: bool) -> None:
    assert holds("strands", link(built_to(a), built_to(b), fiber(50, "OM4"))) is same


def test_a_cord_has_the_strands_of_the_module() -> None:
    lx10 = built_to("1000BASE-LX10")
    simplex = Cord(part="SIMPLEX", grade="OS2", connectors=("LC", "LC"), strands=1)
    assert sentences("strands", link(lx10, lx10, fiber(50), cords=(None, simplex))) == ["gate/1: 1000BASE-LX10 module uses 2 strands, and cord SIMPLEX has 1"]


# Wavelengths


@pytest.mark.parametrize(
    ("a", "b", "hears"),
    [
        ("1000BASE-BX10-D", "1000BASE-BX10-U", True),  # 1480-1500 and 1260-1360 nm (IEEE 802.3 Clause 59)
        ("100BASE-BX10-D", "100BASE-BX10-U", True),  # 1480-1580 and 1260-1360 nm (IEEE 802.3 Clause 58)
        ("10GBASE-BR10-D", "10GBASE-BR10-U", True),  # 1320-1340 and 1260-1280 nm (IEEE 802.3 Clause 158)
        ("1000BASE-BX10-D", "1000BASE-BX10-D", False),
        ("1000BASE-BX10-U", "1000BASE-BX10-U", False),
        ("1000BASE-LX10", "1000BASE-LX10", True),
        ("1000BASE-LX", "1000BASE-LX10", True),  # LX receives 1260-1360 nm (from memory)
        ("1000BASE-LX10", "1000BASE-SX", False),
        ("10GBASE-LR", "10GBASE-ER", False),
    ],
)
def test_who_hears_whom(a: str, b: str, hears: bool) -> None:
    assert holds("wavelength", link(built_to(a), built_to(b), fiber(500), rate=built_to(a).rates[0])) is hears


def test_a_d_of_one_plan_and_a_u_of_another_are_no_pair() -> None:
    """1490 nm sent, 1550 nm expected (common practice, no source)."""
    other = sending((1260, 1360), (1540, 1570))
    assert sentences("wavelength", link(built_to("1000BASE-BX10-D"), other, fiber(500))) == [
        "core/1 to gate/1: B1260 receives 1540-1570 nm, and 1000BASE-BX10-D module sends 1480-1500 nm"
    ]


def test_plans_mix_where_the_windows_say_so() -> None:
    wide = sending((1260, 1360), (1480, 1580))
    assert holds("wavelength", link(built_to("1000BASE-BX10-D"), wide, fiber(500)))


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ((1260, 1310), (1310, 1360), True),  # a shared edge is no overlap
        ((1260, 1311), (1310, 1360), False),
        ((1310, 1310), (1310, 1310), False),
        ((1310, 1310), (1260, 1360), False),
        ((1360, 1360), (1260, 1360), True),
    ],
)
def test_two_senders_on_one_strand_do_not_overlap(one: tuple[float, float], other: tuple[float, float], apart: bool) -> None:
    deaf_to_nothing = (1200, 1700)
    assert holds("wavelength", link(sending(one, deaf_to_nothing), sending(other, deaf_to_nothing), fiber(500))) is apart


def test_overlapping_senders_are_told_as_such() -> None:
    a, b = sending((1260, 1360), (1200, 1700)), sending((1300, 1320), (1200, 1700))
    assert sentences("wavelength", link(a, b, fiber(500))) == [
        "core/1 to gate/1: on one strand B1260 sends 1260-1360 nm, and B1300 sends 1300-1320 nm, which overlap"
    ]


@pytest.mark.parametrize(("missing", "datum"), [("tx_nm", "sends"), ("rx_nm", "receives")])
def test_a_missing_wavelength_is_unknown(missing: str, datum: str) -> None:
    blank = sending((1260, 1360), (1480, 1500)).model_copy(update={missing: None})
    found = breaches("wavelength", link(blank, built_to("1000BASE-BX10-D"), fiber(500)))
    assert [(breach.unknown, breach.available) for breach in found] == [(True, f"the wavelength that B1260 {datum}")]


# Roles


def test_a_d_with_a_d_never() -> None:
    """Not even with windows that would let them hear each other."""
    d = built_to("1000BASE-BX10-D", rx_nm=(1480, 1500))
    assert sentences("role", link(d, d, fiber(500))) == [
        "core/1 to gate/1: 1000BASE-BX10-D module at core/1 pairs with U, and 1000BASE-BX10-D module at gate/1 is D"
    ]


def test_d_and_u_pair_whichever_end_they_are_at() -> None:
    d, u = built_to("1000BASE-BX10-D"), built_to("1000BASE-BX10-U")
    assert holds("role", link(d, u, fiber(500)))
    assert holds("role", link(u, d, fiber(500)))


@pytest.mark.parametrize(
    ("near", "far", "paired"),
    [
        ({"role": "near", "pairs_with": "far"}, {"role": "far", "pairs_with": "near"}, True),
        ({"role": "near", "pairs_with": "far"}, {"role": "near", "pairs_with": "far"}, False),
        ({"role": "near", "pairs_with": "far"}, {}, False),
        ({"role": "near"}, {}, True),
        ({}, {}, True),
    ],
)
def test_whatever_a_part_says_it_pairs_with(near: dict[str, str], far: dict[str, str], paired: bool) -> None:
    pair = {"form": "SFP", "rates": ["100M"], "medium": "single-pair", "reach_m": {"single-pair": 3000}}
    fitted = link(Module(part="P", **pair, **near), Module(part="Q", **pair, **far), copper(900, "single-pair"))
    assert holds("role", fitted) is paired
