"""What the network should use: one way a row, objectives one after another, each proven and then fixed (OR-Tools CP-SAT).

A row stands for links, or clusters of links, whose ways are equal. A row whose ways take no scarce resource is always
served, and all it stands for goes the same way (unless spares make units count); only rows that touch a scarce resource
have a count for each way.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import Literal

from optiselect.solver.clusters import Way
from optiselect.solver.fittings import TEN_THOUSANDTHS
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Resource

Name = Literal["critical_links", "links", "unknowns", "part_numbers", "cost", "strands", "modules", "changes", "disliked"]
SUM_OF: dict[Name, int] = {"critical_links": 0, "links": 1, "unknowns": 2, "cost": 3, "strands": 4, "modules": 5, "changes": 6, "disliked": 7}
"""Where each objective that is a plain sum stands in `Way.sums`."""
GREATEST: frozenset[Name] = frozenset({"critical_links", "links"})


@dataclass(frozen=True)
class Row:
    """Links, or clusters of links, with equal ways.

    Attributes:
        units: the ids of each link or cluster; its members in the order of `Way.taken`.
        ways: undominated, in a fixed order, at least one.
    """

    units: tuple[tuple[str, ...], ...]
    ways: tuple[Way, ...]

    @property
    def is_scarce(self) -> bool:
        """Whether some way takes a resource that can run short."""
        return any(way.uses for way in self.ways)

    @property
    def always_served(self) -> bool:
        """Whether some way takes nothing that can run short."""
        return any(not way.uses for way in self.ways)


@dataclass(frozen=True)
class SpareSteps:
    """Spares of one part as a step function of its units: from `units[i]` on, i + 1 spares are kept.

    Attributes:
        price: of one spare, in ten-thousandths of the currency.
    """

    units: tuple[int, ...]
    price: int

    def kept(self, units: int) -> int:
        """The spares that are kept of so many units."""
        return bisect_right(self.units, units)

    @property
    def jumps(self) -> list[tuple[int, int]]:
        """From how many units on further spares are kept, and how many at once."""
        return sorted(Counter(self.units).items())


@dataclass(frozen=True)
class Task:
    """Everything the choice looks at.

    Attributes:
        capacity: what there is of each scarce resource.
        apart: for each pair of links that must not share, the two resources of which only one may be used.
        spares: by part number; empty when no spares are planned.
        objectives: in order.
        most_part_numbers: so many will do: once there is a plan of no more, the later objectives are made best among all such plans.
    """

    rows: tuple[Row, ...]
    capacity: Mapping[Resource, int]
    apart: tuple[tuple[Resource, Resource], ...]
    spares: Mapping[str, SpareSteps]
    objectives: tuple[Name, ...]
    seed: int = 1
    workers: int = 1
    most_part_numbers: int | None = None

    @property
    def kinds_of_rows(self) -> Hashable | None:
        """What decides which part numbers serve and how few will do; None where rows share what is scarce."""
        if any(row.is_scarce for row in self.rows):
            return None
        return frozenset(row.ways for row in self.rows), self.objectives, self.most_part_numbers

    def with_parts(self, parts: frozenset[str]) -> list[dict[int, int]]:
        """An outcome of these part numbers, which serve: of each row the first way, for all that it stands for; no row may be scarce."""
        return [{next(index for index, way in enumerate(row.ways) if way.names <= parts): len(row.units)} for row in self.rows]


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
    """How many units of each row go each way (by position), and what is proven of it."""

    taken: list[dict[int, int]]
    stages: list[Stage] = field(default_factory=list)


def in_unit(stage: Stage) -> tuple[float, float]:
    """Value and bound of a stage as they are told: cost in the currency, everything else as counted."""
    scale = TEN_THOUSANDTHS if stage.name == "cost" else 1
    return stage.value / scale, stage.bound / scale


def is_plain_sum(name: Name, spares: bool) -> bool:
    """Whether an objective is a sum over the links by themselves."""
    return name != "part_numbers" and not (spares and name == "cost")


def settled_first(objectives: Sequence[Name], spares: bool) -> tuple[Name, ...]:
    """The objectives that come before the first that is not a plain sum: each cluster settles them by itself."""
    return tuple(takewhile(lambda name: is_plain_sum(name, spares), objectives))


def choose(task: Task, watch: Watch, start: Outcome | None = None) -> Outcome:
    """Choose the ways, objective after objective; plain sums that follow one another at the end are searched together.

    `start`: an answer of which the first objectives are proven; the others are searched from there.
    """
    outcome = start or Outcome(_first_answer(task))
    done = len(outcome.stages)
    while done < len(task.objectives):
        watch.tell("choice", done, len(task.objectives), objective=task.objectives[done])
        stages = _prove(task, outcome, _together(task, done), watch)
        for stage in stages:
            _grant_room(task, stage)
        outcome.stages += stages
        done += len(stages)
        for stage in stages:
            value, bound = in_unit(stage)
            watch.tell("choice", done, len(task.objectives), objective=stage.name, value=value, bound=bound)
    watch.tell("choice", len(task.objectives), len(task.objectives))
    _take_room_back(task, outcome)
    return outcome


def _grant_room(task: Task, stage: Stage) -> None:
    """Let the later objectives use as many part numbers as will do, where there is a plan of no more."""
    if stage.name == "part_numbers" and task.most_part_numbers is not None and stage.value <= task.most_part_numbers:
        stage.value = stage.bound = task.most_part_numbers


def _take_room_back(task: Task, outcome: Outcome) -> None:
    """Tell how many part numbers there are where more would have done: no fewer were asked for, so none of it is left to prove."""
    for stage in outcome.stages:
        if stage.name == "part_numbers" and stage.value == task.most_part_numbers:
            stage.value = stage.bound = measure(task, outcome.taken, stage.name)


def measure(task: Task, taken: Sequence[Mapping[int, int]], name: Name) -> int:
    """Recompute an objective from what is taken."""
    chosen = [(row.ways[index], count) for row, counts in zip(task.rows, taken, strict=True) for index, count in counts.items() if count]
    if name == "part_numbers":
        return len({part for way, _ in chosen for part in way.names})
    total = sum(way.sums[SUM_OF[name]] * count for way, count in chosen)
    if name in GREATEST:
        return -total
    return total + (_cost_of_spares(task, chosen) if name == "cost" else 0)


def _cost_of_spares(task: Task, chosen: Sequence[tuple[Way, int]]) -> int:
    units: dict[str, int] = defaultdict(int)
    for way, count in chosen:
        for part, each in way.parts:
            units[part] += each * count
    return sum(steps.price * steps.kept(units[part]) for part, steps in task.spares.items())


def _first_answer(task: Task) -> list[dict[int, int]]:
    """A plain answer to start from: rows in the order of their claim, each unit the first way for which there is room."""
    taken: list[dict[int, int]] = [defaultdict(int) for _ in task.rows]
    left = dict(task.capacity)
    forbids: dict[Resource, list[Resource]] = defaultdict(list)
    for first, second in task.apart:
        forbids[first].append(second)
        forbids[second].append(first)
    forbidden: set[Resource] = set()
    for place in sorted(range(len(task.rows)), key=lambda place: (min(way.sums[:2] for way in task.rows[place].ways), place)):
        row = task.rows[place]
        order = sorted(range(len(row.ways)), key=lambda index: (row.ways[index].sums[2], bool(row.ways[index].uses), index))
        if not row.ways[order[0]].uses:
            taken[place][order[0]] = len(row.units)
            continue
        for _ in row.units:
            for index in order:
                uses = row.ways[index].uses
                if all(left.get(resource, amount) >= amount and resource not in forbidden for resource, amount in uses):
                    taken[place][index] += 1
                    for resource, amount in uses:
                        if resource in left:
                            left[resource] -= amount
                        forbidden.update(forbids.get(resource, ()))
                    break
    return [dict(counts) for counts in taken]


def _together(task: Task, done: int) -> tuple[Name, ...]:
    """The objectives to search in one go: the next alone, or all that is left when that is sums to be made least."""
    rest = task.objectives[done:]
    if len(rest) > 1 and all(name not in GREATEST and name != "part_numbers" for name in rest):
        return rest
    return rest[:1]


def _prove(task: Task, outcome: Outcome, names: tuple[Name, ...], watch: Watch) -> list[Stage]:
    """Prove objectives, the earlier ones fixed at their values; the answer moves on to the best one found."""
    from optiselect.solver.stage import StageModel, weights_of

    values = [measure(task, outcome.taken, name) for name in names]
    if not any(row.is_scarce for row in task.rows) and names[0] in settled_first(task.objectives, bool(task.spares)):
        settled = [name for name in names if name in settled_first(task.objectives, bool(task.spares))]
        if len(settled) == len(names):
            return [Stage(name, value, value) for name, value in zip(names, values, strict=True)]
    if watch.out_of_time or watch.effort_left <= 0:
        return [Stage(name, value, loosest_bound(task, name)) for name, value in zip(names, values, strict=True)]
    weights = weights_of(task, names)
    if weights is None:
        names, weights = names[:1], (1,)
    model = StageModel(task, outcome, names, weights)
    result = model.solve(watch)
    if result.solution is not None:
        taken = model.taken(result)
        if model.no_worse(taken, outcome):
            outcome.taken = taken
    values = [measure(task, outcome.taken, name) for name in names]
    if result.proven:
        return [Stage(name, value, value) for name, value in zip(names, values, strict=True)]
    bound = model.bound(result, values[0])
    return [Stage(names[0], values[0], bound), *(Stage(name, value, loosest_bound(task, name)) for name, value in zip(names[1:], values[1:], strict=True))]


def _fewest_of_rows_apart(task: Task) -> int:
    """Part numbers that rows need which have none in common, whatever the choice; rows of few names first."""
    names = [(frozenset().union(*(way.names for way in row.ways)), min(len(way.names) for way in row.ways)) for row in task.rows if not row.is_scarce]
    met: set[str] = set()
    needed = 0
    for several, fewest in sorted(names, key=lambda row: (len(row[0]), sorted(row[0]))):
        if met.isdisjoint(several):
            met |= several
            needed += fewest
    return needed


def loosest_bound(task: Task, name: Name) -> int:
    """A bound that needs no search: every unit at its best by itself."""
    if name == "part_numbers":
        return _fewest_of_rows_apart(task)
    best = sum(min([*(way.sums[SUM_OF[name]] for way in row.ways), *([0] if not row.always_served else [])]) * len(row.units) for row in task.rows)
    return -best if name in GREATEST else best
