"""What the network should use: one option a link, objectives one after another, each proven and then fixed (OR-Tools CP-SAT).

A group of links with equal options is one row. A row whose options take no scarce resource is always served, and all its
links take the same option (unless spares make units count); only rows that touch a scarce resource have a count of links
for each option.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from optiselect.solver.cpsat import Result, search
from optiselect.solver.options import Option, Resource
from optiselect.solver.progress import Watch

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

Name = Literal["critical_links", "links", "unknowns", "part_numbers", "cost", "strands", "modules", "changes", "disliked"]
_GREATEST: frozenset[Name] = frozenset({"critical_links", "links"})


@dataclass(frozen=True)
class Group:
    """Links with equal options.

    Attributes:
        links: their ids, sorted.
        options: undominated, in a fixed order, at least one.
    """

    links: tuple[str, ...]
    options: tuple[Option, ...]
    critical: bool = False
    weight: int = 1

    @property
    def is_scarce(self) -> bool:
        """Whether some option takes a resource that can run short."""
        return any(option.uses for option in self.options)

    @property
    def always_served(self) -> bool:
        """Whether some option takes nothing that can run short."""
        return any(not option.uses for option in self.options)


@dataclass(frozen=True)
class SpareSteps:
    """Spares of one part as a step function of its units: from `units[i]` on, i + 1 spares are kept.

    Attributes:
        price: of one spare, in ten-thousandths of the currency.
    """

    units: tuple[int, ...]
    price: int


@dataclass(frozen=True)
class Task:
    """Everything the choice looks at.

    Attributes:
        capacity: what there is of each scarce resource.
        apart: for each pair of links that must not share, the two resources of which only one may be used.
        spares: by part number; empty when no spares are planned.
        objectives: in order.
    """

    groups: tuple[Group, ...]
    capacity: Mapping[Resource, int]
    apart: tuple[tuple[Resource, Resource], ...]
    spares: Mapping[str, SpareSteps]
    objectives: tuple[Name, ...]
    seed: int = 1
    workers: int = 1


@dataclass
class Stage:
    """An objective with the value found and the best that is still possible."""

    name: Name
    value: int
    bound: int

    @property
    def proven(self) -> bool:
        """Whether nothing better is possible."""
        return self.value == self.bound


@dataclass
class Outcome:
    """How many links of each group take each option (by position), and what is proven of it."""

    taken: list[dict[int, int]]
    stages: list[Stage] = field(default_factory=list)


def choose(task: Task, watch: Watch) -> Outcome:
    """Choose the options, objective after objective."""
    outcome = Outcome(_first_answer(task))
    for step, name in enumerate(task.objectives):
        watch.tell("choice", step, len(task.objectives), objective=name)
        outcome.stages.append(_prove(task, outcome, name, watch))
    watch.tell("choice", len(task.objectives), len(task.objectives))
    return outcome


def measure(task: Task, taken: Sequence[Mapping[int, int]], name: Name) -> int:
    """Recompute an objective from what is taken."""
    chosen = [(group, group.options[index], count) for group, counts in zip(task.groups, taken, strict=True) for index, count in counts.items() if count]
    match name:
        case "critical_links":
            return sum(count for group, _, count in chosen if group.critical)
        case "links":
            return sum(group.weight * count for group, _, count in chosen)
        case "part_numbers":
            return len({part for _, option, _ in chosen for part in option.names})
        case "cost":
            units: dict[str, int] = defaultdict(int)
            for _, option, count in chosen:
                for part, each in option.parts:
                    units[part] += each * count
            spares = sum(steps.price * sum(units[part] >= threshold for threshold in steps.units) for part, steps in task.spares.items())
            return sum(option.cost * count for _, option, count in chosen) + spares
        case _:
            return sum(_measure_of(name)(option) * count for _, option, count in chosen)


def _measure_of(name: Name) -> Callable[[Option], int]:
    return {
        "unknowns": lambda option: option.unknown,
        "cost": lambda option: option.cost,
        "strands": lambda option: option.strands,
        "modules": lambda option: option.modules,
        "changes": lambda option: option.changes,
        "disliked": lambda option: option.disliked,
    }[name]


def _first_answer(task: Task) -> list[dict[int, int]]:
    """A plain answer to start from: rows in the order of their claim, each link with the first option for which there is room."""
    taken: list[dict[int, int]] = [defaultdict(int) for _ in task.groups]
    left = dict(task.capacity)
    forbids: dict[Resource, list[Resource]] = defaultdict(list)
    for first, second in task.apart:
        forbids[first].append(second)
        forbids[second].append(first)
    forbidden: set[Resource] = set()
    for row in sorted(range(len(task.groups)), key=lambda row: (not task.groups[row].critical, -task.groups[row].weight, row)):
        group = task.groups[row]
        ways = sorted(range(len(group.options)), key=lambda index: (group.options[index].unknown, bool(group.options[index].uses), index))
        for _ in group.links:
            for index in ways:
                uses = group.options[index].uses
                if all(left.get(resource, amount) >= amount and resource not in forbidden for resource, amount in uses):
                    taken[row][index] += 1
                    for resource, amount in uses:
                        if resource in left:
                            left[resource] -= amount
                        forbidden.update(forbids.get(resource, ()))
                    break
    return [dict(counts) for counts in taken]


def _prove(task: Task, outcome: Outcome, name: Name, watch: Watch) -> Stage:
    """Prove one objective, the earlier ones fixed at their values; the answer moves on to the best one found."""
    now = measure(task, outcome.taken, name)
    if watch.out_of_time or watch.effort_left <= 0:
        return Stage(name, now, _loosest_bound(task, name))
    if name in ("critical_links", "links", "unknowns") and not any(group.is_scarce for group in task.groups):
        return Stage(name, now, now)
    model = _Model(task, outcome, name)
    result = model.solve(watch)
    if result.solution is not None:
        taken = model.taken(result)
        if model.no_worse(taken, outcome):
            outcome.taken = taken
    value = measure(task, outcome.taken, name)
    return Stage(name, value, value if result.proven else model.bound(result, value))


def _loosest_bound(task: Task, name: Name) -> int:
    if name in _GREATEST:
        return sum(len(group.links) * (group.weight if name == "links" else 1) for group in task.groups if name == "links" or group.critical)
    return 0


class _Model:
    """One stage as a CP-SAT model, over those options that can matter to it."""

    def __init__(self, task: Task, outcome: Outcome, name: Name) -> None:
        from ortools.sat.python import cp_model

        self.task = task
        self.name = name
        self.fixed = list(outcome.stages)
        self.before = outcome.taken
        self.names: tuple[Name, ...] = (*(stage.name for stage in self.fixed), name)
        self.model = cp_model.CpModel()
        self.offset: dict[Name, int] = defaultdict(int)
        self.terms: dict[Name, list[tuple[Any, int]]] = defaultdict(list)
        self.counts: list[dict[int, tuple[Any, int]]] = []
        self.settled: list[dict[int, int] | None] = []
        self.part: dict[str, cp_model.IntVar] = {}
        self._needs_parts = "part_numbers" in self.names
        self._units: dict[str, list[tuple[Any, int]]] = defaultdict(list)
        self._uses: dict[Resource, list[tuple[Any, int]]] = defaultdict(list)
        self._rows()
        self._resources()
        if "cost" in self.names and task.spares:
            self._spares()
        self._fix()
        self._aim()

    # -- rows ---------------------------------------------------------------------------------------------------

    def _rows(self) -> None:
        both = self._both()
        for group in self.task.groups:
            live = self._live(group)
            if not self._matters(group):
                # No objective so far tells its options apart: any will do, and nothing else depends on it.
                self.counts.append({})
                self.settled.append({live[0]: len(group.links)})
                self._add_constant(group, group.options[live[0]], len(group.links))
                continue
            self.settled.append(None)
            self.counts.append(self._row(group, live, both))

    def _both(self) -> bool:
        return bool(self.task.spares) and "cost" in self.names

    def _matters(self, group: Group) -> bool:
        if group.is_scarce:
            return True
        return bool(set(self.names) - {"critical_links", "links", "unknowns"})

    def _live(self, group: Group) -> list[int]:
        """The options that can matter to the objectives so far: of two that they cannot tell apart the first stands for both.

        The argument is that of `options.undominated`, over fewer measures.
        """
        live: list[int] = []
        measures = [_measure_of(name) for name in self.names if name not in ("critical_links", "links", "part_numbers")]
        if self._both():
            return list(range(len(group.options)))
        clean = not group.is_scarce and any(not option.unknown for option in group.options)
        seen: dict[frozenset[str], list[tuple[tuple[int, ...], dict[Resource, int]]]] = defaultdict(list)
        order = sorted(range(len(group.options)), key=lambda index: (len(group.options[index].names) if self._needs_parts else 0, index))
        for index in order:
            option = group.options[index]
            if clean and option.unknown:
                continue  # a row that can always be served without an unknown is (fewest unknowns comes before what follows)
            values = tuple(measure(option) for measure in measures)
            uses = dict(option.uses)
            if not self._beaten(option.names, values, uses, seen):
                live.append(index)
                seen[option.names if self._needs_parts else frozenset()].append((values, uses))
        return sorted(live)

    def _beaten(self, names: frozenset[str], values: tuple[int, ...], uses: dict[Resource, int], seen: Mapping[frozenset[str], Any]) -> bool:
        for other_names, entries in seen.items() if len(seen) < 2 ** len(names) else [(subset, seen.get(subset, ())) for subset in _subsets(names)]:
            if not other_names <= names:
                continue
            for other_values, other_uses in entries:
                if all(x <= y for x, y in zip(other_values, values, strict=True)) and all(n <= uses.get(r, 0) for r, n in other_uses.items()):
                    return True
        return False

    def _add_constant(self, group: Group, option: Option, count: int) -> None:
        for name in self.names:
            if name == "critical_links":
                self.offset[name] += count * group.critical
            elif name == "links":
                self.offset[name] += count * group.weight
            elif name != "part_numbers":
                self.offset[name] += _measure_of(name)(option) * count

    def _row(self, group: Group, live: list[int], both: bool) -> dict[int, tuple[Any, int]]:
        """Variables of one row: position of the option -> (variable, how many links one unit of it stands for)."""
        size = len(group.links)
        as_one = not group.is_scarce and not both
        each = size if as_one else 1
        most = size // each
        row: dict[int, tuple[Any, int]] = {}
        for index in live:
            variable = self.model.new_bool_var("") if most == 1 else self.model.new_int_var(0, most, "")
            row[index] = (variable, each)
        variables = [variable for variable, _ in row.values()]
        if as_one:
            self.model.add_exactly_one(variables)
        elif group.always_served:
            self.model.add(sum(variables) == most)
        elif most == 1:
            self.model.add_at_most_one(variables)
        else:
            self.model.add(sum(variables) <= most)
        for index, (variable, stands_for) in row.items():
            self._count(group, group.options[index], variable, stands_for)
        if self._needs_parts:
            self._link_parts(group, row, most)
        return row

    def _count(self, group: Group, option: Option, variable: Any, each: int) -> None:
        for name in self.names:
            if name == "critical_links":
                amount = each * group.critical
            elif name == "links":
                amount = each * group.weight
            elif name == "part_numbers":
                continue
            else:
                amount = _measure_of(name)(option) * each
            if amount:
                self.terms[name].append((variable, amount))
        for resource, amount in option.uses:
            self._uses[resource].append((variable, amount * each))
        if self._both():
            for part, units in option.parts:
                self._units[part].append((variable, units * each))

    def _link_parts(self, group: Group, row: Mapping[int, tuple[Any, int]], most: int) -> None:
        """A part number that an option of the row uses is in the plan; summed over the row, which makes the relaxation tight."""
        holding: dict[str, list[Any]] = defaultdict(list)
        for index, (variable, _) in row.items():
            for part in group.options[index].names:
                holding[part].append(variable)
        for part, variables in sorted(holding.items()):
            if part not in self.part:
                self.part[part] = self.model.new_bool_var("")
            if most == 1:
                self.model.add(sum(variables) <= self.part[part])
            else:
                self.model.add(sum(variables) <= most * self.part[part])

    # -- what the rows share --------------------------------------------------------------------------------------

    def _resources(self) -> None:
        for resource, terms in sorted(self._uses.items(), key=lambda item: str(item[0])):
            if resource in self.task.capacity:
                self.model.add(sum(variable * amount for variable, amount in terms) <= self.task.capacity[resource])
        for first, second in self.task.apart:
            terms = self._uses.get(first, []) + self._uses.get(second, [])
            if first in self._uses and second in self._uses:
                self.model.add(sum(variable for variable, _ in terms) <= 1)

    def _spares(self) -> None:
        for part, steps in sorted(self.task.spares.items()):
            terms = self._units.get(part)
            if not terms:
                continue
            units = sum(variable * amount for variable, amount in terms)
            ceiling = sum(amount * (variable.proto.domain[1] if hasattr(variable, "proto") else 1) for variable, amount in terms)
            for threshold in steps.units:
                if threshold > ceiling:
                    break
                spare = self.model.new_bool_var("")
                self.model.add(units <= threshold - 1 + (ceiling - threshold + 1) * spare)
                self.terms["cost"].append((spare, steps.price))

    def _expression(self, name: Name) -> Any:
        if name == "part_numbers":
            return sum(self.part[part] for part in sorted(self.part))
        return sum(variable * amount for variable, amount in self.terms[name]) + self.offset[name]

    def _fix(self) -> None:
        for stage in self.fixed:
            if stage.name in _GREATEST:
                self.model.add(self._expression(stage.name) >= stage.value)
            else:
                self.model.add(self._expression(stage.name) <= stage.value)

    def _aim(self) -> None:
        if self.name in _GREATEST:
            self.model.maximize(self._expression(self.name))
        else:
            self.model.minimize(self._expression(self.name))
        for row, before in zip(self.counts, self.before, strict=True):
            for index, (variable, each) in row.items():
                self.model.add_hint(variable, before.get(index, 0) // each)

    # -- answer ---------------------------------------------------------------------------------------------------

    def solve(self, watch: Watch) -> Result:
        """Search within the effort and the time that are left."""
        return search(self.model, watch, seed=self.task.seed, workers=self.task.workers, objective=self.name)

    def taken(self, result: Result) -> list[dict[int, int]]:
        """Read the answer back, by position of the option."""
        taken: list[dict[int, int]] = []
        for row, settled in zip(self.counts, self.settled, strict=True):
            if settled is not None:
                taken.append(dict(settled))
            else:
                values = {index: result.value(variable) * each for index, (variable, each) in row.items()}
                taken.append({index: count for index, count in values.items() if count})
        return taken

    def no_worse(self, taken: list[dict[int, int]], outcome: Outcome) -> bool:
        """Whether an answer keeps every earlier value and does not lose on this one."""
        for stage in [*self.fixed, Stage(self.name, measure(self.task, outcome.taken, self.name), 0)]:
            value = measure(self.task, taken, stage.name)
            if value < stage.value if stage.name in _GREATEST else value > stage.value:
                return False
        return True

    def bound(self, result: Result, value: int) -> int:
        """The best that is still possible, never beyond what was found."""
        if result.bound is None:
            return _loosest_bound(self.task, self.name)
        return max(result.bound, value) if self.name in _GREATEST else min(result.bound, value)


def _subsets(names: frozenset[str]) -> list[frozenset[str]]:
    from itertools import combinations

    ordered = sorted(names)
    return [frozenset(some) for size in range(len(ordered) + 1) for some in combinations(ordered, size)]
