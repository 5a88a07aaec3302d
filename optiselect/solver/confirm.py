"""A second opinion: somebody else looks for a better plan than the one that was proven best.

One prover is not enough to order hardware on: a fault in its reductions would prove the wrong thing. The second opinion is
given by the same engine in another configuration, or by another engine in a process of its own, on a program that shares
nothing with the first model (`program`). Whatever either finds is recomputed in whole numbers.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from optiselect.errors import MissingExtraError
from optiselect.solver.choice import GREATEST, Name, Stage, Task, in_unit
from optiselect.solver.cpsat import search
from optiselect.solver.cpsat_model import Model
from optiselect.solver.program import Program, program_of
from optiselect.solver.progress import Watch
from optiselect.solver.second import NOT_INSTALLED

NAMES = {"second-configuration": "CP-SAT, without presolve", "second-solver": "HiGHS"}


@dataclass(frozen=True)
class Found:
    """What the other one found of an objective, in its unit.

    Attributes:
        bound: nothing less is possible; None: not settled in time.
        columns: the best answer that it found, None where it found none.
    """

    bound: int | None
    columns: Sequence[int] | None


class Disagreement(Exception):
    """Two provers say different things of one objective."""


def confirmed(task: Task, stages: Sequence[Stage], by: str, watch: Watch) -> bool:
    """Whether the other prover says the same of every objective; False when it did not come to an end in time.

    Raises:
        Disagreement: when it has a better plan, or says that the plan at hand cannot be.
        MissingExtraError: when the second solver is not installed.
    """
    program = program_of(task)
    if not program.upper:
        return True  # there is nothing to choose
    opinion = _of_second_solver if by == "second-solver" else _of_second_configuration
    values = {stage.name: (-stage.value if stage.name in GREATEST else stage.value) // program.unit[stage.name] for stage in stages}
    for done, stage in enumerate(stages):
        watch.tell("confirm", done, len(stages), objective=stage.name)
        fixed = {name: values[name] for name in task.objectives[:done]}
        found = opinion(program, stage.name, fixed, task, watch)
        better = found.columns
        if better is not None and _is_better(program, better, stage.name, fixed, values[stage.name]):
            told = program.value(stage.name, better) * program.unit[stage.name]
            raise Disagreement(f"{stage.name}: the plan has {in_unit(stage)[0]:g}, and {NAMES[by]} has a plan of {_in_unit(stage.name, told):g}")
        if found.bound is None:
            return False
        if found.bound > values[stage.name]:
            told = found.bound * program.unit[stage.name]
            raise Disagreement(f"{stage.name}: the plan has {in_unit(stage)[0]:g}, and {NAMES[by]} says that {_in_unit(stage.name, told):g} is the least")
        if found.bound < values[stage.name]:
            return False
    watch.tell("confirm", len(stages), len(stages))
    return True


def _is_better(program: Program, columns: Sequence[int], name: Name, fixed: Mapping[Name, int], value: int) -> bool:
    """Whether an answer keeps every limit and every earlier objective, and beats the plan's value: in whole numbers."""
    kept = program.allows(columns) and all(program.value(earlier, columns) <= least for earlier, least in fixed.items())
    return kept and program.value(name, columns) < value


def _in_unit(name: Name, value: int) -> float:
    return abs(value) / 10_000 if name == "cost" else abs(value)


def _of_second_configuration(program: Program, name: Name, fixed: dict[Name, int], task: Task, watch: Watch) -> Found:
    model = Model()
    for upper in program.upper:
        model.variable(upper)  # variables are counted as columns are
    sums: list[tuple[dict[int, int], int]] = [*program.limits, *((program.objectives[earlier], value) for earlier, value in fixed.items())]
    for terms, limit in sums:
        model.limit(terms.items(), most=limit)
    model.minimize(program.objectives[name].items())
    result = search(model, watch, seed=task.seed + 1, workers=1, presolve=False)
    return Found(result.bound if result.proven else None, result.solution)


def _of_second_solver(program: Program, name: Name, fixed: dict[Name, int], task: Task, watch: Watch) -> Found:
    """Ask HiGHS in a child process, which is killed when the time is over: two engines in one process have been seen to clash."""
    sums: Sequence[tuple[dict[int, int], int]] = [*program.limits, *((program.objectives[earlier], value) for earlier, value in fixed.items())]
    given = {"upper": program.upper, "limits": [[list(terms.items()), limit] for terms, limit in sums], "least": list(program.objectives[name].items())}
    left_s = watch.seconds_left
    try:
        child = subprocess.run(
            [sys.executable, "-m", "optiselect.solver.second"],
            input=json.dumps(given | {"seconds": left_s}),
            capture_output=True,
            text=True,
            timeout=left_s + 1,
        )
    except subprocess.TimeoutExpired:
        return Found(None, None)
    if child.returncode == NOT_INSTALLED:
        raise MissingExtraError("confirm")
    if child.returncode:
        return Found(None, None)  # it crashed: no opinion
    said: dict[str, Any] = json.loads(child.stdout)
    return Found(said["bound"], said["columns"])
