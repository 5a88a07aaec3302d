"""What a chain of runs says of itself, walked from the one end or the other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from optiselect.model.network import Network, Site
from optiselect.rules.fitted import Path
from optiselect.solver.paths import Paths
from tests.rules.fitting import built_to, link
from tests.rules.fitting import fiber as rule_fiber

FIBER = {"length_m": 10, "strands": 2}


def path(first: dict[str, Any], second: dict[str, Any], *, turned: bool = False) -> Path:
    """Two runs from a over a panel to b; `turned`: both are written from their far end."""
    ends = [["a", "p"], ["p", "b"]]
    written = [pair[::-1] if turned else pair for pair in ends]
    network = Network(
        devices=[{"id": "a"}, {"id": "b"}],
        panels=[{"id": "p"}],
        runs=[{"id": f"R{number}", "ends": pair, **run} for number, (pair, run) in enumerate(zip(written, (first, second), strict=True), 1)],
        links=[{"id": "L", "ends": ["a", "b"]}],
    )
    (found,) = Paths(network).of(network.wanted[0])
    return found


def fiber(grade: str, *connectors: str, **more: Any) -> dict[str, Any]:
    return {"fiber": {**FIBER, "grade": grade, **({"connectors": connectors} if connectors else {}), **more}}


@pytest.mark.parametrize("categories", [("Cat5e", "Cat6A"), ("Cat6A", "Cat5e")])
def test_a_chain_of_copper_is_of_its_least_category(categories: tuple[str, str]) -> None:
    first, second = ({"copper": {"category": category, "length_m": 10}} for category in categories)
    assert path(first, second).category == "Cat5e"
    assert path(fiber("OS2"), fiber("OS2")).category is None


@pytest.mark.parametrize(("grades", "multimode"), [(("OM3", "OM4"), True), (("OS2", "OS1"), False), (("OS2", "OM3"), True)])
def test_any_multimode_fiber_makes_a_path_multimode(grades: tuple[str, str], multimode: bool) -> None:
    assert path(*map(fiber, grades)).is_multimode is multimode


def test_each_end_shows_the_connector_that_is_there_whichever_end_is_written_first() -> None:
    straight = path(fiber("OS2", "LC", "SC", polish="UPC"), fiber("OS2", "ST", "FC"))
    assert (straight.presents(0), straight.presents(1)) == (("LC", "UPC"), ("FC", None))
    turned = path(fiber("OS2", "SC", "LC", polish="UPC"), fiber("OS2", "FC", "ST"), turned=True)
    assert (turned.presents(0), turned.presents(1)) == (("LC", "UPC"), ("FC", None))
    silent = path(fiber("OS2"), fiber("OS2", "ST", "FC"))
    assert (silent.presents(0), silent.presents(1)) == (None, ("FC", None))


def test_a_joint_counts_once_with_the_run_before_it() -> None:
    """Two plugs at devices and one mated pair at the panel, unless the run says otherwise."""
    assumed = path(fiber("OS2"), fiber("OS2"))
    assert [assumed.connections_of(index) for index in (0, 1)] == [2, 1]
    stated = path(fiber("OS2", connections=0), fiber("OS2", connections=5))
    assert [stated.connections_of(index) for index in (0, 1)] == [0, 5]


def test_every_joint_of_a_longer_chain_is_between_its_own_two_runs() -> None:
    chain = [("a", "p", "A1", "A2"), ("p", "q", "B1", "B2"), ("q", "b", "C1", "C2")]
    shown = {"A1": "LC", "A2": "SC", "B1": "ST", "B2": "FC", "C1": "MU", "C2": "LC"}
    network = Network(
        devices=[{"id": "a"}, {"id": "b"}],
        panels=[{"id": "p"}, {"id": "q"}],
        runs=[{"id": first, "ends": [start, stop], **fiber("OS2", shown[first], shown[second])} for start, stop, first, second in chain],
        links=[{"id": "L", "ends": ["a", "b"]}],
    )
    (found,) = Paths(network).of(network.wanted[0])
    assert [(panel.id, before, after) for panel, before, after in found.joints()] == [("p", ("SC", None), ("ST", None)), ("q", ("FC", None), ("MU", None))]


@pytest.mark.parametrize(("category", "medium"), [("Cat6", "copper"), ("single-pair", "single-pair"), ("coax", "coax")])
def test_copper_is_of_the_kind_of_its_category_and_has_no_mated_fibers(category: str, medium: str) -> None:
    run = {"copper": {"category": category, "length_m": 10}}
    assert path(run, run).medium == medium
    assert path(run, run).connections_of(0) == path(run, run).connections_of(1) == 0
    assert path(fiber("OS2"), fiber("OS2")).medium == "fiber"


def test_lengths_add_up_to_a_millimeter() -> None:
    assert path(fiber("OS2", length_m=549.9004), fiber("OS2", length_m=0.1004)).length_m == 550.001


def test_cores_and_grades_are_in_order_whatever_comes_first() -> None:
    lx = built_to("1000BASE-LX")
    mixed = link(lx, lx, *(rule_fiber(10, grade) for grade in ("OS2", "OM1", "OM2", "50/400/400"))).path
    assert mixed.cores == ("50", "62.5", "9")
    assert mixed.grades == ("50/400/400", "OM1", "OM2", "OS2")


def test_measured_run_meets_the_row_of_its_bandwidth_and_the_others_that_of_their_grade() -> None:
    poor, plain = fiber("OM1", modal_bandwidth_mhz_km={850: 20}), fiber("50/400/400")
    assert path(plain, poor).grades_at((850, 850)) == path(poor, plain).grades_at((850, 850)) == (None, "50/400/400")
    assert path(fiber("OM1"), plain).grades_at((850, 850)) == ("50/400/400", "OM1")


def one_turned(which: int) -> Path:
    """LC at a, SC and ST at the panel, FC at b; the one run or the other is written from its far end."""
    runs, ends = [("LC", "SC"), ("ST", "FC")], [["a", "p"], ["p", "b"]]
    written = [(pair[::-1], shown[::-1]) if index == which else (pair, shown) for index, (pair, shown) in enumerate(zip(ends, runs, strict=True))]
    network = Network(
        devices=[{"id": "a"}, {"id": "b"}],
        panels=[{"id": "p"}],
        runs=[{"id": f"R{index}", "ends": pair, **fiber("OS2", *shown)} for index, (pair, shown) in enumerate(written)],
        links=[{"id": "L", "ends": ["a", "b"]}],
    )
    (found,) = Paths(network).of(network.wanted[0])
    return found


@pytest.mark.parametrize("which", [0, 1])
def test_run_that_is_written_from_its_far_end_shows_the_same_at_each_of_its_ends(which: int) -> None:
    found = one_turned(which)
    assert (found.presents(0), found.presents(1)) == (("LC", None), ("FC", None))
    assert [(before, after) for _, before, after in found.joints()] == [(("SC", None), ("ST", None))]


ALIKE = fiber("OS2", "LC", "SC")
DIFFERENT = {
    "the plug at the first end": (fiber("OS2", "FC", "SC"), ALIKE),
    "the plug at the last end": (ALIKE, fiber("OS2", "LC", "FC")),
    "the joint": (fiber("OS2", "LC", "ST"), ALIKE),
    "the grade": (fiber("OS1", "LC", "SC"), fiber("OS1", "LC", "SC")),
}


@pytest.mark.parametrize("runs", DIFFERENT.values(), ids=DIFFERENT)
def test_paths_that_a_rule_of_a_pair_could_tell_apart_have_another_profile(runs: tuple[dict[str, Any], dict[str, Any]]) -> None:
    assert path(*runs).profile != path(ALIKE, ALIKE).profile


def test_measured_bandwidth_is_in_the_profile_and_so_is_earth_on_copper_only() -> None:
    slow, slower = (fiber("OM3", modal_bandwidth_mhz_km={850: mhz_km}) for mhz_km in (500, 400))
    assert len({path(fiber("OM3"), second).profile for second in (fiber("OM3"), slow, slower)}) == 3
    apart, together = (Site(id="x", building="x"), Site(id="y", building="y"), Site(id="x", building="x")), (Site(id="x", building="x"),) * 3
    copper_run = {"copper": {"category": "Cat6", "length_m": 10}}
    for runs, told_apart in ((copper_run, True), (fiber("OS2"), False)):
        found = path(runs, runs)
        assert (replace(found, sites=apart).profile != replace(found, sites=together).profile) is told_apart
        assert (replace(found, sites=(None, *apart[1:])).profile != replace(found, sites=apart).profile) is told_apart


@pytest.mark.parametrize("second", [("SC", "LC"), ("LC", "SC")])
def test_chains_that_meet_or_end_in_other_connectors_are_cabled_otherwise(second: tuple[str, str]) -> None:
    def chain(connectors: tuple[str, str]) -> Any:
        runs = (rule_fiber(100, connectors=("LC", "LC")), rule_fiber(100, connectors=connectors))
        return link(None, None, *runs).path.cabling.profile

    assert chain(second) != chain(("LC", "LC"))
