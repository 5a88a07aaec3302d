"""What is told of cords, end faces and glass: which end, which run, what is needed there and what is there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from optiselect.model.catalog import Cord
from optiselect.rules.fitted import FittedLink
from optiselect.rules.panel import CordNeed, conditioning_needed
from tests.rules.fitting import breaches, built_to, fiber, holds, light, link, sentences, told, with_end

LX10, SX, LX = built_to("1000BASE-LX10"), built_to("1000BASE-SX"), built_to("1000BASE-LX")


def cord(near: str = "LC", far: str = "SC", grade: str = "OS2", **other: Any) -> Cord:
    return Cord(**{"part": "CORD", "grade": grade, "connectors": (near, far), **other})


@pytest.mark.parametrize(
    ("need", "text"),
    [
        (CordNeed(("LC", "SC"), "flat", ("OM2", "OM3"), "50", 1, False), "a cord LC to SC, OM2 and OM3, 1 strand"),
        (CordNeed(("LC", "FC"), "angled", ("OM1",), "62.5", 2, True), "a mode-conditioning cord LC to FC angled, OM1, 2 strands"),
    ],
)
def test_cord_that_is_needed_is_written_as_it_is_ordered(need: CordNeed, text: str) -> None:
    assert str(need) == text


def test_one_grade_of_the_path_that_asks_for_offset_launch_is_enough() -> None:
    """IEEE 802.3, 38.11.4: due on OM2 and not on OM3."""
    mixed = link(LX, LX, fiber(50, "OM2"), fiber(50, "OM3")).path
    assert conditioning_needed(light("1000BASE-LX"), None, mixed)
    assert conditioning_needed(light("1000BASE-SX"), light("1000BASE-LX"), mixed)


def test_cord_is_as_good_as_every_grade_of_the_path() -> None:
    mixed = link(SX, SX, fiber(50, "OM2", connectors=("SC", "SC")), fiber(50, "OM4", connectors=("SC", "SC")), cords=(cord(grade="OM3"), cord(grade="OM4")))
    assert sentences("connector", mixed) == ["core/1: needed is OM2 and OM4 or better, and there is cord CORD of OM3"]


def test_module_whose_connector_is_not_stated_is_told_once_whatever_cord_is_there() -> None:
    fitted = with_end(link(LX10, LX10, fiber(100, connectors=("SC", "SC")), cords=(cord("LC", "ST"), cord())), 0, light={"connector": None})
    assert told("connector", fitted) == [("core/1", None, "the connector of 1000BASE-LX10 module", True)]


APC_UPC = ("APC", "UPC")
FACES = {
    "turned round it meets the module flat, and the run angled": (
        (cord("LC", "LC", polish=APC_UPC), cord("LC", "LC")),
        ["core/1: the plug of R1 is flat, and cord CORD is angled there"],
    ),
    "the far end is that of the last run": (
        (cord("LC", "LC"), cord("LC", "LC", polish=APC_UPC)),
        ["gate/1: the plug of R3 is flat, and cord CORD is angled there"],
    ),
}


@pytest.mark.parametrize(("cords", "said"), FACES.values(), ids=FACES)
def test_angled_plug_before_a_flat_one_is_told_at_the_end_where_they_meet(cords: tuple[Cord, Cord], said: list[str]) -> None:
    chain = (fiber(30, connectors=("LC", "LC"), polish="UPC") for _ in range(3))
    assert sentences("polish", link(LX10, LX10, *chain, cords=cords)) == said


def test_joint_that_does_not_mate_is_told_between_its_own_runs() -> None:
    flat, angled = fiber(30, connectors=("LC", "LC"), polish="UPC"), fiber(30, connectors=("LC", "LC"), polish=("APC", "UPC"))
    chain = link(LX10, LX10, flat, flat, angled, cords=(cord("LC", "LC"), cord("LC", "LC")))
    assert sentences("polish", chain) == ["p2: the plug of R2 is flat, and the plug of R3 is angled there"]


def test_run_before_which_a_conditioning_cord_is_due_and_which_shows_nothing_is_named() -> None:
    silent = link(LX, LX, fiber(50, "OM1", connectors=("SC", "SC")), fiber(50, "OM1"), cords=(cord(grade="OM1", conditioning=True), None))
    assert told("mode-conditioning", silent) == [("gate/1", "a mode-conditioning cord", "what R2 presents at its ends", True)]
    silent = link(LX, LX, fiber(50, "OM1"), fiber(50, "OM1", connectors=("SC", "SC")), cords=(None, cord(grade="OM1", conditioning=True)))
    assert told("mode-conditioning", silent) == [("core/1", "a mode-conditioning cord", "what R1 presents at its ends", True)]


def test_conditioning_cord_that_nobody_looked_for_is_asked_for_as_far_as_it_is_known() -> None:
    plugged = replace(link(LX, LX, fiber(50, "OM1", connectors=("SC", "SC"))), cords_stated=False)
    ordered = "a mode-conditioning cord LC to SC, OM1, 2 strands"
    assert told("mode-conditioning", with_end(plugged, 1, light={"connector": None})) == [
        ("core/1", ordered, f"whether {ordered} is there", True),
        ("gate/1", "a mode-conditioning cord", "whether a mode-conditioning cord is there", True),
    ]


# The glass


GLASS = {
    "runs of the other mode by their own names, no others": (
        "fiber-mode",
        link(LX10, SX, fiber(50), fiber(60)),
        ["gate/1: 1000BASE-SX module is multimode, and R1, R2 are single-mode fiber (OS2)"],
    ),
    "runs of another grade apart": (
        "fiber-mode",
        link(LX10, SX, fiber(50, "OS1"), fiber(60, "OS2")),
        [
            "gate/1: 1000BASE-SX module is multimode, and R1 is single-mode fiber (OS1)",
            "gate/1: 1000BASE-SX module is multimode, and R2 is single-mode fiber (OS2)",
        ],
    ),
    "a mode that is not stated, once": (
        "fiber-mode",
        with_end(link(LX10, LX10, fiber(50), fiber(50, "OS1")), 1, light={"mode": None, "reach_m": None}),
        ["gate/1: the mode of 1000BASE-LX10 module is not stated, so this cannot be checked"],
    ),
    "a cord of the other mode": (
        "fiber-mode",
        link(LX10, LX10, fiber(50), cords=(cord(grade="OM2"), cord())),
        ["core/1: cord CORD is multimode, and R1 is single-mode fiber (OS2)"],
    ),
    "a cord of another core": (
        "core",
        link(SX, SX, fiber(50, "OM3"), cords=(cord(grade="OM1"), cord(grade="OM3"))),
        ["core/1: the core of cord CORD is 62.5 um, and that of R1 is 50 um"],
    ),
    "a strand count that is not stated": (
        "strands",
        with_end(link(LX10, LX10, fiber(50)), 1, light={"strands": None}),
        ["gate/1: the number of strands of 1000BASE-LX10 module is not stated, so this cannot be checked"],
    ),
    "ends of different strand counts": (
        "strands",
        link(LX10, built_to("1000BASE-BX10-D"), fiber(50)),
        ["core/1 to gate/1: 1000BASE-LX10 module uses 2 strands, and 1000BASE-BX10-D module has 1"],
    ),
    "a wavelength that is not stated": (
        "wavelength",
        with_end(link(LX10, LX10, fiber(50)), 1, light={"tx_nm": None, "rx_nm": None}),
        [
            "gate/1: the wavelength that 1000BASE-LX10 module receives is not stated, so this cannot be checked",
            "gate/1: the wavelength that 1000BASE-LX10 module sends is not stated, so this cannot be checked",
        ],
    ),
    "an end without a role": (
        "role",
        with_end(with_end(link(LX10, LX10, fiber(50)), 0, light={"role": "near", "pairs_with": "far"}), 1, light={"role": None}),
        ["core/1 to gate/1: 1000BASE-LX10 module at core/1 pairs with far, and 1000BASE-LX10 module at gate/1 is no role"],
    ),
}


@pytest.mark.parametrize(("rule_id", "fitted", "said"), GLASS.values(), ids=GLASS)
def test_what_does_not_go_together_is_told_with_both_sides(rule_id: str, fitted: FittedLink, said: list[str]) -> None:
    assert sentences(rule_id, fitted) == said


def test_cord_that_matches_one_of_the_runs_is_no_fault_of_the_cord() -> None:
    """That the runs do not match each other is told of the runs."""
    mixed = link(SX, SX, fiber(50, "OM1"), fiber(50, "OM3"), cords=(cord(grade="OM1"), cord(grade="OM3")))
    assert [breach.path for breach in breaches("core", mixed)] == ["core/1 to gate/1"]
    modes = link(SX, SX, fiber(50, "OS2"), fiber(50, "OM3"), cords=(cord(), cord(grade="OM3")))
    assert [breach.facts["part"] for breach in breaches("fiber-mode", modes) if "cord" in breach.facts["part"]] == []


@pytest.mark.parametrize(
    ("sends", "hears", "said"),
    [
        ((1480, 1500), (1260, 1360), "core/1 to gate/1: 1000BASE-LX10 module receives 1260-1360 nm, and 1000BASE-LX10 module sends 1480-1500 nm"),
        ((1550, 1550), (1260, 1360), "core/1 to gate/1: 1000BASE-LX10 module receives 1260-1360 nm, and 1000BASE-LX10 module sends 1550 nm"),
        ((1360, 1360), (1260, 1360), None),
        ((1260, 1360), (1260, 1360), None),
        ((1259, 1300), (1260, 1360), "core/1 to gate/1: 1000BASE-LX10 module receives 1260-1360 nm, and 1000BASE-LX10 module sends 1259-1300 nm"),
    ],
)
def test_window_that_is_not_wholly_heard_is_told(sends: tuple[float, float], hears: tuple[float, float], said: str | None) -> None:
    fitted = with_end(with_end(link(LX10, LX10, fiber(50)), 0, light={"tx_nm": sends}), 1, light={"rx_nm": hears})
    assert sentences("wavelength", fitted) == [said] * (said is not None)


@pytest.mark.parametrize(
    ("ours", "theirs", "apart"),
    [
        ((1310, 1310), (1310, 1310), False),
        ((1300, 1310), (1310, 1320), True),
        ((1310, 1320), (1300, 1310), True),
        ((1300, 1311), (1310, 1320), False),
        ((1310, 1320), (1300, 1311), False),
    ],
)
def test_two_senders_on_one_strand_are_apart(ours: tuple[float, float], theirs: tuple[float, float], apart: bool) -> None:
    single = {"strands": 1, "rx_nm": (1200, 1600)}
    fitted = with_end(with_end(link(LX10, LX10, fiber(50)), 0, light={**single, "tx_nm": ours}), 1, light={**single, "tx_nm": theirs})
    assert holds("wavelength", fitted) is apart
    assert {breach.case for breach in breaches("wavelength", fitted)} <= {"one strand"}


@pytest.mark.parametrize("side", [0, 1])
def test_one_strand_at_one_end_only_is_a_matter_of_strands(side: int) -> None:
    fitted = with_end(link(LX10, LX10, fiber(50)), side, light={"strands": 1})
    assert holds("wavelength", fitted)
    assert not holds("strands", fitted)


@pytest.mark.parametrize(("kind", "needed"), [("D", "U"), ("U", "D")])
def test_two_of_one_kind_are_told_which_the_other_must_be(kind: str, needed: str) -> None:
    module = built_to(f"1000BASE-BX10-{kind}")
    fitted = with_end(with_end(link(module, module, fiber(50)), 0, light={"pairs_with": None}), 1, light={"pairs_with": None})
    assert told("role", fitted) == [("core/1 to gate/1", needed, kind, False)]


def test_an_angled_end_at_the_module_is_told_where_the_other_end_fits() -> None:
    """The run is flat and so is the cord's end there; only what sits in the module is wrong."""
    ends = fiber(50, connectors=["SC", "SC"], polish=["UPC", "UPC"])
    fitted = link(LX10, LX10, ends, cords=(cord(polish=("APC", "UPC")), cord(polish=("UPC", "UPC"))))
    (breach,) = breaches("polish", fitted)
    assert (breach.path, breach.required, breach.available) == ("core/1", "flat", "angled")
