"""A second opinion on what was proven: it agrees, or the disagreement is told, and never hidden."""

import pickle
import subprocess

import pytest

from optiselect.errors import MissingExtraError, SolverDisagreement
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import confirm, solve
from optiselect.solver.choice import choose
from optiselect.solver.second import NOT_INSTALLED
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
from tests.solver.families import FAMILIES, case

BOTH = ("second-configuration", "second-solver")


def asked(policy: Policy, by: str, **also) -> Policy:
    return policy.model_copy(update={"confirm": by, **also})


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("by", BOTH)
def test_the_second_opinion_says_the_same(by, family):
    network, catalog, policy = case(list(FAMILIES).index(family))
    proof = solve.solve_bare(network, catalog, asked(policy, by)).proof
    assert (proof.confirmed, proof.confirmed_by) == (True, (confirm.NAMES[by],))


def test_nobody_is_asked_by_default():
    proof = solve.solve_bare(*case(0)).proof
    assert (proof.confirmed, proof.confirmed_by) == (None, ())


@pytest.fixture
def worse(monkeypatch):
    """The first prover passes off the second-best as proven: a link more than needed stays unserved."""

    def chosen(task, watch):
        outcome = choose(task, watch)
        if outcome.taken and len(outcome.stages) == len(task.objectives):
            outcome.taken[0].clear()
            for stage in outcome.stages:
                stage.value = stage.bound = solve_measure(task, outcome.taken, stage.name)
        return outcome

    from optiselect.solver import choice, rounds

    solve_measure = choice.measure
    monkeypatch.setattr(rounds, "choose", chosen)


@pytest.mark.parametrize("by", BOTH)
def test_a_better_plan_is_told_with_the_case(worse, by, tmp_path):
    network, catalog, policy = case(0)
    with pytest.raises(SolverDisagreement, match=f"links: the plan has .*, and {confirm.NAMES[by]} has a plan of") as told:
        solve.solve_bare(network, catalog, asked(policy, by))
    told.value.save(tmp_path / "case.json")
    assert pickle.loads(pickle.dumps(told.value)).case == told.value.case
    assert Network(**told.value.case["network"]) == network
    assert Catalog(**told.value.case["catalog"]) == catalog
    assert (tmp_path / "case.json").stat().st_size > 1000


@pytest.mark.parametrize("by", BOTH)
def test_a_bound_that_the_plan_beats_is_told_too(by, monkeypatch):
    opinion = {"second-solver": "_of_second_solver", "second-configuration": "_of_second_configuration"}[by]
    monkeypatch.setattr(confirm, opinion, lambda *_: confirm.Found(10**9, None))
    with pytest.raises(SolverDisagreement, match="is the least"):
        solve.solve_bare(*case(0)[:2], asked(case(0)[2], by))


@pytest.mark.parametrize("ended", [subprocess.CompletedProcess("", -11, "", ""), subprocess.TimeoutExpired("", 1)])
def test_a_second_solver_that_does_not_come_to_an_end_confirms_nothing(ended, monkeypatch):
    def run(*_, **__):
        if isinstance(ended, Exception):
            raise ended
        return ended

    monkeypatch.setattr(confirm.subprocess, "run", run)
    proof = solve.solve_bare(*case(0)[:2], asked(case(0)[2], "second-solver")).proof
    assert (proof.confirmed, proof.confirmed_by) == (False, ())


def test_a_second_solver_that_is_not_installed_is_asked_for_by_its_extra(monkeypatch):
    monkeypatch.setattr(confirm.subprocess, "run", lambda *_, **__: subprocess.CompletedProcess("", NOT_INSTALLED, "", ""))
    with pytest.raises(MissingExtraError, match=r"optiselect\[confirm\]"):
        solve.solve_bare(*case(0)[:2], asked(case(0)[2], "second-solver"))


def test_what_is_not_proven_is_not_confirmed():
    """Without effort, nothing is asked of anybody."""
    network, catalog = Network(**site_network(20, profile="tight")), Catalog(**site_catalog(60, profile="tight"))
    proof = solve.solve_bare(network, catalog, asked(Policy(), "second-configuration", effort=1e-9)).proof
    assert (proof.confirmed, proof.confirmed_by) == (False, ())
