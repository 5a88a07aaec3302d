"""Real questions of practitioners: the library gives the careful answer, and for the reason that was meant.

`questions.yaml` holds them, paraphrased, each with its source. What lies outside of what the library knows is listed with why.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from optiselect import Plan, solve
from tests.explain.scenes import LX, SX, Documents, cage, copper, fiber, module, site

QUESTIONS = {entry["id"]: entry for entry in yaml.safe_load(Path(__file__).with_name("questions.yaml").read_text(encoding="utf-8"))}
OUTSIDE = {
    "copper-module-coded-as-sx": "what a module's memory says against what it is: the catalog is taken at its word",
    "cable-40g-between-100g-ports": "cables with a module fixed at both ends are no parts of the catalog",
}
TEN = ("10G",)


def ten(part: str, standard: str | None, **figures: Any) -> dict[str, Any]:
    return module(part, standard, 100.0, form="SFP+", rates=["10G"], power_w=1.4, **figures)


def at_10g(run: dict[str, Any], modules: list[dict[str, Any]], **more: Any) -> Documents:
    ports = {"core": {"ports": [cage("SFP+", TEN)]}, "gate": {"ports": [cage("SFP+", TEN)]}}
    return site(run, modules, links=[{"id": "L1", "ends": ["core", "gate"], "rate": "10G"}], **(ports | more))


def lit(
    part: str, nm: tuple[float, float], tx_dbm: list[float], rx_dbm: list[float], reach_m: int, make: Callable[..., dict[str, Any]] = ten, **more: Any
) -> dict[str, Any]:
    figures = {"medium": "fiber", "mode": "single-mode", "strands": 2, "tx_nm": list(nm), "rx_nm": [1260, 1620]}
    return make(part, None, **(figures | {"tx_dbm": tx_dbm, "rx_dbm": rx_dbm, "reach_m": {"single-mode": reach_m}, "dispersion_ps_nm": 2000} | more))


def one(part: str, standard: str | None, **figures: Any) -> dict[str, Any]:
    return module(part, standard, 50.0, **figures)


PADS = [{"part": f"PAD-{loss_db}", "mode": "single-mode", "connector": "LC", "loss_db": loss_db, "price": 9.0} for loss_db in (5, 10, 15)]
LX_15_KM = lit("LX", (1270, 1355), [-9.5, -3], [-20, -3], 10_000, one)
STRONG = lit("ZX", (1540, 1570), [-1, 1], [-23, -8], 80_000)

REFUSED: dict[str, tuple[list[str], Callable[[], Documents]]] = {
    "lx-16-km-observed": (["reach"], lambda: site(fiber("OS2", 16_000, measured_loss_db={"1310": 6.0}), [LX])),
    "lx-15-km-8-db": (["reach"], lambda: site(fiber("OS2", 15_000, measured_loss_db={"1310": 8}), [LX_15_KM], policy={"design_margin_db": 0})),
    "generic-60-km-optic": (
        ["light-budget"],
        lambda: at_10g(
            fiber("OS2", 60_000, attenuation_db_km={"1550": 0.4}, connections=0),
            [lit("GEN", (1550, 1550), [0, 5], [-20, 5], 60_000)],
            policy={"design_margin_db": 0},
        ),
    ),
    "dispersion-penalty-counts": (
        ["dispersion"],
        lambda: at_10g(fiber("OS2", 81_000, connections=0), [lit("80K", (1550, 1550), [2, 4], [-24, 4], 82_000, dispersion_ps_nm=1450, penalty_db=2.5)]),
    ),
    "10g-lr-over-multimode": (["fiber-mode"], lambda: at_10g(fiber("OM3", 100), [ten("LR", "10GBASE-LR")])),
    "om1-200-m-upgrade-to-10g-sr": (["reach"], lambda: at_10g(fiber("OM1", 200), [ten("SR", "10GBASE-SR")])),
    "mixed-62p5-and-50-um": (
        ["core"],
        lambda: site(
            fiber("OM1", 50) | {"ends": ["core", "frame"]}, [SX], panels=[{"id": "frame"}], runs=[{"id": "F2", "ends": ["frame", "gate"]} | fiber("OM3", 50)]
        ),
    ),
    "bx-1310-1490-needs-host-support": (
        ["coding"],
        lambda: site(
            fiber("OS2", 500, 1),
            [one("BXD", "1000BASE-BX10-D", coding=["bx"]), one("BXU", "1000BASE-BX10-U", coding=["bx"])],
            core={"accepts": ["sx", "lx", "t"]},
        ),
    ),
    "1000base-t-module-refused-by-switch": (
        ["medium"],
        lambda: site(copper(30), [one("T", "1000BASE-T", connector="RJ45")], core={"ports": [cage("SFP28", ("1G",), media=["fiber"])]}),
    ),
    "epon-onu-in-nic": (["coding"], lambda: site(fiber("OS2", 500), [LX | {"coding": ["onu"]}], core={"accepts": ["nic"]})),
    "sr-to-10gbase-t": (
        ["medium"],
        lambda: at_10g(fiber("OM3", 50), [ten("SR", "10GBASE-SR")], gate={"ports": [{"ids": "1-2", "kind": "copper", "rates": ["10G"]}]}),
    ),
    "rj45-sfp-plus-reach": (
        ["copper-reach"],
        lambda: at_10g(copper(50, "Cat6A"), [ten("T", None, medium="copper") | {"connector": "RJ45", "reach_m": {"Cat6A": 30}}]),
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_work_is_refused_for_the_reason_that_was_meant(name: str) -> None:
    rules, documents = REFUSED[name]
    (refusal,) = solve(*documents()).unserved
    assert [fact.rule for fact in refusal.conflict] == rules


SERVED: dict[str, tuple[Callable[[Plan], object], object, Callable[[], Documents]]] = {
    "lr-pair-20-m-no-pad": (
        lambda plan: [end.attenuator for end in plan.links[0].ends],
        [None, None],
        lambda: at_10g(fiber("OS2", 20), [ten("LR", "10GBASE-LR")], attenuators=PADS),
    ),
    "lr-3-m-in-rack": (
        lambda plan: [end.attenuator for end in plan.links[0].ends],
        [None, None],
        lambda: at_10g(fiber("OS2", 3), [ten("LR", "10GBASE-LR")], attenuators=PADS),
    ),
    "attenuators-both-ends-do-not-add": (
        lambda plan: [round((way.loss_min_db or 0) - 14.3 * 0.15, 3) for way in plan.links[0].directions],
        [5.0, 5.0],
        lambda: site(fiber("OS2", 14_300), [lit("ZX", (1540, 1570), [0, 4], [-23, -3], 80_000, one)], attenuators=PADS),
    ),
    "10g-over-60-km-rule-of-thumb": (
        lambda plan: len(plan.links),
        1,
        lambda: at_10g(fiber("OS2", 65_000, connections=0), [lit("65K", (1550, 1550), [2, 4], [-24, 4], 80_000, dispersion_ps_nm=1176)]),
    ),
    "lx-on-50-um-cord-needed": (
        lambda plan: [end.cord for end in plan.links[0].ends],
        ["MCP-OM2", "MCP-OM2"],
        lambda: site(
            fiber("OM2", 300, connectors=["LC", "LC"]),
            [one("LX", "1000BASE-LX")],
            cords=[
                {"part": "MCP-OM2", "grade": "OM2", "connectors": ["LC", "LC"], "conditioning": True},
                {"part": "J-OM2", "grade": "OM2", "connectors": ["LC", "LC"]},
            ],
        ),
    ),
    "dual-rate-unit-with-1g-partner": (
        lambda plan: [plan.links[0].rate, [end.module for end in plan.links[0].ends]],
        ["1G", ["DUAL", "SX-1G"]],
        lambda: site(
            fiber("OM3", 100),
            [
                module("DUAL", "10GBASE-SR", 90.0, form="SFP+", rates=["10G"], power_w=1.2, at_rate={"1G": {"standard": "1000BASE-SX"}}),
                module("SX-1G", "1000BASE-SX", 30.0, coding=["gate"]),
            ],
            core={"accepts": ["open"], "ports": [cage("SFP+", ("1G", "2.5G", "10G"))]},
            gate={"accepts": ["gate"]},
            links=[{"id": "L1", "ends": ["core", "gate"]}],
        ),
    ),
    "apc-panel-and-upc-module": (
        lambda plan: [end.cord for end in plan.links[0].ends],
        ["J-UPC-APC", "J-UPC-APC"],
        lambda: site(
            fiber("OS2", 500, connectors=["SC", "SC"], polish="APC"),
            [LX],
            cords=[
                {"part": "J-UPC-UPC", "grade": "OS2", "connectors": ["LC", "SC"], "polish": ["UPC", "UPC"], "price": 1.0},
                {"part": "J-UPC-APC", "grade": "OS2", "connectors": ["LC", "SC"], "polish": ["UPC", "APC"], "price": 9.0},
            ],
        ),
    ),
    "zr-27-km-pad": (
        lambda plan: [end.attenuator for end in plan.links[0].ends],
        ["PAD-5", "PAD-5"],
        lambda: at_10g(fiber("OS2", 27_000, attenuation_db_km={"1550": 0.4}), [STRONG], attenuators=PADS),
    ),
}


@pytest.mark.parametrize("name", SERVED)
def test_what_works_is_served_as_it_should_be(name: str) -> None:
    look, expected, documents = SERVED[name]
    plan = solve(*documents())
    assert not plan.unserved
    assert look(plan) == expected


def test_reach_may_be_waived_where_the_measured_loss_allows_it_and_the_plan_says_so() -> None:
    """lx-16-km-observed: with a waiver of the reach, and a loss that was measured."""
    plan = solve(*site(fiber("OS2", 16_000, measured_loss_db={"1310": 6.0}), [LX], policy={"waivers": [{"rule": "reach", "link": "L1"}]}))
    assert any(note.startswith("waived, at the user's own risk: ") for note in plan.links[0].notes)


def test_what_old_multimode_takes_at_10g_is_offered_where_the_catalog_has_it() -> None:
    """om1-200-m-upgrade-to-10g-sr: 10GBASE-LRM reaches 220 m on OM1, with mode-conditioning cords."""
    cords = [{"part": "MCP-OM1", "grade": "OM1", "connectors": ["LC", "LC"], "conditioning": True}]
    plan = solve(*at_10g(fiber("OM1", 200, connectors=["LC", "LC"]), [ten("SR", "10GBASE-SR"), ten("LRM", "10GBASE-LRM")], cords=cords))
    assert [(end.module, end.cord) for end in plan.links[0].ends] == [("LRM", "MCP-OM1")] * 2


def test_every_question_is_answered_or_listed_as_outside() -> None:
    assert set(QUESTIONS) == {*REFUSED, *SERVED, *OUTSIDE}
    assert not set(OUTSIDE) & {*REFUSED, *SERVED}
