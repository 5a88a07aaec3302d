"""A model for CP-SAT, as the message that the engine reads: whole-number variables, sums of them within limits, one sum that is to be least.

The usual door to the engine (``ortools.sat.python.cp_model``) makes the same message out of expressions, and loads pandas on the way, of which
nothing is used here. What stands behind that door is used as it is; `tests/solver/test_cpsat_model.py` holds both to one message.

Source of the message: OR-Tools, ``cp_model.proto``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

Term = tuple[int, int]
"""A variable and its factor."""
_LEAST, _MOST = -(2**63), 2**63 - 1
"""What the engine reads as no limit."""


class Model:
    """Variables are numbers, counted from 0."""

    def __init__(self) -> None:
        from ortools.sat.python import cp_model_helper

        self.message = cp_model_helper.CpModelProto()

    def variable(self, most: int = 1) -> int:
        """A new variable from 0 to `most`."""
        self.message.variables.add().domain.extend([0, most])
        return len(self.message.variables) - 1

    def exactly_one(self, variables: Iterable[int]) -> None:
        """One of these is 1, the others are 0."""
        self.message.constraints.add().exactly_one.literals.extend([*variables])

    def at_most_one(self, variables: Iterable[int]) -> None:
        """One of these may be 1, the others are 0."""
        self.message.constraints.add().at_most_one.literals.extend([*variables])

    def limit(self, terms: Iterable[Term], least: int = _LEAST, most: int = _MOST) -> None:
        """A sum from `least` to `most`."""
        factors = _added(terms)
        linear = self.message.constraints.add().linear
        linear.vars.extend([*factors])
        linear.coeffs.extend([*factors.values()])
        linear.domain.extend([least, most])

    def minimize(self, terms: Iterable[Term]) -> None:
        """Aim at the least of a sum, and at nothing else."""
        factors = _added(terms)
        self.message.clear_objective()
        self.message.objective.scaling_factor = 1.0
        self.message.objective.vars.extend([*factors])
        self.message.objective.coeffs.extend([*factors.values()])

    def hint(self, variable: int, value: int) -> None:
        """Where the search is to begin."""
        self.message.solution_hint.vars.append(variable)
        self.message.solution_hint.values.append(value)


def _added(terms: Iterable[Term]) -> dict[int, int]:
    """The factor of each variable, in the order in which they come."""
    factors: dict[int, int] = defaultdict(int)
    for variable, factor in terms:
        factors[variable] += factor
    return factors
