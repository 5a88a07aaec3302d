"""Cords, end faces, joints and mode conditioning."""

from typing import Any

import pytest

from optiselect.model.catalog import Cord
from optiselect.model.policy import Policy
from optiselect.rules.panel import CordNeed, conditioning_needed, cord_needed, cord_serves
from tests.rules.fitting import built_to, copper, fiber, holds, light, link, sentences

LX10, SX, LX = built_to("1000BASE-LX10"), built_to("1000BASE-SX"), built_to("1000BASE-LX")


def cord(near: str = "LC", far: str = "SC", grade: str = "OS2", **other: Any) -> Cord:
    return Cord(**{"part": "CORD", "grade": grade, "connectors": (near, far), **other})


def need(far: str = "SC", grades: tuple[str, ...] = ("OS2",), core: str = "9", face: str = "flat", strands: int = 2, conditioning: bool = False) -> CordNeed:
    return CordNeed(("LC", far), face, grades, core, strands, conditioning)  # type: ignore[arg-type]


# Which cord serves


@pytest.mark.parametrize(
    ("item", "wanted", "serves"),
    [
        (cord(), need(), True),
        (cord("SC", "LC"), need(), True),  # either way round
        (cord("LC", "LC"), need(), False),
        (cord(grade="OS1"), need(), True),  # single-mode: any OS grade
        (cord(grade="OM3"), need(), False),
        (cord(grade="OM4"), need(grades=("OM3",), core="50"), True),  # better is as good
        (cord(grade="OM3"), need(grades=("OM3",), core="50"), True),
        (cord(grade="OM2"), need(grades=("OM3",), core="50"), False),
        (cord(grade="OM3"), need(grades=("OM2", "OM4"), core="50"), False),
        (cord(grade="OM2"), need(grades=("50/400/400",), core="50"), True),
        (cord(grade="OM5"), need(grades=("OM1",), core="62.5"), False),
        (cord(strands=1), need(), False),
        (cord(strands=1), need(strands=1), True),
        (cord(polish=("UPC", "APC")), need(face="angled"), True),
        (cord("SC", "LC", polish=("APC", "PC")), need(face="angled"), True),
        (cord(polish=("APC", "UPC")), need(face="angled"), False),  # the angled plug would meet the module
        (cord(polish=("UPC", "APC")), need(), False),
        (cord("LC", "LC", polish=("APC", "UPC")), need("LC", face="angled"), True),  # turned round
        (cord(polish=("PC", "UPC")), need(), True),  # both are flat
        (cord(grade="OM1", conditioning=True), need(grades=("OM1",), core="62.5", conditioning=True), True),
        (cord(grade="OM1", conditioning=True), need(grades=("62.5/160/500",), core="62.5", conditioning=True), True),
        (cord(grade="OM2", conditioning=True), need(grades=("OM1",), core="62.5", conditioning=True), False),
        (cord(grade="OM1"), need(grades=("OM1",), core="62.5", conditioning=True), False),
        (cord(grade="OM2", conditioning=True), need(grades=("OM2",), core="50"), False),
    ],
)
def test_which_cord_serves(item: Cord, wanted: CordNeed, serves: bool) -> None:
    assert cord_serves(item, wanted, Policy()) is serves


def test_hybrid_cords_may_be_ruled_out() -> None:
    frugal = Policy(allow_hybrid_cords=False)
    assert not cord_serves(cord(), need(), frugal)
    assert cord_serves(cord("LC", "LC"), need("LC"), frugal)


def test_what_an_end_needs_follows_from_its_run() -> None:
    path = link(LX10, LX10, fiber(100, connectors=("SC", "FC"), polish=("UPC", "APC"))).path
    assert cord_needed(light("1000BASE-LX10"), path, 0, False) == need("SC")
    assert cord_needed(light("1000BASE-LX10"), path, 1, False) == need("FC", face="angled")
    assert str(cord_needed(light("1000BASE-LX10"), path, 1, False)) == "a cord LC to FC angled, OS2, 2 strands"


def test_a_run_that_states_no_connectors_plans_no_cords() -> None:
    bare = link(LX10, LX10, fiber(100))
    assert cord_needed(light("1000BASE-LX10"), bare.path, 0, False) is None
    assert holds("connector", bare)


# The cord that is there


@pytest.mark.parametrize(
    ("cords", "told"),
    [
        ((cord(), cord("LC", "LC")), []),
        ((None, cord("LC", "LC")), ["core/1: needed is a cord LC to SC, OS2, 2 strands, and there is none"]),
        ((cord("LC", "FC"), cord("LC", "LC")), ["core/1: needed is LC to SC, and there is cord CORD, LC to FC"]),
    ],
)
def test_a_cord_joins_the_module_to_the_run(cords: tuple[Cord | None, Cord | None], told: list[str]) -> None:
    assert sentences("connector", link(LX10, LX10, fiber(100, connectors=("SC", "LC")), cords=cords)) == told


def test_a_cord_of_a_lower_grade_is_told() -> None:
    run = fiber(100, "OM3", connectors=("SC", "SC"))
    assert sentences("connector", link(SX, SX, run, cords=(cord(grade="OM2"), cord(grade="OM4")))) == [
        "core/1: needed is OM3 or better, and there is cord CORD of OM2"
    ]


@pytest.mark.parametrize("run", [fiber(100), copper(50, "Cat6")])
def test_a_cord_that_is_not_needed_is_told(run: dict[str, Any]) -> None:
    optic = LX10 if "fiber" in run else None
    assert sentences("connector", link(optic, optic, run, cords=(cord(), None))) == ["core/1: needed is no cord, and there is cord CORD"]


def test_hybrid_cords_that_the_policy_rules_out_are_told() -> None:
    run = fiber(100, connectors=("SC", "LC"))
    plan = link(LX10, LX10, run, policy=Policy(allow_hybrid_cords=False), cords=(cord(), cord("LC", "LC")))
    assert sentences("connector", plan) == ["core/1: needed is one connector on both sides, and there is cord CORD, a hybrid of LC and SC"]


# Flat and angled


@pytest.mark.parametrize(
    ("panel", "plug", "told"),
    [
        ("APC", ("UPC", "APC"), []),
        ("UPC", ("PC", "PC"), []),
        (None, None, []),
        ("APC", ("UPC", "UPC"), ["core/1: the plug of R1 is angled, and cord CORD is flat there"]),
        ("UPC", ("UPC", "APC"), ["core/1: the plug of R1 is flat, and cord CORD is angled there"]),
        (
            "APC",
            ("APC", "UPC"),
            ["core/1: 1000BASE-LX10 module is flat, and cord CORD is angled there", "core/1: the plug of R1 is angled, and cord CORD is flat there"],
        ),
    ],
)
def test_flat_never_mates_angled(panel: str | None, plug: tuple[str, str] | None, told: list[str]) -> None:
    """Angled (APC) and flat (UPC, PC) leave an air gap: common practice, no source."""
    run = fiber(100, connectors=("SC", "LC"), polish=None if panel is None else (panel, "UPC"))
    assert sentences("polish", link(LX10, LX10, run, cords=(cord(polish=plug), cord("LC", "LC")))) == told


@pytest.mark.parametrize(
    ("before", "after", "connector", "polish"),
    [
        (("SC", "UPC"), ("SC", "PC"), [], []),
        (("SC", "UPC"), ("LC", "UPC"), ["p1: needed is one connector on both sides of the joint (SC), and there is LC"], []),
        (("SC", "APC"), ("SC", "UPC"), [], ["p1: the plug of R1 is angled, and the plug of R2 is flat there"]),
    ],
)
def test_runs_mate_in_one_adapter_at_a_panel(before: tuple[str, str], after: tuple[str, str], connector: list[str], polish: list[str]) -> None:
    runs = (
        fiber(100, connectors=("SC", before[0]), polish=("UPC", before[1])),
        fiber(100, connectors=(after[0], "SC"), polish=(after[1], "UPC")),
    )
    joined = link(LX10, LX10, *runs, cords=(cord(), cord()))
    assert (sentences("connector", joined), sentences("polish", joined)) == (connector, polish)


def test_a_joint_of_which_one_side_is_not_stated_is_not_checked() -> None:
    joined = link(LX10, LX10, fiber(100, connectors=("SC", "SC")), fiber(100), cords=(cord(), None))
    assert holds("connector", joined)


# Mode conditioning


@pytest.mark.parametrize(
    ("standard", "grade", "needed"),
    [
        ("1000BASE-LX", "62.5/160/500", True),
        ("1000BASE-LX", "OM1", True),
        ("1000BASE-LX", "50/400/400", True),
        ("1000BASE-LX", "OM2", True),
        ("1000BASE-LX", "OM3", False),  # never on OM3 or better
        ("1000BASE-LX", "OM4", False),
        ("1000BASE-LX", "OS2", False),
        ("1000BASE-LX10", "OM1", True),
        ("1000BASE-LX10", "OM3", False),
        ("10GBASE-LRM", "OM1", True),
        ("10GBASE-LRM", "OM2", True),
        ("10GBASE-LRM", "OM3", False),
        ("1000BASE-SX", "OM1", False),  # never at 850 nm
        ("10GBASE-SR", "OM2", False),
        ("100BASE-FX", "OM1", False),
    ],
)
def test_where_offset_launch_is_due(standard: str, grade: str, needed: bool) -> None:
    """IEEE 802.3, 38.11.4; Clause 59, 59.9.5 (from memory); Clause 68, Table 68-3; never on OM3 nor at 850 nm: practice from these."""
    path = link(built_to(standard), built_to(standard), fiber(100, grade)).path
    assert conditioning_needed(light(standard), light(standard), path) is needed


CONDITIONING, PLAIN = cord(grade="OM1", conditioning=True, part="MCP"), cord(grade="OM1", part="PLAIN")


@pytest.mark.parametrize(
    ("module", "grade", "cords", "told"),
    [
        (LX, "OM1", (CONDITIONING, CONDITIONING), []),
        (SX, "OM1", (PLAIN, PLAIN), []),
        (LX, "OM1", (PLAIN, CONDITIONING), ["core/1: OM1 asks for a mode-conditioning cord, and there is cord PLAIN"]),
        (LX, "OM1", (CONDITIONING, None), ["gate/1: OM1 asks for a mode-conditioning cord, and there is no cord"]),
        (SX, "OM1", (PLAIN, CONDITIONING), ["gate/1: OM1 asks for a plain cord, and there is the mode-conditioning cord MCP"]),
        (LX, "OM3", (CONDITIONING, None), ["core/1: OM3 asks for a plain cord, and there is the mode-conditioning cord MCP"]),
    ],
)
def test_a_mode_conditioning_cord_is_at_both_ends_or_at_none(module: Any, grade: str, cords: tuple[Cord | None, Cord | None], told: list[str]) -> None:
    assert sentences("mode-conditioning", link(module, module, fiber(100, grade, connectors=("SC", "SC")), cords=cords)) == told


def test_the_cord_matches_the_core_of_the_cable() -> None:
    """62.5 um cords for 62.5 um cable, 50 um for 50 um (IEEE 802.3, 38.11.4; Clause 68)."""
    crossed = link(LX, LX, fiber(100, "OM2", connectors=("SC", "SC")), cords=(CONDITIONING, CONDITIONING))
    assert holds("mode-conditioning", crossed)
    assert len(sentences("core", crossed)) == 2
