"""A plan with the part numbers of the answer before, and the search from there, give what everything counted at once gives."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.errors import Cancelled
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver import rounds, same_parts, shares
from optiselect.solver.choice import Row, Stage, Task
from optiselect.solver.chosen import Chosen
from optiselect.solver.clusters import Way
from optiselect.solver.option import LinkRows, Option, OptionList
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
    (case(33), [("with_same_parts", False)]),
    (case(208), [("further", True)]),
    (case(359), [("with_same_parts", True), ("further", True)]),
    (case(51), [("with_same_parts", False)]),
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


@pytest.mark.parametrize("block", range(4))
def test_clusters_that_are_too_large_for_part_lists_give_the_same_values(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [case(seed) for seed in range(block * 15, block * 15 + 15)]
    best = [values(solve_bare(*documents)) for documents in cases]
    monkeypatch.setattr(shares, "_MOST_MEMBERS", 1)
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    assert [values(solve_bare(*documents)) for documents in cases] == best


def test_fewest_part_numbers_that_are_proven_are_not_searched_again(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []
    searched_on = rounds.searched_on
    monkeypatch.setattr(rounds, "searched_on", lambda *given: begun.append(given[1].stages) or searched_on(*given))
    monkeypatch.setattr(rounds, "_all_at_once", lambda *_: pytest.fail("searched from nothing"))
    monkeypatch.setattr(shares, "_MOST_MEMBERS", 1)
    plan = solve_bare(*case(21))
    assert plan.status == "optimal"
    assert [stage.proven for stages in begun for stage in stages if stage.name == "part_numbers"] == [True] * len(begun) != []


def test_search_that_cannot_go_on_from_the_fewest_begins_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*case(21)))
    monkeypatch.setattr(shares, "_MOST_MEMBERS", 1)
    monkeypatch.setattr(same_parts, "_taken", lambda *_: None)
    assert values(solve_bare(*case(21))) == best


def test_answer_at_hand_stands_where_the_whole_search_is_cut_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search of everything from nothing may end at more part numbers than were proven to be enough."""
    best = solve_bare(*case(21))
    monkeypatch.setattr(shares, "_MOST_MEMBERS", 1)
    monkeypatch.setattr(same_parts, "_taken", lambda *_: None)
    whole = rounds._all_at_once

    def cut_short(*given: Any) -> Chosen:
        found = whole(*given)
        at = [stage.name for stage in found.stages].index("part_numbers")
        stages = [*found.stages[:at], Stage("part_numbers", found.stages[at].value + 5, 0), *(Stage(stage.name, 0, 0) for stage in found.stages[at + 1 :])]
        return replace(found, stages=stages)

    monkeypatch.setattr(rounds, "_all_at_once", cut_short)
    found = {value.name: value for value in solve_bare(*case(21)).objective}
    assert found["part_numbers"] == next(value for value in best.objective if value.name == "part_numbers")


def test_caller_who_stops_before_the_search_goes_on_gets_the_answer_at_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    stopped = []
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    monkeypatch.setattr(rounds, "further", lambda *_: stopped.append(True))
    plan = solve_bare(*case(359), cancel=lambda: bool(stopped))
    assert (stopped, plan.status, plan.reproducible) == ([True], "feasible", False)
    assert [value.value for value in plan.objective][:3] == [value.value for value in solve_bare(*case(359)).objective][:3]


def way(*taken: int, names: str = "", sums: tuple[int, ...] = (0,) * 8, uses: int = 0) -> Way:
    return Way(taken, sums, (), frozenset(names), ((("power", "d"), uses),) if uses else ())


def option(names: str, strands: int = 1, unknown: int = 0, uses: int = 0) -> Option:
    its = ((("power", "d"), uses),) if uses else ()
    return Option(tuple((name, 1) for name in names), frozenset(names), 5, strands, 2, 0, unknown, 0, its, None)  # type: ignore[arg-type]


X, Y = option("x"), option("y")
ROWS = (
    Row((("a", "b"), ("c", "d")), (way(0, 1, names="xy"), way(1, 0, names="xy"), way(0, -1, names="x", sums=(0, -1, 0, 0, 0, 0, 0, 0)))),
    Row((("e",),), (way(0, names="x", sums=(0, -1, 0, 9, 9, 9, 9, 9), uses=3),)),
)
ROW = LinkRows(SimpleNamespace(critical=False, weight=1), "1G", (), ((), ()))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("options", "taken"),
    [
        ({"a": X, "b": Y, "c": Y, "d": X, "e": X}, [{0: 1, 1: 1}, {0: 1}]),
        ({"a": X, "b": Y, "c": X, "d": Y, "e": X}, [{0: 2}, {0: 1}]),
        ({"a": X, "e": X}, [{2: 1}, {0: 1}]),  # c and d are not served
        ({}, [{}, {}]),
        ({"a": X, "b": X}, None),  # nothing that serves both has no part number but x
        ({"e": option("x", strands=2, uses=3)}, [{}, {0: 1}]),  # not listed, but what is listed stands for it
        ({"e": option("xz", uses=4)}, [{}, {0: 1}]),
        ({"e": option("x", strands=2, uses=2)}, None),  # it took less
        ({"e": option("z", uses=3)}, None),  # of another part number
    ],
)
def test_answer_as_the_ways_of_a_task(options: dict[str, Option], taken: list[dict[int, int]] | None) -> None:
    lists = {link: OptionList((X, Y), (), (None, False), {}) for link in "abcde"}
    prepared = SimpleNamespace(options=lists, rows=dict.fromkeys("abcde", ROW))
    task = Task(ROWS, {}, (), {}, ("links", "unknowns", "part_numbers", "cost"))
    assert same_parts._taken(task, prepared, SimpleNamespace(options=options, prepared=prepared)) == taken  # type: ignore[arg-type]


def test_answer_that_would_count_otherwise_is_no_place_to_begin(said: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    best = values(solve_bare(*case(359)))
    monkeypatch.setattr(same_parts, "measure", lambda *_: -1)
    assert values(solve_bare(*case(359))) == best
    assert said[-1] == ("further", False)


@pytest.mark.parametrize(("own", "whole"), [(True, True), (True, False), (False, True), (False, False)])
def test_search_goes_on_from_the_best_there_is(own: bool, whole: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    at = {name: Chosen(None, None, [Stage("cost", value, bound)], {}, {"a": X}) for name, value, bound in (("found", 9, 0), ("own", 7, 0), ("whole", 6, 6))}  # type: ignore[arg-type]
    begun = []
    monkeypatch.setattr(same_parts, "FEW_LINKS", 0)
    monkeypatch.setattr(same_parts, "with_same_parts", lambda *_: at["own"] if own else None)
    monkeypatch.setattr(same_parts, "further", lambda _, best, *__: begun.append(best.stages[0].value) or (at["whole"] if whole else None))
    at["found"].counted = None  # type: ignore[assignment]
    found = same_parts.searched_on(None, at["found"], None, None)  # type: ignore[arg-type]
    assert begun == [7 if own else 9]
    assert (found and found.stages[0].value) == (6 if whole else 7 if own else None)


def test_effort_that_is_not_spent_is_given_back() -> None:
    watch = Watch(None, None, 60.0, 5.0)
    with watch.spending(1.0):
        assert watch.effort_left == 1.0
        watch.effort_left -= 0.75
    assert watch.effort_left == 4.25
    with watch.spending(9.0):
        assert watch.effort_left == 4.25
