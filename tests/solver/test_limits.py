"""A solve that is cut short gives a checked plan that says so; deterministic effort cuts at the same place every time."""

import threading

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver.audit import findings_of_plan
from optiselect.solver.progress import Progress
from optiselect.solver.solve import solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

NETWORK, CATALOG = Network(**site_network(60)), Catalog(**site_catalog(120))


class Countdown:
    """A cancel signal that is set when it has been asked a number of times."""

    def __init__(self, asked: int) -> None:
        self.left = asked

    def is_set(self) -> bool:
        self.left -= 1
        return self.left < 0


@pytest.fixture(scope="module")
def asked_in_all() -> int:
    """How often a solve asks whether to stop."""
    never = Countdown(10**9)
    solve(NETWORK, CATALOG, cancel=never)
    return 10**9 - never.left


@pytest.mark.parametrize("share", [0.0, 0.02, 0.1, 0.5, 0.75, 0.95])
def test_plan_after_a_cancel_is_checked_and_never_called_optimal(share: float, asked_in_all: int) -> None:
    plan = solve(NETWORK, CATALOG, cancel=Countdown(int(asked_in_all * share)))
    assert (plan.status, plan.reproducible) == ("feasible", False)
    assert len(plan.links) + len(plan.unserved) == len(NETWORK.wanted)
    assert {refusal.kind for refusal in plan.unserved} <= {"not-proven"}
    assert all(finding.unknown for finding in findings_of_plan(plan, NETWORK, CATALOG, Policy()))


@pytest.mark.parametrize("objective", ["links", "part_numbers"])
def test_cancel_during_the_choice_keeps_what_was_found(objective: str) -> None:
    stop = threading.Event()

    def watch(event: Progress) -> None:
        {True: stop.set, False: int}[event.objective == objective]()

    plan = solve(NETWORK, CATALOG, cancel=stop, on_progress=watch)
    assert (plan.status, plan.reproducible) == ("feasible", False)
    assert len(plan.links) == len(NETWORK.wanted)


def test_cancel_that_never_comes_changes_nothing() -> None:
    assert solve(NETWORK, CATALOG, cancel=lambda: False) == solve(NETWORK, CATALOG)


@pytest.mark.parametrize("effort", [0.0001, 0.02, 0.1])
def test_effort_cuts_at_the_same_place_every_time(effort: float) -> None:
    first, second = (solve(NETWORK, CATALOG, Policy(effort=effort)) for _ in range(2))
    assert first == second
    assert first.reproducible


def test_least_effort_gives_a_whole_plan_with_its_gap() -> None:
    plan = solve(NETWORK, CATALOG, Policy(effort=0.0001))
    assert plan.status == "feasible"
    assert len(plan.links) == len(NETWORK.wanted)
    assert any(not objective.proven for objective in plan.objective)


def test_progress_is_told_in_order() -> None:
    events: list[Progress] = []
    solve(NETWORK, CATALOG, on_progress=events.append)
    stages = list(dict.fromkeys(event.stage for event in events))
    assert stages[-1] == "check" and "choice" in stages  # options are listed before and after the first choice
    assert [event.elapsed_s for event in events] == sorted(event.elapsed_s for event in events)
    assert all(0 <= event.done <= event.total for event in events)
