"""One search by CP-SAT: repeatable (one worker, fixed seed, deterministic work), stoppable by clock or caller, and never silent for long.

The engine works in a thread of its own. The caller's cancel signal and callback are asked and told in the thread that called, as everywhere else.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from optiselect.solver.cpsat_model import Model
from optiselect.solver.progress import Watch

_POLL_S = 0.05


@dataclass
class Result:
    """What a search found.

    Attributes:
        proven: nothing better is possible.
        solution: the value of each variable; None when none was found.
        bound: the best value that is still possible, None when not known.
    """

    proven: bool
    solution: Sequence[int] | None
    bound: int | None

    def value(self, variable: int) -> int:
        """The value of a variable in the solution, where there is one."""
        assert self.solution is not None
        return self.solution[variable]


def search(model: Model, watch: Watch, *, seed: int, workers: int, presolve: bool = True, most_effort: float = math.inf) -> Result:
    """Solve a model within the effort and time that the watch has left, and within an effort of its own."""
    from ortools.sat.python import cp_model_helper

    parameters = cp_model_helper.SatParameters()
    parameters.num_workers = workers
    parameters.random_seed = seed
    parameters.cp_model_presolve = presolve
    parameters.linearization_level = 2
    parameters.cp_model_probing_level = 0  # probing and symmetry took two thirds of the time of large stages, and found nothing there
    parameters.symmetry_level = 0
    parameters.max_deterministic_time = min(watch.effort_left, most_effort)
    parameters.max_time_in_seconds = max(0.01, watch.seconds_left)
    parameters.catch_sigint_signal = False  # what an interrupt means is for the caller to say
    engine = cp_model_helper.SolveWrapper()
    engine.set_parameters(parameters)
    said = _solved(engine, model, watch)
    watch.effort_left -= said.deterministic_time
    status = cp_model_helper.CpSolverStatus
    proven = said.status == status.OPTIMAL and not watch.out_of_time
    bound: int | None = None
    if said.status != status.MODEL_INVALID and math.isfinite(said.best_objective_bound):
        bound = round(said.best_objective_bound)
    return Result(proven, list(said.solution) if said.status in (status.OPTIMAL, status.FEASIBLE) else None, bound)


def _solved(engine: Any, model: Model, watch: Watch) -> Any:
    """Run the engine to its end; tell it to stop, again and again, from when the watch says so."""
    ended: list[Any] = []

    def solve() -> None:
        try:
            ended.append(engine.solve(model.message))
        except BaseException as error:  # goes on in the thread that called
            ended.append(error)

    thread = threading.Thread(target=solve, daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(_POLL_S)
            if watch.out_of_time:
                engine.stop_search()
    finally:
        while thread.is_alive():  # the callback raised, or an interrupt came
            engine.stop_search()
            thread.join(_POLL_S)
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]
