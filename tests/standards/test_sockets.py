"""Copper sockets, module power and the generic catalog."""

import pytest

from optiselect.model.terms import FORM_TAKES
from optiselect.standards.copper import category_known, socket_reach_m
from optiselect.standards.generic import open_standard_catalog
from optiselect.standards.pmd import pmd, pmd_names
from optiselect.standards.power import usual_module_power_w


@pytest.mark.parametrize(
    ("rate", "category", "reach_m"),
    [
        ("10M", "Cat5e", 100),
        ("100M", "Cat5e", 100),
        ("1G", "Cat5e", 100),
        ("1G", "Cat6A", 100),
        ("2.5G", "Cat5e", 100),
        ("5G", "Cat5e", None),
        ("5G", "Cat6", 100),
        ("10G", "Cat5e", None),
        ("10G", "Cat6", 55),
        ("10G", "Cat6A", 100),
        ("10M", "single-pair", 1000),
        ("1G", "single-pair", None),
        ("25G", "Cat6A", None),
        ("1G", "coax", None),
    ],
)
def test_copper_reaches_as_far_as_rate_and_category_allow(rate: str, category: str, reach_m: float | None) -> None:
    """IEEE 802.3 Clauses 14, 25, 40, 55, 126, 146; TSB-155 for 10 Gb/s on Cat6. Sources by value in standards/pmd/copper.yaml."""
    assert socket_reach_m(rate, category) == reach_m  # type: ignore[arg-type]


def test_twisted_pair_of_unknown_category_has_no_known_reach() -> None:
    assert not category_known("twisted-pair")
    assert category_known("Cat5e")


@pytest.mark.parametrize(("form", "watts"), [("SFP", 1.0), ("SFP+", 1.5), ("SFP28", 1.5), ("QSFP+", 3.5), ("QSFP28", 3.5)])
def test_a_cage_gives_the_usual_power_of_its_form(form: str, watts: float) -> None:
    """SFF-8431 power levels I and II; SFP28 and the QSFP forms from memory."""
    assert usual_module_power_w(form) == watts  # type: ignore[arg-type]


def test_every_pluggable_pmd_has_a_generic_module() -> None:
    parts = [module.part for module in open_standard_catalog().modules]
    assert parts == [f"STD-{name}" for name in pmd_names() if pmd(name).pluggable]
    assert {"STD-1000BASE-BX10-D", "STD-1000BASE-BX10-U", "STD-100GBASE-LR4"} <= set(parts)


def test_every_fiber_pmd_is_pluggable() -> None:
    assert all(pmd(name).pluggable for name in pmd_names() if pmd(name).figures.medium == "fiber")


def test_nothing_is_invented_for_a_generic_module() -> None:
    catalog = open_standard_catalog()
    invented = {(module.price, module.temperature_c, module.power_w, module.fit, module.stock) for module in catalog.modules}
    assert invented == {(None, None, None, None, None)}


def test_a_generic_module_has_a_form_and_a_connector() -> None:
    modules = open_standard_catalog().modules
    assert {module.form for module in modules} == set(FORM_TAKES)
    assert {module.connector for module in modules} == {"LC", "MPO", "RJ45"}


def test_a_pluggable_10gbase_t_reaches_30_m() -> None:
    """A maker's transceivers guide of 2025: limited to 30 m by the cage's power (facts copper.10gbase-t-sfp)."""
    assert open_standard_catalog().module_by_part["STD-10GBASE-T"].reach_m == {"Cat6": 30, "Cat6A": 30}


def test_generic_cords_join_a_module_to_every_common_panel() -> None:
    cords = open_standard_catalog().cords
    from_lc = {(cord.grade, cord.connectors[1]) for cord in cords if cord.connectors[0] == "LC" and cord.strands == 2 and cord.polish is None}
    assert from_lc >= {(grade, far) for grade in ("OS2", "OM1", "OM2", "OM3", "OM4", "OM5") for far in ("LC", "SC", "ST", "FC")}
    assert {cord.grade for cord in cords if cord.strands == 8} >= {"OM3", "OM4"}


def test_an_angled_panel_gets_a_cord_flat_at_the_module() -> None:
    angled = {cord.connectors for cord in open_standard_catalog().cords if cord.polish == ("UPC", "APC") and cord.strands == 1}
    assert {("LC", "LC"), ("LC", "SC"), ("SC", "LC"), ("SC", "SC")} <= angled


def test_conditioning_cords_match_the_core() -> None:
    """62.5 um for OM1, 50 um for OM2, on two strands (facts got.mcp.core)."""
    cords = [cord for cord in open_standard_catalog().cords if cord.conditioning]
    assert {(cord.grade, cord.strands) for cord in cords} == {("OM1", 2), ("OM2", 2)}


def test_attenuators_are_of_the_usual_steps() -> None:
    assert [item.loss_db for item in open_standard_catalog().attenuators] == [3, 5, 7, 10, 15]
