"""The choice and both second opinions on random small tasks, against trying every way of every row.

Strands, ports, stock, pairs that must be apart and spares stand in these tasks as they are: in most networks they are settled before.
"""

from __future__ import annotations

from collections import Counter
from itertools import product
from random import Random

import pytest

from optiselect.solver import confirm
from optiselect.solver.choice import GREATEST, Name, Row, SpareSteps, Stage, Task, choose, measure
from optiselect.solver.clusters import Way
from optiselect.solver.program import program_of
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Resource

STRANDS: Resource = ("strands", "F1")
PORTS: Resource = ("ports", "core")
ORDERS: tuple[tuple[Name, ...], ...] = (
    ("links", "unknowns", "part_numbers", "cost", "strands"),
    ("links", "cost", "part_numbers", "modules"),
    ("critical_links", "links", "cost", "part_numbers"),
)


def some_task(draw: Random) -> Task:
    """Three or four rows of two or three ways; what is there is not enough for all that is wanted."""
    rows, apart = [], []
    for number in range(draw.randint(3, 4)):
        routes = [("routes", f"L{number}", duct) for duct in "ab"]
        ways = []
        for duct in range(draw.randint(2, 3)):
            parts = Counter(draw.choice("ABCD") for _ in range(2))
            uses = [(resource, draw.randint(1, 2)) for resource in (STRANDS, PORTS) if draw.random() < 0.6]
            uses += [(routes[duct], 1)] if duct < 2 else []
            sums = (-draw.randint(0, 1), -draw.randint(1, 3), draw.randint(0, 1), 100 * draw.randint(1, 9), draw.randint(1, 2), 2, 0, 0)
            ways.append(Way((0,), sums, tuple(sorted(parts.items())), frozenset(parts), tuple(uses)))
        rows.append(Row(((f"L{number}",),), tuple(ways)))
        if number:
            apart.append((("routes", f"L{number - 1}", "a"), routes[0]))
    spares = {part: SpareSteps(tuple(sorted(draw.choices(range(1, 12), k=3))), 100 * draw.randint(1, 5)) for part in "AB"} if draw.random() < 0.5 else {}
    return Task(tuple(rows), {STRANDS: draw.randint(2, 4), PORTS: draw.randint(2, 4)}, tuple(apart), spares, draw.choice(ORDERS))


def is_possible(task: Task, taken: list[dict[int, int]]) -> bool:
    used: Counter[Resource] = Counter()
    for row, counts in zip(task.rows, taken, strict=True):
        for index in counts:
            used.update(dict(row.ways[index].uses))
    kept = all(used[resource] <= limit for resource, limit in task.capacity.items())
    return kept and not any(used[first] and used[second] for first, second in task.apart)


def best_of_all(task: Task) -> tuple[int, ...]:
    """The values of the best of all combinations, objective after objective; what counts as more is negative."""
    combinations = product(*[[{}, *({index: 1} for index in range(len(row.ways)))] for row in task.rows])
    values = [
        tuple(measure(task, taken, name) * (-1 if name in GREATEST else 1) for name in task.objectives) for taken in combinations if is_possible(task, taken)
    ]
    return min(values)


def watch() -> Watch:
    return Watch(None, None, 60, 100)


@pytest.mark.parametrize("seed", range(60))
def test_choice_is_the_best_of_all_combinations_and_others_confirm_it(seed: int) -> None:
    task = some_task(Random(seed))
    stages = choose(task, watch()).stages
    assert tuple(stage.value * (-1 if stage.name in GREATEST else 1) for stage in stages) == best_of_all(task)
    assert all(stage.proven for stage in stages)
    assert confirm.confirmed(task, stages, "second-configuration", watch())


@pytest.mark.parametrize("seed", range(4))
def test_second_solver_confirms_the_best_of_all_combinations(seed: int) -> None:
    task = some_task(Random(seed))
    assert confirm.confirmed(task, choose(task, watch()).stages, "second-solver", watch())


@pytest.mark.parametrize("seed", range(60))
def test_plan_that_is_worse_in_one_objective_is_not_confirmed(seed: int) -> None:
    task = some_task(Random(seed))
    stages = choose(task, watch()).stages
    last = stages[-1]
    stages[-1] = Stage(last.name, last.value + 100, last.bound + 100)
    with pytest.raises(confirm.Disagreement, match=f"{last.name}: the plan has"):
        confirm.confirmed(task, stages, "second-configuration", watch())


def test_bound_below_the_plan_settles_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    task = some_task(Random(1))
    monkeypatch.setattr(confirm, "_of_second_configuration", lambda *_: confirm.Found(-(10**9), None))
    assert not confirm.confirmed(task, choose(task, watch()).stages, "second-configuration", watch())


def test_steps_beyond_what_can_be_bought_are_no_columns_of_the_program() -> None:
    way = Way((0,), (0, -1, 0, 100, 2, 2, 0, 0), (("A", 2),), frozenset("A"), ())
    apart: tuple[tuple[Resource, Resource], ...] = ((("routes", "L1", "a"), ("routes", "L2", "a")),)  # neither of which anything takes
    task = Task((Row((("L1",),), (way,)),), {}, apart, {"A": SpareSteps((1, 2, 3), 500)}, ("links", "cost"))
    assert len(program_of(task).upper) == 4  # the way, the part number, and the steps from one and from two units on
