"""One search by CP-SAT: repeatable (one worker, fixed seed, deterministic work), stoppable by clock or caller, and never silent for long.

The engine works in a thread of its own. The caller's cancel signal and callback are asked and told in the thread that called, as everywhere else.
"""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from optiselect.solver.progress import Watch

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

_POLL_S = 0.05


@dataclass
class Result:
    """What a search found.

    Attributes:
        proven: nothing better is possible.
        solution: the solver, holding a solution; None when none was found.
        bound: the best value that is still possible, None when not known.
    """

    proven: bool
    solution: Any
    bound: int | None

    def value(self, variable: Any) -> int:
        """The value of a variable in the solution."""
        return int(self.solution.value(variable))


def search(model: cp_model.CpModel, watch: Watch, *, seed: int, workers: int, presolve: bool = True, most_effort: float = math.inf) -> Result:
    """Solve a model within the effort and time that the watch has left, and within an effort of its own."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = workers
    parameters.random_seed = seed
    parameters.cp_model_presolve = presolve
    parameters.linearization_level = 2
    parameters.cp_model_probing_level = 0  # probing and symmetry took two thirds of the time of large stages, and found nothing there
    parameters.symmetry_level = 0
    parameters.max_deterministic_time = min(watch.effort_left, most_effort)
    parameters.max_time_in_seconds = max(0.01, watch.seconds_left)
    parameters.catch_sigint_signal = False  # what an interrupt means is for the caller to say
    status = _solved(solver, model, watch)
    watch.effort_left -= solver.response_proto.deterministic_time
    stopped = watch.out_of_time
    proven = status == cp_model.OPTIMAL and not stopped
    has_solution = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    bound: int | None = None
    if status != cp_model.MODEL_INVALID and math.isfinite(solver.best_objective_bound):
        bound = round(solver.best_objective_bound)
    return Result(proven, solver if has_solution else None, bound)


def _solved(solver: cp_model.CpSolver, model: cp_model.CpModel, watch: Watch) -> Any:
    """Run the engine to its end; tell it to stop, again and again, from when the watch says so."""
    ended: list[Any] = []

    def solve() -> None:
        try:
            ended.append(solver.solve(model))
        except BaseException as error:  # goes on in the thread that called
            ended.append(error)

    engine = threading.Thread(target=solve, daemon=True)
    engine.start()
    try:
        while engine.is_alive():
            engine.join(_POLL_S)
            if watch.out_of_time:
                solver.stop_search()
    finally:
        while engine.is_alive():  # the callback raised, or an interrupt came
            solver.stop_search()
            engine.join(_POLL_S)
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]
