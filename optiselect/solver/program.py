"""The choice as a plain integer program, for a second opinion: made from the task by itself, sharing nothing with the search's own model.

A count for every way of every row, a switch for every part number, a switch for every step of the spares. Less is better in
every objective; each is divided by what all its figures are multiples of, so that numbers stay small.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import gcd

from optiselect.solver.choice import SUM_OF, Name, Task

Terms = dict[int, int]
"""Coefficients by column."""


@dataclass
class Program:
    """Whole numbers from 0 to `upper`, sums of them within limits, and objectives that are to be least.

    Attributes:
        limits: pairs of terms and the greatest sum that is allowed.
        objectives, unit: by name; an objective counts in multiples of its unit.
    """

    upper: list[int] = field(default_factory=list)
    limits: list[tuple[Terms, int]] = field(default_factory=list)
    objectives: dict[Name, Terms] = field(default_factory=dict)
    unit: dict[Name, int] = field(default_factory=dict)

    def column(self, upper: int) -> int:
        """A new column; its number."""
        self.upper.append(upper)
        return len(self.upper) - 1

    def value(self, name: Name, columns: Sequence[int]) -> int:
        """An objective, in its unit, at these values of the columns."""
        return sum(columns[column] * factor for column, factor in self.objectives[name].items())

    def allows(self, columns: Sequence[int]) -> bool:
        """Whether these values keep every limit, in whole numbers."""
        return all(0 <= value <= upper for value, upper in zip(columns, self.upper, strict=True)) and all(
            sum(columns[column] * factor for column, factor in terms.items()) <= limit for terms, limit in self.limits
        )


def program_of(task: Task) -> Program:
    """Write a task down as a program."""
    program = Program()
    sums: dict[Name, Terms] = {name: {} for name in task.objectives if name != "part_numbers"}
    uses: dict[object, Terms] = defaultdict(dict)
    units: dict[str, Terms] = defaultdict(dict)
    switches: dict[str, int] = {}
    for row in task.rows:
        size = len(row.units)
        columns = [program.column(size) for _ in row.ways]
        program.limits.append((dict.fromkeys(columns, 1), size))
        holding: dict[str, Terms] = defaultdict(dict)
        for column, way in zip(columns, row.ways, strict=True):
            for name, terms in sums.items():
                terms[column] = way.sums[SUM_OF[name]]
            for resource, amount in way.uses:
                uses[resource][column] = amount
            for part, count in way.parts:
                units[part][column] = count
            for part in way.names:
                holding[part][column] = 1
        for part in sorted(holding):
            if part not in switches:
                switches[part] = program.column(1)
            program.limits.append((holding[part] | {switches[part]: -size}, 0))
    for resource, limit in task.capacity.items():
        if resource in uses:
            program.limits.append((uses[resource], limit))
    for first, second in task.apart:
        if first in uses and second in uses:
            program.limits.append((dict.fromkeys((*uses[first], *uses[second]), 1), 1))
    _count_spares(program, task, units, sums.get("cost", {}))
    sums["part_numbers"] = dict.fromkeys(switches.values(), 1)
    for name in task.objectives:
        program.unit[name] = max(gcd(*sums[name].values()), 1)
        program.objectives[name] = {column: factor // program.unit[name] for column, factor in sums[name].items() if factor}
    return program


def _count_spares(program: Program, task: Task, units: Mapping[str, Terms], cost: Terms) -> None:
    for part, steps in sorted(task.spares.items()):
        terms = units.get(part, {})
        most = sum(program.upper[column] * count for column, count in terms.items())
        for threshold, several in steps.jumps:
            if threshold > most:
                break
            spare = program.column(1)
            program.limits.append((dict(terms) | {spare: threshold - 1 - most}, threshold - 1))
            cost[spare] = several * steps.price
