"""The fewest part numbers, proven once more by plain enumeration: it agrees, says so objective by objective, and tells a wrong proof."""

from __future__ import annotations

from itertools import chain, combinations
from random import Random

import pytest

from optiselect.errors import SolverDisagreement
from optiselect.solver import apart, rounds, solve
from optiselect.solver.choice import Row, Stage, Task
from optiselect.solver.clusters import Way
from tests.solver.families import FAMILIES, case

Rows = list[set[frozenset[str]]]


def some_rows(draw: Random) -> Rows:
    """Rows that each go one of a few ways, by one to three part numbers of seven."""
    return [{frozenset(draw.sample("ABCDEFG", draw.randint(1, 3))) for _ in range(draw.randint(1, 4))} for _ in range(draw.randint(1, 6))]


def fewest(rows: Rows) -> int:
    """By trying every set of part numbers, the smallest first."""
    parts = sorted(set(chain.from_iterable(chain.from_iterable(rows))))
    tries = chain.from_iterable(combinations(parts, count) for count in range(len(parts) + 1))
    return next(len(chosen) for chosen in tries if all(any(way <= set(chosen) for way in row) for row in rows))


@pytest.mark.parametrize("seed", range(200))
def test_enumeration_finds_what_trying_every_set_finds(seed: int) -> None:
    rows = some_rows(Random(seed))
    least = fewest(rows)
    assert [apart._fewer_will_do(rows, count) for count in range(9)] == [least < count for count in range(9)]


def way(parts: str, *, unknown: int = 0, uses: int = 0) -> Way:
    taken = ((("strands", "F1"), uses),) if uses else ()
    return Way((0,), (0, -1, unknown, 0, 0, 0, 0, 0), tuple((part, 1) for part in parts), frozenset(parts), taken)


def row(*ways: Way) -> Row:
    return Row((("L1",),), ways)


BEFORE = ("links", "unknowns", "part_numbers")
APART = row(way("A")), row(way("B"), way("C"))


@pytest.mark.parametrize(
    ("rows", "count", "confirmed"),
    [
        (APART, 2, True),
        ((row(way("AB"), way("CD", unknown=1)), row(way("CD"))), 4, True),  # one part number fewer would rest on an unknown
        ((row(way("A", uses=1), way("B")), row(way("A"))), 2, False),  # may be the strands that ask for the second
        ((row(way("A", uses=1), way("B")), row(way("C"))), 2, True),
        ((row(way("A", uses=1)), row(way("C"))), 2, False),  # the first may be left out
    ],
)
def test_number_is_confirmed_where_every_plan_has_as_many(rows: tuple[Row, ...], count: int, confirmed: bool) -> None:
    stages = [Stage("links", -2, -2), Stage("unknowns", 0, 0), Stage("part_numbers", count, count)]
    assert apart.fewest_confirmed(Task(rows, {}, (), {}, BEFORE), stages) is confirmed


NOT_ASKED = {
    "not proven": (Task(APART, {}, (), {}, BEFORE), 1),
    "more will do": (Task(APART, {}, (), {}, BEFORE, most_part_numbers=5), 2),
    "cost with spares comes before": (Task(APART, {}, (), {"A": None}, ("links", "unknowns", "cost", "part_numbers")), 2),  # type: ignore[dict-item]
    "part numbers are no objective": (Task(APART, {}, (), {}, ("links", "unknowns", "strands")), 2),
}


@pytest.mark.parametrize(("task", "bound"), NOT_ASKED.values(), ids=NOT_ASKED)
def test_nothing_is_confirmed_where_it_does_not_apply(task: Task, bound: int) -> None:
    stages = [Stage(name, 2, bound if name == "part_numbers" else 2) for name in task.objectives]
    assert not apart.fewest_confirmed(task, stages)


@pytest.mark.parametrize("limit", ["MOST_WAYS", "MOST_LOOKS"])
def test_too_much_to_look_at_confirms_nothing(limit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, limit, 1)
    stages = [Stage("links", -2, -2), Stage("unknowns", 0, 0), Stage("part_numbers", 3, 3)]
    assert not apart.fewest_confirmed(Task(APART, {}, (), {}, BEFORE), stages)


# In a plan


@pytest.mark.parametrize("family", FAMILIES)
def test_plan_says_of_which_objectives_it_is_sure(family: str) -> None:
    network, catalog, policy = case(list(FAMILIES).index(family))
    plan = solve.solve_bare(network, catalog, policy)
    sure = set(plan.proof.confirmed_objectives)
    assert sure <= {objective.name for objective in plan.objective if objective.proven}
    assert {objective.name for objective in plan.objective if objective.name == "unknowns" and objective.value == 0} <= sure
    assert ("links" in sure) is (not any(refusal.kind != "impossible" for refusal in plan.unserved))


def test_whoever_is_asked_confirms_every_objective() -> None:
    network, catalog, policy = case(0)
    plan = solve.solve_bare(network, catalog, policy.model_copy(update={"confirm": "second-configuration"}))
    assert plan.proof.confirmed_objectives == tuple(objective.name for objective in plan.objective)
    assert "part_numbers" in solve.solve_bare(network, catalog, policy).proof.confirmed_objectives


def test_number_that_is_not_the_fewest_is_told_with_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    network, catalog, policy = case(0)
    real = rounds.choose

    def one_more(task, watch):  # type: ignore[no-untyped-def]
        outcome = real(task, watch)
        for stage in outcome.stages:
            stage.value += stage.name == "part_numbers"
            stage.bound += stage.name == "part_numbers"
        return outcome

    monkeypatch.setattr(rounds, "choose", one_more)
    with pytest.raises(SolverDisagreement, match="a plain enumeration serves everything with fewer") as told:
        solve.solve_bare(network, catalog, policy)
    assert set(told.value.case) == {"network", "catalog", "policy", "said"}
