"""What a chain of runs says of itself, walked from the one end or the other."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.model.network import Network
from optiselect.rules.fitted import Path
from optiselect.solver.paths import Paths

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
