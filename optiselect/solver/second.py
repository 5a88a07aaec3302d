"""The second solver, in a process of its own: HiGHS on a program that comes in as JSON, with no gap allowed."""

from __future__ import annotations

import json
import os
import sys
from typing import Any

import numpy as np

_WHOLE = 1e-6
NOT_INSTALLED = 3
"""What the process ends with where the second solver is not installed."""


def solved(given: dict[str, Any]) -> dict[str, Any]:
    """Solve {upper, limits, least, seconds}; returns {bound, columns}: nothing less is possible, and the best answer, each null if not known."""
    import highspy

    program = highspy.HighsLp()
    count, limits = len(given["upper"]), given["limits"]
    cost = np.zeros(count)
    for column, factor in given["least"]:
        cost[column] = factor
    program.num_col_, program.num_row_ = count, len(limits)
    program.col_cost_ = cost
    program.col_lower_, program.col_upper_ = np.zeros(count), np.array(given["upper"], dtype=float)
    program.row_lower_, program.row_upper_ = np.full(len(limits), -highspy.kHighsInf), np.array([limit for _, limit in limits], dtype=float)
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = np.cumsum([0, *(len(terms) for terms, _ in limits)])
    program.a_matrix_.index_ = np.array([column for terms, _ in limits for column, _ in terms])
    program.a_matrix_.value_ = np.array([factor for terms, _ in limits for _, factor in terms], dtype=float)
    program.integrality_ = [highspy.HighsVarType.kInteger] * count
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, value in {
        "output_flag": False,
        "threads": 1,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 0.0,
        "mip_feasibility_tolerance": 1e-9,
        "primal_feasibility_tolerance": 1e-9,
        "time_limit": float(given["seconds"]),
    }.items():
        solver.setOptionValue(option, value)
    solver.passModel(program)
    solver.run()
    info = solver.getInfo()
    ended = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    has_answer = info.primal_solution_status == 2  # feasible
    columns = [round(value) for value in solver.getSolution().col_value] if has_answer else None
    return {"bound": int(np.ceil(info.mip_dual_bound - _WHOLE)) if ended else None, "columns": columns}


def _main() -> int:
    given = json.load(sys.stdin)
    try:
        import highspy  # noqa: F401
    except ImportError:
        return NOT_INSTALLED
    answer = os.dup(1)
    os.dup2(2, 1)  # what the engine prints by itself must not stand in the answer
    said = json.dumps(solved(given))
    with os.fdopen(answer, "w") as out:
        out.write(said)
    return 0


if __name__ == "__main__":
    sys.exit(_main())
