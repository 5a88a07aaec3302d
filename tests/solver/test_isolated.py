"""A solve in a child process gives the same plan; of a child that does not keep its limits the plan is left that was checked first."""

import subprocess
import sys
import threading
from pathlib import Path

import pytest

from optiselect.errors import MissingExtraError, OptiselectError, PlanCheckError, SolverDisagreement
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import isolated
from optiselect.solver.audit import check
from optiselect.solver.progress import Progress
from optiselect.solver.solve import solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

NETWORK, CATALOG = Network(**site_network(12)), Catalog(**site_catalog(30))


def test_child_gives_the_same_plan_and_tells_its_progress() -> None:
    events: list[Progress] = []
    assert solve(NETWORK, CATALOG, isolate=True, on_progress=events.append) == solve(NETWORK, CATALOG)
    assert events[-1].stage == "check"


def test_child_takes_the_caller_s_cancel() -> None:
    stop = threading.Event()
    stop.set()
    assert solve(NETWORK, CATALOG, isolate=True, cancel=stop).status == "feasible"


@pytest.mark.parametrize("child", ["import time; time.sleep(60)", "raise SystemExit(1)", "print('{\"pl', end='')", "import os; os.kill(os.getpid(), 9)"])
def test_child_that_hangs_or_dies_leaves_a_plan_that_proves_nothing(child: str, monkeypatch: pytest.MonkeyPatch) -> None:
    started = subprocess.Popen
    monkeypatch.setattr(isolated.subprocess, "Popen", lambda command, **pipes: started([sys.executable, "-c", child], **pipes))
    monkeypatch.setattr(isolated, "GRACE_S", 0.2)
    plan = solve(NETWORK, CATALOG, Policy(time_limit_s=0.2), isolate=True)
    assert (plan.status, plan.reproducible, len(plan.links)) == ("feasible", False, 0)
    assert {refusal.kind for refusal in plan.unserved} == {"not-proven"}


SEARCH = """
import os, sys, time
from optiselect import errors
from optiselect.solver import isolated, solve
choose, asked = solve.choose_in_rounds, []
def search(*given):
    asked.append(given)
    if len(asked) == 2:
        {happens}
    return choose(*given)
solve.choose_in_rounds = search
isolated._child(iter(sys.stdin), sys.stdout)
"""
"""A child to which something happens in its search, after the first plan was handed over."""


def start_child(happens: str, monkeypatch: pytest.MonkeyPatch) -> None:
    started = subprocess.Popen
    monkeypatch.setattr(isolated.subprocess, "Popen", lambda command, **pipes: started([sys.executable, "-c", SEARCH.format(happens=happens)], **pipes))


ENDS = {
    "takes more memory than it may": "bytearray(3 * 10**9)",
    "crashes": "os.kill(os.getpid(), 9)",
    "hangs": "time.sleep(60)",
    "leaves": "os._exit(3)",
}


@pytest.mark.parametrize("happens", ENDS.values(), ids=ENDS)
def test_of_a_child_that_comes_to_no_end_the_plan_before_the_search_is_left(happens: str, monkeypatch: pytest.MonkeyPatch) -> None:
    start_child(happens, monkeypatch)
    monkeypatch.setattr(isolated, "GRACE_S", 0.5)
    plan = solve(NETWORK, CATALOG, Policy(time_limit_s=12), isolate=True, memory_limit_mb=1000)  # a busy machine takes seconds to start a child
    assert (plan.status, plan.reproducible, plan.notes[-1]) == ("feasible", False, isolated.ENDED_EARLY)
    assert len(plan.links) > len(NETWORK.wanted) / 2
    assert all(refusal.text for refusal in plan.unserved)
    assert [finding for finding in check(NETWORK, CATALOG, plan) if not finding.unknown] == []


ERRORS = {
    "two provers disagree": ("errors.SolverDisagreement('they differ', {'network': {}})", SolverDisagreement, "they differ"),
    "the check fails": ("errors.PlanCheckError(['reach: too far'])", PlanCheckError, "reach: too far"),
    "an extra is missing": ("errors.MissingExtraError('confirm')", MissingExtraError, r"optiselect\[confirm\]"),
}


@pytest.mark.parametrize(("raised", "kind", "told"), ERRORS.values(), ids=ERRORS)
def test_error_of_the_child_is_raised_and_not_hidden_behind_the_first_plan(
    raised: str, kind: type[OptiselectError], told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_child(f"raise {raised}", monkeypatch)
    with pytest.raises(kind, match=told):
        solve(NETWORK, CATALOG, isolate=True)


def test_limit_of_memory_that_is_not_reached_changes_nothing() -> None:
    assert solve(NETWORK, CATALOG, isolate=True, memory_limit_mb=1500) == solve(NETWORK, CATALOG)


def test_limit_of_memory_that_nothing_fits_in_leaves_no_links() -> None:
    plan = solve(NETWORK, CATALOG, isolate=True, memory_limit_mb=1)
    assert (plan.status, plan.reproducible, len(plan.links)) == ("feasible", False, 0)


def test_limit_of_memory_is_for_a_process_of_its_own() -> None:
    with pytest.raises(OptiselectError, match="ask for isolate=True as well"):
        solve(NETWORK, CATALOG, memory_limit_mb=1000)


def test_limit_of_memory_that_the_system_does_not_keep_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(isolated, "_MEMORY", tmp_path / "statm")
    with pytest.raises(OptiselectError, match="this system keeps no limit of memory"):
        solve(NETWORK, CATALOG, isolate=True, memory_limit_mb=1000)


def test_own_rules_do_not_cross_to_another_process() -> None:
    with pytest.raises(OptiselectError, match="cannot cross"):
        solve(NETWORK, CATALOG, Policy(rules=(lambda link: True,)), isolate=True)
