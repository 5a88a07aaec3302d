"""A solve in a child process gives the same plan, and a child that does not keep its limit is killed."""

import subprocess
import sys
import threading

import pytest

from optiselect.errors import OptiselectError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import isolated
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


def test_own_rules_do_not_cross_to_another_process() -> None:
    with pytest.raises(OptiselectError, match="cannot cross"):
        solve(NETWORK, CATALOG, Policy(rules=(lambda link: True,)), isolate=True)
