"""What a port takes, runs, feeds and allows."""

from typing import Any

import pytest

from optiselect.model.terms import FORM_TAKES
from optiselect.rules import RULE_BY_ID
from optiselect.rules.examples import example
from tests.rules.fitting import all_breaches

Changes = dict[str, Any]


def said(changes: Changes) -> list[str]:
    """Every rule's sentences about the changed example network."""
    return [RULE_BY_ID[breach.rule].sentence(breach) for breach in all_breaches(example(changes))]


# Form


@pytest.mark.parametrize(
    ("cage", "module", "fits"),
    [
        ("SFP", "SFP", True),
        ("SFP+", "SFP", True),
        ("SFP28", "SFP", True),
        ("SFP28", "SFP+", True),
        ("SFP", "SFP+", False),
        ("SFP+", "SFP28", False),
        ("SFP28", "QSFP28", False),
        ("QSFP+", "SFP+", False),
        ("QSFP28", "QSFP+", True),
        ("QSFP+", "QSFP28", False),
    ],
)
def test_which_module_goes_into_which_cage(cage: str, module: str, fits: bool) -> None:
    """That a smaller rate's form goes into the greater one's cage: common practice, no source."""
    found = all_breaches(example({"devices.core.ports.1.form": cage, "devices.core.ports.1.module_power_w": 3.5, "modules.DEMO-LX10.form": module}))
    assert ([breach for breach in found if breach.path == "core/1"] == []) is fits
    assert (module in FORM_TAKES[cage]) is fits  # type: ignore[index]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"fitted.L1.0.port": "2"}, "core/2 takes a copper plug, and DEMO-LX10 is SFP"),
        ({"fitted.L6.1.module": "DEMO-LX10"}, "gate/6 takes nothing, since its optic is soldered, and DEMO-LX10 is SFP"),
        ({"fitted.L2.0.port": "1"}, "core/1 takes SFP, and the copper socket is a copper plug"),
        ({"fitted.L6.0.port": "5"}, "core/5 takes SFP, and DEMO-MC is a copper plug"),
        ({"fitted.L6.0.module": None}, "core/6 takes an optic or a module, and DEMO-MC is nothing"),
        ({"converters.DEMO-MC.form": "SFP+", "modules.DEMO-100-LX10.form": "SFP28"}, "core/6 takes SFP+ or SFP, and DEMO-100-LX10 is SFP28"),
        (
            {"converters.DEMO-MC.form": None, "converters.DEMO-MC.rates": None, "converters.DEMO-MC.optic": {"standard": "100BASE-LX10"}},
            "core/6 takes nothing, since the optic of DEMO-MC is soldered, and DEMO-100-LX10 is SFP",
        ),
    ],
)
def test_what_does_not_go_in(changes: Changes, sentence: str) -> None:
    assert sentence in said(changes)


# Rate


@pytest.mark.parametrize(
    ("changes", "sentences"),
    [
        ({"devices.core.ports.1.rates": ["100M"]}, ["core/1: the link runs 1G, and the cage runs 100M"]),
        ({"devices.desk.ports.2.rates": ["100M", "10M"]}, ["desk/2: the link runs 1G, and the copper socket runs 100M or 10M"]),
        ({"devices.core.ports.6.rates": ["1G"]}, ["core/6: the link runs 100M, and the copper socket runs 1G"]),
        ({"converters.DEMO-MC.copper_rates": ["1G"]}, ["core/6: the link runs 100M, and the copper side of DEMO-MC runs 1G"]),
        ({"converters.DEMO-MC.rates": ["1G"]}, ["core/6: the link runs 100M, and the cage of DEMO-MC runs 1G"]),
        ({"modules.DEMO-SX.rates": ["10G"]}, ["core/4: the link runs 1G, and DEMO-SX runs 10G", "desk/4: the link runs 1G, and DEMO-SX runs 10G"]),
    ],
)
def test_everything_in_the_chain_runs_the_rate(changes: Changes, sentences: list[str]) -> None:
    assert [sentence for sentence in said(changes) if "the link runs" in sentence] == sentences


def test_fiber_modules_do_not_negotiate() -> None:
    """A 100 Mb/s fixed optic and a gigabit module never link (IEEE 802.3 Clause 37 negotiates no rate)."""
    assert "gate/6: the link runs 1G, and the fixed optic runs 100M" in said({"links.L6.rate": "1G"})


# Medium


def test_a_port_may_be_wired_for_one_medium() -> None:
    assert said({"devices.core.ports.1.media": ["copper", "coax"]}) == ["core/1: fiber is needed there, and the cage is for copper or coax"]


def test_a_fiber_module_does_not_run_over_copper() -> None:
    assert "core/2: copper is needed there, and DEMO-LX10 is for fiber" in said({"fitted.L2.0.module": "DEMO-LX10"})


def test_a_copper_socket_does_not_run_over_a_single_pair() -> None:
    assert "core/6: single-pair is needed there, and the copper socket is for copper" in said({"fitted.L5.0.port": "6", "fitted.L5.0.module": None})


def test_the_policy_may_do_without_converters() -> None:
    assert said({"policy.allow_converters": False}) == ["core/6: the policy allows no media converter, and DEMO-MC is planned there"]


# Coding


@pytest.mark.parametrize(
    ("accepts", "coding", "taken"),
    [(None, ["harbor"], True), (["open"], ["open"], True), (["harbor"], ["open", "harbor"], True), (["harbor"], ["open"], False), ([], ["open"], False)],
)
def test_whose_modules_a_device_takes(accepts: list[str] | None, coding: list[str], taken: bool) -> None:
    found = all_breaches(example({"devices.gate.accepts": accepts, "modules.DEMO-LX10.coding": coding, "modules.DEMO-BX-U.coding": coding}))
    assert ([breach for breach in found if breach.path == "gate/1"] == []) is taken


def test_a_module_in_a_converter_is_coded_for_the_converter() -> None:
    assert said({"converters.DEMO-MC.accepts": ["harbor"]}) == ["core/6: DEMO-MC takes modules coded harbor, and DEMO-100-LX10 is coded open"]


# Power


@pytest.mark.parametrize(("cage", "watts", "fed"), [("SFP", 1.0, True), ("SFP", 1.1, False), ("SFP+", 1.5, True), ("SFP+", 1.6, False)])
def test_what_a_cage_usually_gives(cage: str, watts: float, fed: bool) -> None:
    """Power level I, 1.0 W, for SFP; level II, 1.5 W, for SFP+ (SFF-8431)."""
    found = all_breaches(example({"devices.core.ports.1.form": cage, "devices.gate.ports.1.form": "SFP+", "modules.DEMO-LX10.power_w": watts}))
    assert ([breach for breach in found if breach.path == "core/1"] == []) is fed


def test_a_converter_feeds_its_module() -> None:
    assert said({"converters.DEMO-MC.module_power_w": 0.7}) == ["core/6: the cage gives 0.7 W, and DEMO-100-LX10 draws 0.8 W"]


# Laser class


def test_a_module_without_a_laser_class_is_not_taken_for_harmless() -> None:
    own = {
        "modules.DEMO-LX10.standard": None,
        "modules.DEMO-LX10.rates": ["1G"],
        "modules.DEMO-LX10.medium": "fiber",
        "modules.DEMO-LX10.mode": "single-mode",
        "modules.DEMO-LX10.strands": 2,
        "modules.DEMO-LX10.tx_nm": [1270, 1355],
        "modules.DEMO-LX10.rx_nm": [1260, 1360],
        "modules.DEMO-LX10.tx_dbm": [-9, -3],
        "modules.DEMO-LX10.rx_dbm": [-20, -3],
        "modules.DEMO-LX10.reach_m": {"single-mode": 10000},
    }
    assert said(own) == [
        "core/1: the laser class of DEMO-LX10 is not stated, so this cannot be checked",
        "gate/1: the laser class of DEMO-LX10 is not stated, so this cannot be checked",
    ]


def test_copper_has_no_laser() -> None:
    assert [breach for breach in all_breaches(example()) if breach.path in ("core/5", "desk/5")] == []


# Lifecycle, exclusion, what is in place


@pytest.mark.parametrize("place", ["modules.DEMO-SX", "converters.DEMO-MC", "cords.DEMO-CORD-OM2"])
def test_every_kind_of_part_has_a_lifecycle(place: str) -> None:
    part = place.partition(".")[2]
    assert {sentence.partition(": ")[2] for sentence in said({f"{place}.lifecycle": "discontinued"})} == {
        f"the policy allows active parts, and {part} is discontinued"
    }


def test_an_excluded_part_is_told_by_name() -> None:
    assert said({"policy.exclude_parts": ["DEMO-CORD-LC-LC"]}) == ["gate/1: the policy allows parts that are not excluded, and DEMO-CORD-LC-LC is excluded"]


@pytest.mark.parametrize(("keep", "told"), [("no", ["core/4"]), ("prefer", []), ("must", [])])
def test_what_is_in_place_and_stays_is_not_bought_so_its_lifecycle_does_not_matter(keep: str, told: list[str]) -> None:
    found = all_breaches(
        example(
            {
                "modules.DEMO-SX.lifecycle": "discontinued",
                "installed.core/4": "DEMO-SX",
                "policy.keep_installed": keep,
                "fitted.L4.1.module": "DEMO-SX2",
                "modules.DEMO-SX2": SX2,
            }
        )
    )
    assert [breach.path for breach in found] == told


SX2 = {"standard": "1000BASE-SX", "form": "SFP", "connector": "LC", "temperature_c": [0, 70], "power_w": 0.8}


@pytest.mark.parametrize(("keep", "told"), [("no", 0), ("prefer", 0), ("must", 1)])
def test_what_must_stay_stays(keep: str, told: int) -> None:
    assert len(all_breaches(example({"installed.core/1": "DEMO-LX", "policy.keep_installed": keep}))) == told


# Temperature


@pytest.mark.parametrize(
    ("range_c", "rise_c", "survives"),
    [
        ([-25, 65], 15, True),
        ([-25, 64.9], 15, False),  # 50 C of air and 15 C of rise
        ([-24.9, 85], 15, False),  # a cold start has no rise
        ([-25, 75], 25, True),
        ([-25, 74.9], 25, False),  # 25 C of rise in a sealed box
        ([-25, 50], 0, True),
    ],
)
def test_the_case_is_warmer_than_the_air(range_c: list[float], rise_c: float, survives: bool) -> None:
    """Case = air + rise, 15 C by default (from memory); the grades of the trade are case temperatures (SFF-8472, diagnostics)."""
    found = all_breaches(example({"modules.DEMO-LX10.temperature_c": range_c, "policy.temperature_rise_c": rise_c}))
    assert ([breach for breach in found if breach.path == "gate/1"] == []) is survives


def test_a_converter_is_read_like_a_module() -> None:
    assert said({"converters.DEMO-MC.temperature_c": [20, 44]}) == [
        "core/6: with air of 30 C and 15 C of rise the case reaches 45 C, and DEMO-MC bears 44 C",
        "core/6: a cold start is at 15 C, and DEMO-MC starts from 20 C",
    ]
