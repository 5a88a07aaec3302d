"""Work is bounded by counts: where a bound is met at once, the longer way gives a plan of the same values."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from optiselect import Catalog, Network, Policy
from optiselect.model.catalog import Module
from optiselect.model.plan import Plan
from optiselect.solver import part_lists, possible_by_model, replaced, rounds, shares
from optiselect.solver.choice import Task, choose
from optiselect.solver.cpsat import Result
from optiselect.solver.dominance import BITS
from optiselect.solver.part_list_walk import PartListWalk
from optiselect.solver.ports import PortDesk
from optiselect.solver.share_tables import ShareTables
from optiselect.solver.solve import solve_bare
from optiselect.solver.stage import StageModel
from optiselect.standards.transceiver import transceiver
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
from tests.solver.families import FAMILIES, case
from tests.solver.test_small_tasks import watch

SITES = {
    **{name: case(number) for number, name in enumerate(FAMILIES)},
    **{
        f"site {profile}": (Network(**site_network(20, profile=profile)), Catalog(**site_catalog(60, profile=profile)), Policy())
        for profile in ("tight", "usual")
    },
}
CAPS: dict[str, tuple[ModuleType, str, float]] = {
    "no further round": (rounds, "MOST_ROUNDS", 0),
    "no walk over part lists": (rounds, "_LITTLE_EFFORT", 0),
    "no search of part lists": (part_lists, "_MOST_EFFORT", 0),
    "no clusters of several": (shares, "_MOST_MEMBERS", 0),
}


def values(plan: Plan) -> list[tuple[str, float]]:
    return [(value.name, value.value) for value in plan.objective]


@pytest.mark.parametrize(("module", "name", "value"), CAPS.values(), ids=CAPS)
def test_bound_that_is_met_at_once_costs_no_value(module: ModuleType, name: str, value: float, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = {site: values(solve_bare(*documents)) for site, documents in SITES.items()}
    monkeypatch.setattr(module, name, value)
    assert {site: values(solve_bare(*documents)) for site, documents in SITES.items()} == expected


def test_walk_that_is_too_long_and_searches_that_settle_nothing_end_in_a_longer_walk(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = values(solve_bare(*SITES["site usual"]))
    monkeypatch.setattr(rounds, "_LITTLE_EFFORT", 0)
    monkeypatch.setattr(rounds, "possible_by_model", lambda *_: None)
    assert values(solve_bare(*SITES["site usual"])) == expected


def possible(task: Task) -> frozenset[str] | None:
    return possible_by_model.possible_by_model(task, choose(task, watch()), watch())


def parts_task() -> Iterator[Task]:
    from tests.solver.test_apart import row, way

    yield Task((row(way("A")),), {}, (), {}, ("links", "unknowns", "part_numbers"))
    yield Task((row(way("A"), way("B")),), {}, (), {}, ("links", "unknowns", "part_numbers"))


def test_part_numbers_of_any_plan_of_the_fewest() -> None:
    assert [possible(task) for task in parts_task()] == [frozenset("A"), frozenset("AB")]


@pytest.mark.parametrize("cap", ["searches", "effort"])
def test_part_numbers_that_are_not_settled_are_not_guessed(cap: str, monkeypatch: pytest.MonkeyPatch) -> None:
    _, task = parts_task()
    outcome = choose(task, watch())
    if cap == "searches":
        monkeypatch.setattr(possible_by_model, "_MOST_SEARCHES", 0)
    else:
        monkeypatch.setattr(StageModel, "solve", lambda *_, **__: Result(False, None, None))
    assert possible_by_model.possible_by_model(task, outcome, watch()) is None


def test_no_offers_need_nothing_and_have_no_part_numbers() -> None:
    none, places = np.zeros((0, 1), dtype=np.int64), np.zeros(0, dtype=np.int64)
    tables: Any = SimpleNamespace(size=2, needed=(np.array([2]), np.array([0])))
    tables.any_of = lambda masks, of: ShareTables.any_of(tables, masks, of)
    assert tables.any_of(none, places).tolist() == [[0], [0], [0]]
    walk: Any = SimpleNamespace(_effort=1.0, tables=tables)
    offers: Any = SimpleNamespace(values=places, masks=none, shares=places)
    needed, any_of = PartListWalk.more_needed(walk, offers, np.zeros(1, dtype=np.int64))
    assert (needed, any_of.tolist()) == (BITS, [0])  # more than there are part numbers: these offers serve nothing


def test_part_numbers_that_no_option_uses_are_left_out_of_a_mask() -> None:
    of: Any = SimpleNamespace(parts=("A",), _bit={"A": (0, 0)})
    assert shares.Shares.mask_of(of, ("A", "Z")).tolist() == [1]


def test_port_that_is_given_out_is_not_given_again() -> None:
    desk, group = PortDesk(), SimpleNamespace(names=("1", "2"))
    hashed: Any = type("Group", (), {"names": group.names})()
    assert [desk.take(hashed) for _ in range(2)] == ["1", "2"]
    with pytest.raises(IndexError):  # nobody asks for more ports than there are; who did would not be given one twice
        desk.take(hashed)


LIGHT: dict[str, Any] = {
    "part": "A",
    "form": "SFP",
    "rates": ["1G"],
    "medium": "fiber",
    "mode": "single-mode",
    "strands": 2,
    "tx_nm": [1290, 1330],
    "rx_nm": [1260, 1360],
}
LIGHT |= {"tx_dbm": [-9, -3], "rx_dbm": [-20, -3], "penalty_db": 1.0, "reach_m": {"single-mode": 10_000}, "dispersion_ps_nm": 100}


@pytest.mark.parametrize(
    ("worse", "is_no_worse"),
    [
        ({}, True),
        ({"penalty_db": 1.5}, False),
        ({"penalty_db": 0.5}, True),
        ({"reach_m": {"single-mode": 9_000}}, False),
        ({"dispersion_ps_nm": 90}, False),
        ({"rx_dbm": [-19, -3]}, False),
        ({"tx_dbm": [-10, -3]}, False),
    ],
)
def test_light_replaces_another_only_where_no_figure_is_worse(worse: dict[str, Any], is_no_worse: bool) -> None:
    light, other = (transceiver(Module(**stated), "1G") for stated in (LIGHT, LIGHT | worse))
    assert replaced._no_worse(other, light) is is_no_worse
