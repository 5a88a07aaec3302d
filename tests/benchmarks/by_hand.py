"""The two models that a user would write by hand: CP-SAT with a variable an end, and a HiGHS MILP with a variable an option.

Both get the explicit list of `listing` and the default objectives, one after another, each fixed before the next: greatest
weight of links, fewest part numbers, least cost (cents, without spares), fewest strands. Each runs in its own process and stops
after a limit; what was proven by then is told.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from optiselect.model.network import Network
from tests.benchmarks.listing import Choice, PortEntry

OBJECTIVES = ("links", "part_numbers", "cost", "strands")


@dataclass
class Told:
    """What a model reached: values in the order of `OBJECTIVES`, how many of them proven, and the seconds used."""

    values: list[float] = field(default_factory=list)
    proven: int = 0
    seconds: float = 0.0


class Model(Protocol):
    """A model that is aimed at one objective after another."""

    def minimize(self, objective: str, limit_s: float) -> tuple[float, bool] | None:
        """The value reached and whether it is proven; None when there is no solution yet."""
        ...

    def keep(self, objective: str, value: float) -> None:
        """Ask that later solutions are no worse."""
        ...


def solve_in_order(model: Model, deadline: float) -> Told:
    """Prove the objectives one after another until the deadline (of `time.monotonic`)."""
    began, told = time.monotonic(), Told()
    for objective in OBJECTIVES:
        reached = model.minimize(objective, max(0.1, deadline - time.monotonic()))
        if reached is None:
            break
        told.values.append(reached[0])
        if not reached[1]:
            break
        told.proven += 1
        model.keep(objective, reached[0])
    told.seconds = time.monotonic() - began
    return told


def _capacities(network: Network) -> tuple[dict[PortEntry, int], dict[str, int]]:
    """Ports by entry, and free strands by run (a copper run: one link)."""
    ports = {(device.id, index): len(port.names) for device in network.devices for index, port in enumerate(device.ports)}
    strands = {run.id: run.fiber.strands - run.fiber.strands_in_use if run.fiber else 1 for run in network.runs}
    return ports, strands


def _taken_of_run(choice: Choice) -> Iterator[tuple[str, int]]:
    yield from choice.strands if choice.strands else ((run, 1) for run in choice.runs)


def _not_together(network: Network, listed: dict[str, list[Choice]]) -> Iterator[tuple[str, int, str, int]]:
    """Pairs of choices that share a run or a route where the links ask for diversity."""
    for link in network.wanted:
        for other in link.diverse_from:
            for index, choice in enumerate(listed[link.id]):
                for other_index, other_choice in enumerate(listed[other]):
                    if choice.routes & other_choice.routes or set(choice.runs) & set(other_choice.runs):
                        yield link.id, index, other, other_index


class EndVariables:
    """CP-SAT: an integer variable for each end's fitting, one for the path, joined by a table of allowed rows."""

    def __init__(self, network: Network, listed: dict[str, list[Choice]]) -> None:
        from ortools.sat.python import cp_model

        self.cp_model = cp_model
        self.model = model = cp_model.CpModel()
        self.terms: dict[str, Any] = {}
        cost, strands, served = [], [], []
        by_port: dict[PortEntry, list[Any]] = defaultdict(list)
        by_run: dict[str, list[Any]] = defaultdict(list)
        part = {name: model.new_bool_var(f"part {name}") for name in sorted({name for choices in listed.values() for c in choices for name in c.parts})}
        rows: dict[str, Any] = {}
        for link in network.wanted:
            choices = listed[link.id]
            fits = [sorted({choice.ends[side] for choice in choices}, key=str) for side in (0, 1)]
            row = rows[link.id] = model.new_int_var(0, len(choices), f"row {link.id}")
            ends = [model.new_int_var(0, len(fits[side]), f"end {link.id} {side}") for side in (0, 1)]
            price = model.new_int_var(0, max((c.cost for c in choices), default=0), "")
            used = {run: model.new_int_var(0, 16, "") for run in sorted({run for c in choices for run, _ in _taken_of_run(c)})}
            lit = model.new_int_var(0, 64, "")
            table = [(0, 0, 0, 0, 0, *(0 for _ in used))]
            for index, choice in enumerate(choices, start=1):
                at = [1 + fits[side].index(choice.ends[side]) for side in (0, 1)]
                taken = dict(_taken_of_run(choice))
                table.append((index, *at, choice.cost, sum(n for _, n in choice.strands), *(taken.get(run, 0) for run in used)))
            model.add_allowed_assignments([row, *ends, price, lit, *used.values()], table)
            cost.append(price)
            strands.append(lit)
            for run, variable in used.items():
                by_run[run].append(variable)
            is_served = model.new_bool_var("")
            model.add(row >= 1).only_enforce_if(is_served)
            model.add(row == 0).only_enforce_if(is_served.negated())
            served.append((link.weight, is_served))
            for side in (0, 1):
                for index, (entry, name) in enumerate(fits[side], start=1):
                    fitted = model.new_bool_var("")
                    model.add(ends[side] == index).only_enforce_if(fitted)
                    model.add(ends[side] != index).only_enforce_if(fitted.negated())
                    by_port[entry].append(fitted)
                    if name is not None:
                        model.add_implication(fitted, part[name])
            for index, choice in enumerate(choices, start=1):
                for name in sorted(choice.parts - {name for _, name in choice.ends}):  # attenuators belong to the pair, not to an end
                    model.add(row != index).only_enforce_if(part[name].negated())
        ports, free = _capacities(network)
        for entry, fitted_there in by_port.items():
            model.add(sum(fitted_there) <= ports[entry])
        for run, variables in by_run.items():
            model.add(sum(variables) <= free[run])
        for link_id, index, other, other_index in _not_together(network, listed):
            model.add_forbidden_assignments([rows[link_id], rows[other]], [(index + 1, other_index + 1)])
        self.terms = {
            "links": -sum(weight * variable for weight, variable in served),
            "part_numbers": sum(part.values()),
            "cost": sum(cost),
            "strands": sum(strands),
        }

    def minimize(self, objective: str, limit_s: float) -> tuple[float, bool] | None:
        """See `Model`."""
        self.model.minimize(self.terms[objective])
        solver = self.cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = limit_s
        solver.parameters.num_workers = 2
        status = solver.solve(self.model)
        if status not in (self.cp_model.OPTIMAL, self.cp_model.FEASIBLE):
            return None
        return round(solver.objective_value), status == self.cp_model.OPTIMAL

    def keep(self, objective: str, value: float) -> None:
        """See `Model`."""
        self.model.add(self.terms[objective] <= int(value))


class OptionVariables:
    """HiGHS: a binary variable for each option of each link, one for each part number."""

    def __init__(self, network: Network, listed: dict[str, list[Choice]]) -> None:
        import highspy

        self.highspy = highspy
        self.solver = highspy.Highs()
        self.solver.setOptionValue("output_flag", False)
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.setOptionValue("mip_abs_gap", 0.5)
        names = sorted({name for choices in listed.values() for choice in choices for name in choice.parts})
        self.columns = 0
        part = dict(zip(names, self._binaries(len(names)), strict=True))
        first: dict[str, int] = {}
        weights = {link.id: link.weight for link in network.wanted}
        for link_id, choices in listed.items():
            first[link_id] = self.columns
            self._binaries(len(choices))
        self.costs: dict[str, dict[int, float]] = {name: {} for name in OBJECTIVES}
        self.costs["part_numbers"] = dict.fromkeys(part.values(), 1.0)
        by_port: dict[PortEntry, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        by_run: dict[str, dict[int, float]] = defaultdict(dict)
        for link_id, choices in listed.items():
            columns = range(first[link_id], first[link_id] + len(choices))
            self._at_most(dict.fromkeys(columns, 1.0), 1.0)
            for column, choice in zip(columns, choices, strict=True):
                self.costs["links"][column] = -float(weights[link_id])
                self.costs["cost"][column] = float(choice.cost)
                self.costs["strands"][column] = float(sum(n for _, n in choice.strands))
                for entry, _ in choice.ends:
                    by_port[entry][column] += 1.0
                for run, count in _taken_of_run(choice):
                    by_run[run][column] = float(count)
                for name in choice.parts:
                    self._at_most({column: 1.0, part[name]: -1.0}, 0.0)
        ports, free = _capacities(network)
        for entry, row in by_port.items():
            self._at_most(dict(row), float(ports[entry]))
        for run, row in by_run.items():
            self._at_most(row, float(free[run]))
        for link_id, index, other, other_index in _not_together(network, listed):
            self._at_most({first[link_id] + index: 1.0, first[other] + other_index: 1.0}, 1.0)

    def _binaries(self, count: int) -> Sequence[int]:
        columns = range(self.columns, self.columns + count)
        for column in columns:
            self.solver.addVar(0.0, 1.0)
            self.solver.changeColIntegrality(column, self.highspy.HighsVarType.kInteger)
        self.columns += count
        return columns

    def _at_most(self, row: dict[int, float], limit: float) -> None:
        self.solver.addRow(-self.highspy.kHighsInf, limit, len(row), list(row), list(row.values()))

    def minimize(self, objective: str, limit_s: float) -> tuple[float, bool] | None:
        """See `Model`."""
        for column in range(self.columns):
            self.solver.changeColCost(column, self.costs[objective].get(column, 0.0))
        self.solver.setOptionValue("time_limit", self.solver.getRunTime() + limit_s)
        self.solver.run()
        proven = self.solver.getModelStatus() == self.highspy.HighsModelStatus.kOptimal
        if self.solver.getInfo().primal_solution_status != 2:
            return None
        return round(self.solver.getInfo().objective_function_value), proven

    def keep(self, objective: str, value: float) -> None:
        """See `Model`."""
        self._at_most(dict(self.costs[objective]), value)


MODELS: dict[str, type[EndVariables] | type[OptionVariables]] = {"CP-SAT by hand": EndVariables, "HiGHS by hand": OptionVariables}
