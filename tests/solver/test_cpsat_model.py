"""The model that the search writes itself is the one that the usual door to the engine makes of the same sums; nothing loads that door."""

import subprocess
import sys
from random import Random
from typing import Any

import pytest
from ortools.sat.python import cp_model, cp_model_helper

from optiselect.solver.cpsat import search
from optiselect.solver.cpsat_model import Model
from optiselect.solver.progress import Watch


def as_written(message: Any) -> tuple[Any, ...]:
    """What a message says, whatever the order in which a sum names its variables, and whether it names one whose factor is nothing."""

    def signed(sum_: Any) -> list[tuple[int, int]]:
        return sorted((variable, factor) for variable, factor in zip(sum_.vars, sum_.coeffs, strict=True) if factor)

    constraints = [
        (sorted(its.exactly_one.literals), sorted(its.at_most_one.literals), signed(its.linear), list(its.linear.domain)) for its in message.constraints
    ]
    hint = sorted(zip(message.solution_hint.vars, message.solution_hint.values, strict=True))
    objective = message.objective
    return [list(its.domain) for its in message.variables], constraints, signed(objective), objective.offset, objective.scaling_factor, hint


def both(seed: int) -> tuple[Model, cp_model.CpModel]:
    """One random model, once by each door."""
    random = Random(seed)
    own, usual = Model(), cp_model.CpModel()
    most = [random.choice((1, 1, 1, 4)) for _ in range(8)]
    variables = [own.variable() if upper == 1 else own.variable(upper) for upper in most]
    others = [usual.new_int_var(0, upper, "") for upper in most]
    switches = [index for index, upper in enumerate(most) if upper == 1]
    one, few = random.sample(switches, 2), random.sample(switches, 2)
    own.exactly_one([variables[index] for index in one])
    usual.add_exactly_one(others[index] for index in one)
    own.at_most_one([variables[index] for index in few])
    usual.add_at_most_one(others[index] for index in few)
    for _ in range(6):
        terms = [(random.randrange(8), random.randint(-3, 5) or 1) for _ in range(4)]  # a variable may come twice
        least, highest = random.randint(-9, 2), random.randint(1, 12)
        sum_ = sum(others[index] * factor for index, factor in terms)
        own.limit(terms, most=highest)
        usual.add(sum_ <= highest)
        own.limit(terms, least=least)
        usual.add(sum_ >= least)
    own.minimize([(0, 7)])  # the last aim counts
    own.minimize(enumerate(range(-4, 4)))
    usual.minimize(sum(others[index] * factor for index, factor in enumerate(range(-4, 4))))
    own.hint(variables[3], 1)
    usual.add_hint(others[3], 1)
    return own, usual


@pytest.mark.parametrize("seed", range(20))
def test_message_is_that_of_the_usual_door(seed: int) -> None:
    own, usual = both(seed)
    assert as_written(own.message) == as_written(usual.proto)


@pytest.mark.parametrize("seed", range(20))
def test_answer_is_that_of_the_usual_door(seed: int) -> None:
    own, usual = both(seed)
    solver = cp_model.CpSolver()
    status = solver.solve(usual)
    found = search(own, Watch(None, None, 60.0, 1e3), seed=1, workers=1)
    if status == cp_model.INFEASIBLE:
        assert found.solution is None
        return
    assert status == cp_model.OPTIMAL
    assert found.proven
    assert found.bound == round(solver.objective_value)
    assert found.solution is not None
    assert sum(found.value(index) * factor for index, factor in enumerate(range(-4, 4))) == found.bound


def test_random_models_have_answers_and_have_none() -> None:
    assert {cp_model.CpSolver().solve(both(seed)[1]) for seed in range(20)} == {cp_model.OPTIMAL, cp_model.INFEASIBLE}


def test_limit_on_nothing_holds_or_does_not() -> None:
    holds, breaks = Model(), Model()
    for model, most in ((holds, 0), (breaks, -1)):
        model.minimize([(model.variable(), 1)])
        model.limit([], most=most)
    assert search(holds, Watch(None, None, 9.0, 9.0), seed=1, workers=1).bound == 0
    assert search(breaks, Watch(None, None, 9.0, 9.0), seed=1, workers=1).solution is None


def test_engine_has_what_is_asked_of_it() -> None:
    """These names are behind the usual door: a release of the engine without them must be noticed here first."""
    assert {"CpModelProto", "SatParameters", "SolveWrapper", "CpSolverStatus"} <= set(dir(cp_model_helper))
    assert cp_model.CpModelProto is cp_model_helper.CpModelProto
    assert cp_model.SatParameters is cp_model_helper.SatParameters


def test_planning_loads_no_pandas() -> None:
    """Where it is used, it is loaded then (`Plan.frame`)."""
    script = """
import sys
from optiselect import Catalog, Network, solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
plan = solve(Network(**site_network(20)), Catalog(**site_catalog(40)))
assert plan.status == "optimal" and not plan.unserved
print("ortools" in sys.modules, "pandas" in sys.modules, "optiselect.explain" in sys.modules)
"""
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == ["True", "False", "False"]  # nor what tells why a link is not served, where each is
