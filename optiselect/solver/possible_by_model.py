"""The part numbers of all plans of the fewest part numbers by searches of a model: for sites where a walk over part lists goes on and on."""

from __future__ import annotations

from optiselect.solver.choice import Outcome, Task
from optiselect.solver.progress import Watch
from optiselect.solver.stage import StageModel

_MOST_SEARCHES = 12
_EFFORT_A_SEARCH = 0.2


def possible_by_model(task: Task, outcome: Outcome, watch: Watch) -> frozenset[str] | None:
    """The part numbers, where the outcome has proven the fewest as its last stage; None when that was not settled with little effort.

    Each search looks for a plan of `fewest` part numbers with as many as can be that no plan before it had; when none is left, the parts
    not met cannot be in such a plan. The ways with the fewest names are enough to see this: in a plan of the fewest part numbers each is
    needed by some row, in every way that the plan's part numbers leave to that row, so also in the ways that were kept.
    """
    met = frozenset(part for row, counts in zip(task.rows, outcome.taken, strict=True) for index in counts for part in row.ways[index].names)
    model = StageModel(task, outcome, ("part_numbers",), (1,))
    for _ in range(_MOST_SEARCHES):
        unseen = frozenset(model.part) - met
        if not unseen:
            return met
        model.seek(unseen)
        result = model.solve(watch, most_effort=_EFFORT_A_SEARCH)
        if result.solution is None:
            return None
        found = frozenset(part for part in unseen if result.value(model.part[part]))
        if not found:
            return met if result.proven else None
        met |= found
    return None
