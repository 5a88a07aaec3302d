"""A plan with the part numbers of the answer before, and the search from there, give what everything counted at once gives."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.errors import Cancelled
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver import rounds, same_parts
from optiselect.solver.choice import Row
from optiselect.solver.chosen import Chosen
from optiselect.solver.clusters import Way
from optiselect.solver.progress import Watch
from optiselect.solver.solve import solve_bare
from tests.solver.families import case
from tests.solver.test_short_stock import site


def values(plan: Plan) -> tuple[str, list[tuple[str, float, float]]]:
    return plan.status, [(value.name, value.value, value.bound) for value in plan.objective]


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bool]]:
    """What was asked, and whether there was an answer."""
    told: list[tuple[str, bool]] = []

    def listened(name: str) -> Any:
        asked = getattr(rounds, name)

        def ask(*given: Any) -> Chosen | None:
            found: Chosen | None = asked(*given)
            told.append((name, found is not None))
            return found

        return ask

    for name in ("with_same_parts", "further"):
        monkeypatch.setattr(rounds, name, listened(name))
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    return told


CASES = [
    (case(21), [("with_same_parts", True)]),
    (case(28), [("with_same_parts", False)]),
    (case(208), [("further", True)]),
    (case(359), [("with_same_parts", True), ("further", True)]),
    (case(864), [("with_same_parts", False)]),  # ports run short as well, and serve fewer links
    (case(389), [("with_same_parts", True), ("further", True)]),
    ((*site(18), Policy()), [("further", True)]),
]


@pytest.mark.parametrize(("documents", "asked"), CASES)
def test_plan_is_as_good_as_with_everything_counted_at_once(documents: Any, asked: list[Any], said: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    plan = solve_bare(*documents)
    assert [each for each in said if each in asked] == asked
    monkeypatch.setattr(same_parts, "FEW_LINKS", 10**6)
    assert values(plan) == values(solve_bare(*documents))


@pytest.mark.parametrize("block", range(3))
def test_small_networks_have_the_same_values_either_way(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [case(seed) for seed in range(850 + block * 20, 870 + block * 20)]
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    found = [values(solve_bare(*documents)) for documents in cases]
    monkeypatch.setattr(same_parts, "FEW_LINKS", 10**6)
    assert found == [values(solve_bare(*documents)) for documents in cases]


@pytest.mark.parametrize("function", ["with_same_parts", "further"])
def test_caller_who_stops_is_heard(function: str, said: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    asked = getattr(rounds, function)

    class Stopped:
        """A preparation that lists nothing any more."""

        def counting(self, *_: Any, **__: Any) -> None:
            raise Cancelled

    monkeypatch.setattr(rounds, function, lambda _, *given: asked(Stopped(), *given))
    plan = solve_bare(*case(359))
    assert (function, False) in said
    assert plan.status == "optimal"


def test_search_that_cannot_begin_there_begins_anew(said: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*case(359)))
    monkeypatch.setattr(same_parts, "_taken", lambda *_: None)
    assert values(solve_bare(*case(359))) == best
    assert said[-1] == ("further", False)


def way(*taken: int) -> Way:
    return Way(taken, (0,) * 8, (), frozenset(), ())


ROWS = (Row((("a", "b"), ("c", "d")), (way(0, 1), way(1, 0), way(0, -1))), Row((("e",),), (way(0),)))
FOUND = {link: SimpleNamespace(options=("x", "y")) for link in "abcde"}


@pytest.mark.parametrize(
    ("options", "taken"),
    [
        ({"a": "x", "b": "y", "c": "y", "d": "x", "e": "x"}, [{0: 1, 1: 1}, {0: 1}]),
        ({"a": "x", "b": "y", "c": "x", "d": "y", "e": "x"}, [{0: 2}, {0: 1}]),
        ({"a": "x", "e": "x"}, [{2: 1}, {0: 1}]),  # c and d are not served
        ({}, [{}, {}]),
        ({"a": "y", "b": "y", "e": "x"}, None),  # no way is left of these
        ({"a": "x", "b": "y", "e": "z"}, None),  # an option that is not listed
    ],
)
def test_answer_as_the_ways_of_a_task(options: dict[str, Any], taken: list[dict[int, int]] | None) -> None:
    task, prepared = SimpleNamespace(rows=ROWS), SimpleNamespace(options=FOUND)
    assert same_parts._taken(task, prepared, options) == taken  # type: ignore[arg-type]


def test_effort_that_is_not_spent_is_given_back() -> None:
    watch = Watch(None, None, 60.0, 5.0)
    with watch.spending(1.0):
        assert watch.effort_left == 1.0
        watch.effort_left -= 0.75
    assert watch.effort_left == 4.25
    with watch.spending(9.0):
        assert watch.effort_left == 4.25
