"""When time is over, an answer that takes more than there is loses links until there is enough: the plan stands, and says what it may have missed."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver import let_go, rounds
from optiselect.solver.solve import solve_bare
from tests.solver.families import case


@pytest.fixture
def stopped(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Solves until the first answer is there, and no further; `let_go` says how often it was asked."""
    settled: list[object] = []
    asked: list[Plan] = []
    settle, without = rounds.settle_ports, rounds.let_go

    def settle_and_stop(*given: Any) -> Any:
        settled.append(given)
        return settle(*given)

    def ask(*given: Any) -> Any:
        asked.append(without(*given))
        return asked[-1]

    monkeypatch.setattr(rounds, "settle_ports", settle_and_stop)
    monkeypatch.setattr(rounds, "let_go", ask)

    def solve(network: Network, catalog: Catalog, policy: Policy) -> tuple[Plan, int]:
        settled.clear()
        asked.clear()
        return solve_bare(network, catalog, policy, cancel=lambda: bool(settled)), len(asked)

    return solve


@pytest.mark.parametrize("block", range(8))
def test_plan_without_some_links_is_sound_and_no_plan_beats_its_first_bound(block: int, stopped: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan that breaks a rule, or tells values that are not so, is refused in `solve_bare` itself."""
    monkeypatch.setattr(let_go, "MOST_LOST", 0)  # of so small a network one link is much
    met = 0
    for seed in range(block * 15, block * 15 + 15):
        network, catalog, policy = case(seed)
        plan, asked = stopped(network, catalog, policy)
        if asked:
            best = solve_bare(network, catalog, policy)
            assert len(plan.links) + len(plan.unserved) == len(network.wanted)
            assert (plan.status, plan.reproducible) == ("feasible", False)
            assert plan.objective[0].value <= best.objective[0].value <= plan.objective[0].bound
            assert all(value.bound <= value.value for value in plan.objective if value.name not in ("critical_links", "links"))
            met += 1
    assert met


def hall(weights: dict[str, dict[str, Any]], cages: int, **device: Any) -> Network:
    """Links of one kind from one device to others, each over fiber of its own."""
    others = [{"id": f"d{name}", "ports": [{"kind": "cage", "ids": "1", "form": "SFP", "rates": ["1G"]}]} for name in weights]
    core = {"id": "core", "ports": [{"kind": "cage", "ids": f"1-{cages}", "form": "SFP", "rates": ["1G"]}], **device}
    fiber = {"grade": "OS2", "length_m": 200, "strands": 2, "connectors": ["LC", "LC"], "polish": ["UPC", "UPC"]}
    runs = [{"id": f"F{name}", "ends": ["core", f"d{name}"], "routes": ["duct"], "fiber": fiber} for name in weights]
    links = [{"id": name, "ends": ["core", f"d{name}"], "rate": "1G", **stated} for name, stated in weights.items()]
    return Network(devices=[core, *others], runs=runs, links=links)


def parts(converters: list[dict[str, Any]] | None = None, **module: Any) -> Catalog:
    cords = [{"part": "CORD", "connectors": ["LC", "LC"], "polish": ["UPC", "UPC"], "grade": "OS2", "length_m": 2}]
    return Catalog(modules=[{"part": "LX", "standard": "1000BASE-LX10", "form": "SFP", "connector": "LC", **module}], cords=cords, converters=converters or [])


SEVEN: dict[str, dict[str, Any]] = {name: {"weight": weight} for name, weight in zip("ABCDEFG", (5, 1, 3, 9, 2, 4, 6), strict=True)}
CAGES: list[dict[str, Any]] = [{"kind": "cage", "ids": "1-6", "form": "SFP", "rates": ["1G"]}, {"kind": "copper", "id": "7", "rates": ["1G"]}]
BEFORE_COPPER = [{"part": "MC", "copper_rates": ["1G"], "form": "SFP", "rates": ["1G"]}]
"""With it a seventh link finds a port, which more part numbers than the fewest must be for."""
SHORT = {
    "ports": (hall(SEVEN, 6, ports=CAGES), parts(converters=BEFORE_COPPER), {"B"}),
    "stock": (hall(SEVEN, 7), parts(stock=11), {"B", "E"}),
    "power": (hall(SEVEN, 7, module_power_w=5.0), parts(power_w=1.0), {"B", "E"}),
    "stock, for what is critical": (hall(SEVEN | {"B": {"critical": True}}, 7), parts(stock=12), {"E"}),
    "nothing in common": (hall(SEVEN | {"B": {"weight": 2, "diverse_from": ["A"]}}, 7), parts(), {"B"}),
}


@pytest.mark.parametrize(("network", "catalog", "lost"), SHORT.values(), ids=SHORT)
def test_links_of_the_least_worth_are_let_go(network: Network, catalog: Catalog, lost: set[str], stopped: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(let_go, "MOST_LOST", 2)
    plan, asked = stopped(network, catalog, Policy())
    assert (asked, {refusal.id: refusal.kind for refusal in plan.unserved}) == (1, dict.fromkeys(lost, "not-proven"))


def test_where_too_much_would_be_lost_it_is_chosen_again(stopped: Any) -> None:
    few, other = parts(stock=9), parts(part="LX-B", price=300)
    plan, asked = stopped(hall(SEVEN, 7), Catalog(modules=[*few.modules, *other.modules], cords=few.cords), Policy())
    assert (asked, plan.unserved) == (1, ())
