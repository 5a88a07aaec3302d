"""One search of the choice as a CP-SAT model, over those ways that can still matter to it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import gcd, inf

from optiselect.solver.choice import GREATEST, SUM_OF, Name, Outcome, Row, Stage, Task, loosest_bound, measure
from optiselect.solver.clusters import Way, with_names_in
from optiselect.solver.cpsat import Result, search
from optiselect.solver.cpsat_model import Model, Term
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Resource

_MOST_WEIGHT = 2**50


def _greatest(task: Task, name: Name) -> int:
    """No plan has a greater value of a sum than this."""
    spares = sum(steps.price * len(steps.units) for steps in task.spares.values()) if name == "cost" else 0
    return spares + sum(max(way.sums[SUM_OF[name]] for way in row.ways) * len(row.units) for row in task.rows)


def _step(task: Task, name: Name) -> int:
    """Every value of a sum is a multiple of this."""
    step = gcd(*(way.sums[SUM_OF[name]] for row in task.rows for way in row.ways))
    if name == "cost":
        step = gcd(step, *(steps.price for steps in task.spares.values()))
    return max(step, 1)


def weights_of(task: Task, names: tuple[Name, ...]) -> tuple[int, ...] | None:
    """Weights with which one weighted sum puts these sums in order; None when the numbers would grow too large.

    Each weight exceeds everything that the later sums can add up to, so an earlier sum is never traded for a later one.
    """
    if len(names) == 1:
        return (1,)
    weights: list[int] = []
    after = 1
    for name in reversed(names):
        weights.append(after)
        after *= _greatest(task, name) // _step(task, name) + 1
    return tuple(reversed(weights)) if after < _MOST_WEIGHT else None


class StageModel:
    """The model of one or several objectives, the earlier ones fixed."""

    def __init__(self, task: Task, outcome: Outcome, names: tuple[Name, ...], weights: tuple[int, ...]) -> None:
        self.task = task
        self.names = names
        self.weights = weights
        self.steps = {name: _step(task, name) for name in SUM_OF}
        self.fixed = list(outcome.stages)
        self.before = outcome.taken
        self.so_far: tuple[Name, ...] = (*(stage.name for stage in self.fixed), *names)
        self.model = Model()
        self.part: dict[str, int] = {}
        self._spared = bool(task.spares) and "cost" in self.so_far
        self._counts_parts = "part_numbers" in self.so_far
        self._places = [SUM_OF[name] for name in self.so_far if name != "part_numbers"]
        self._terms: dict[Name, list[Term]] = defaultdict(list)
        self._units: dict[str, list[Term]] = defaultdict(list)
        self._uses: dict[Resource, list[Term]] = defaultdict(list)
        self._instead: list[dict[int, int]] = []
        self.rows = [self._row(row) for row in task.rows]
        self._resources()
        if self._spared:
            self._spares()
        self._fix()
        self._aim()

    # -- rows ---------------------------------------------------------------------------------------------------

    def _live(self, row: Row) -> dict[int, int]:
        """By position of a way, the one that stands for it in the objectives so far: itself, or one that is no worse.

        The argument is that of `dominance.undominated_rows`, over fewer measures.
        """
        if self._spared:
            return {index: index for index in range(len(row.ways))}
        live: dict[int, int] = {}
        places = {id(way): index for index, way in enumerate(row.ways)}
        seen: dict[frozenset[str], list[Way]] = defaultdict(list)
        for index in sorted(range(len(row.ways)), key=lambda index: (len(row.ways[index].names) if self._counts_parts else 0, index)):
            way = row.ways[index]
            names = way.names if self._counts_parts else frozenset()
            other = next((other for other in with_names_in(names, seen) if self._no_worse(other, way)), way)
            live[index] = places[id(other)]
            if other is way:
                seen[names].append(way)
        return live

    def _no_worse(self, other: Way, way: Way) -> bool:
        if any(other.sums[place] > way.sums[place] for place in self._places):
            return False
        uses = dict(way.uses)
        return all(amount <= uses.get(resource, 0) for resource, amount in other.uses)

    def _row(self, row: Row) -> dict[int, Term]:
        """Variables of one row: position of the way -> (variable, how many units one of it stands for)."""
        size = len(row.units)
        each = size if not row.is_scarce and not self._spared else 1
        most = size // each
        live = self._live(row)
        self._instead.append(live)
        variables = {index: self.model.variable(most) for index in sorted({*live.values()})}
        if row.always_served and most == 1:
            self.model.exactly_one(variables.values())
        elif row.always_served:
            self.model.limit(_each(variables.values()), least=most, most=most)
        elif most == 1:
            self.model.at_most_one(variables.values())
        else:
            self.model.limit(_each(variables.values()), most=most)
        for index, variable in variables.items():
            self._count(row.ways[index], variable, each)
        if self._counts_parts:
            self._link_parts(row, variables, most)
        return {index: (variable, each) for index, variable in variables.items()}

    def _count(self, way: Way, variable: int, each: int) -> None:
        for name in self.so_far:
            if name != "part_numbers":
                amount = way.sums[SUM_OF[name]] * each // self.steps[name]
                if amount:
                    self._terms[name].append((variable, amount))
        for resource, amount in way.uses:
            self._uses[resource].append((variable, amount * each))
        if self._spared:
            for part, units in way.parts:
                self._units[part].append((variable, units * each))

    def _link_parts(self, row: Row, variables: Mapping[int, int], most: int) -> None:
        """A part number that a way of the row uses is in the plan; summed over the row, which makes the relaxation tight."""
        holding: dict[str, list[int]] = defaultdict(list)
        for index, variable in variables.items():
            for part in row.ways[index].names:
                holding[part].append(variable)
        for part, held in sorted(holding.items()):
            if part not in self.part:
                self.part[part] = self.model.variable()
            if len(held) == len(variables) and row.always_served:
                self.model.limit([(self.part[part], 1)], least=1, most=1)
            else:
                self.model.limit([*_each(held), (self.part[part], -most)], most=0)

    # -- what the rows share --------------------------------------------------------------------------------------

    def _resources(self) -> None:
        for resource, terms in sorted(self._uses.items(), key=lambda item: str(item[0])):
            if resource in self.task.capacity:
                self.model.limit(terms, most=self.task.capacity[resource])
        for first, second in self.task.apart:
            if first in self._uses and second in self._uses:
                self.model.limit(_each([variable for variable, _ in (*self._uses[first], *self._uses[second])]), most=1)

    def _spares(self) -> None:
        most = dict.fromkeys(self._units, 0)
        for row in self.task.rows:
            for part in {part for way in row.ways for part, _ in way.parts}:
                most[part] += len(row.units) * max(count for way in row.ways for name, count in way.parts if name == part)
        for part, steps in sorted(self.task.spares.items()):
            if part not in self._units:
                continue
            for threshold, several in steps.jumps:
                if threshold > most[part]:
                    break
                spare = self.model.variable()
                self.model.limit([*self._units[part], (spare, threshold - 1 - most[part])], most=threshold - 1)
                self._terms["cost"].append((spare, several * steps.price // self.steps["cost"]))

    def _sum(self, name: Name) -> list[Term]:
        if name == "part_numbers":
            return _each(self.part[part] for part in sorted(self.part))
        return self._terms[name]

    def _fix(self) -> None:
        for stage in self.fixed:
            value = -stage.value if stage.name in GREATEST else stage.value
            self.model.limit(self._sum(stage.name), most=value // self.steps.get(stage.name, 1))

    def _aim(self) -> None:
        weighed = zip(self.names, self.weights, strict=True)
        self.model.minimize((variable, amount * weight) for name, weight in weighed for variable, amount in self._sum(name))
        used: set[str] = set()
        for row, variables, before, instead in zip(self.task.rows, self.rows, self.before, self._instead, strict=True):
            counts: dict[int, int] = defaultdict(int)
            for index, count in before.items():
                counts[instead[index]] += count
            for index, (variable, each) in variables.items():
                self.model.hint(variable, counts[index] // each)
                used |= row.ways[index].names if counts[index] else frozenset()
        for part, variable in sorted(self.part.items()):
            self.model.hint(variable, int(part in used))

    def seek(self, unseen: frozenset[str]) -> None:
        """Aim at as many of these part numbers as can be instead."""
        self.model.minimize((self.part[part], -1) for part in sorted(unseen))

    # -- answer ---------------------------------------------------------------------------------------------------

    def solve(self, watch: Watch, most_effort: float = inf) -> Result:
        """Search within the effort and the time that are left, and within an effort of its own."""
        return search(self.model, watch, seed=self.task.seed, workers=self.task.workers, most_effort=most_effort)

    def taken(self, result: Result) -> list[dict[int, int]]:
        """Read the answer back, by position of the way."""
        values = [{index: result.value(variable) * each for index, (variable, each) in variables.items()} for variables in self.rows]
        return [{index: count for index, count in counts.items() if count} for counts in values]

    def no_worse(self, taken: list[dict[int, int]], outcome: Outcome) -> bool:
        """Whether an answer keeps every earlier value and does not lose on this one."""
        for stage in [*self.fixed, Stage(self.names[0], measure(self.task, outcome.taken, self.names[0]), 0)]:
            value = measure(self.task, taken, stage.name)
            if value < stage.value if stage.name in GREATEST else value > stage.value:
                return False
        return True

    def bound(self, result: Result, value: int) -> int:
        """The best that is still possible of the first objective, never beyond what was found."""
        name = self.names[0]
        loosest = loosest_bound(self.task, name)
        if result.bound is None:
            return loosest
        least = -(-result.bound // self.weights[0]) if len(self.names) == 1 else result.bound // self.weights[0]
        least *= self.steps.get(name, 1)
        if name in GREATEST:
            return max(min(-least, loosest), value)
        return min(max(least, loosest), value)


def _each(variables: Iterable[int]) -> list[Term]:
    return [(variable, 1) for variable in variables]
