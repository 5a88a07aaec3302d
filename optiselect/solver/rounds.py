"""Scarce resources by need: count runs at first, then whatever else the answer overdraws, until it overdraws nothing.

Runs are counted from the start because few links share one: such clusters are listed at once (`clusters`). Ports, power,
stock and diversity can join a whole network, and seldom bind.

Why this loses no optimum: to leave out the count of a resource only allows more. An answer that is best among more, and
that keeps every count although it was not made to, is best among those that keep them. Bounds carry over for the same
reason. Each round counts at least one resource more, so the rounds end; after `MOST_ROUNDS` everything is counted.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from optiselect.solver.choice import SUM_OF, Outcome, Stage, Task, choose
from optiselect.solver.option import Option, OptionList, Pick
from optiselect.solver.prepare import Preparation, Prepared
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Resource, Scarce
from optiselect.solver.stage import possible_parts
from optiselect.solver.task import TaskMaker

MOST_ROUNDS = 12


@dataclass
class Chosen:
    """The answer of the last round, and how it is carried out link by link.

    `prepared` holds the options that the answer was chosen from, `everything` those that were there before any part number was ruled out.
    """

    prepared: Prepared
    everything: Prepared
    task: Task
    outcome: Outcome
    picks: dict[str, Pick]


def choose_in_rounds(preparation: Preparation, tasks: TaskMaker, watch: Watch) -> Chosen:
    """Choose, counting only what proves to be scarce.

    Raises:
        Cancelled: when the caller stops before any options are known.
    """
    counted = Scarce(strands=preparation.may_run_short.strands, copper=preparation.may_run_short.copper)
    for round_number in range(MOST_ROUNDS + 1):
        in_haste = bool(round_number) and watch.is_over
        if round_number == MOST_ROUNDS or in_haste:
            counted = preparation.may_run_short
        prepared = preparation.counting(counted, may_stop=not round_number)
        chosen = _choose(preparation, prepared, tasks, watch)
        overdrawn = _overdrawn(preparation, chosen, counted) | settle_ports(preparation, chosen, counted)
        if not overdrawn:
            break
        counted = counted.joined(overdrawn)
    return chosen


def _choose(preparation: Preparation, prepared: Prepared, tasks: TaskMaker, watch: Watch) -> Chosen:
    """One round: the fewest part numbers by themselves first, with the few options that matter to them, then everything."""
    first: Chosen | None = None
    everything = prepared
    if tasks.counts_parts_early and not watch.is_over:
        few = _only(prepared, lambda option: option.names.isdisjoint(preparation.replaced_at_any_price))
        task = tasks.parts_only(few, in_haste=watch.is_over_now)
        outcome = choose(task, watch)
        first = Chosen(few, everything, task, outcome, picks_of(few, task, outcome))
        fewest = tasks.most_part_numbers is None and all(stage.proven for stage in outcome.stages)
        possible = possible_parts(task, outcome, watch) if fewest else None
        if possible is not None:
            also = possible | {part for part, other in preparation.replaced_at_any_price.items() if other in possible}
            prepared = _only(prepared, lambda option: option.names <= also)
    task = tasks.whole(prepared, in_haste=watch.is_over_now)
    if first is not None and watch.is_over:
        return _completed(first, tasks)  # no time for the rest: the plan with the fewest part numbers stands
    outcome = choose(task, watch)
    return Chosen(prepared, everything, task, outcome, picks_of(prepared, task, outcome))


def _completed(chosen: Chosen, tasks: TaskMaker) -> Chosen:
    """An answer to the first objectives, with the values that the others happen to have, unproven.

    The rows of the first objectives put links together that differ in the others, so these are added up link by link.
    """
    options = [chosen.prepared.options[link_id].options[position] for link_id, position in _positions(chosen.task, chosen.outcome)]
    spares = tasks.spares_of(chosen.prepared)
    units: Counter[str] = Counter()
    for option in options:
        units.update(dict(option.parts))
    for name in tasks.objectives[len(chosen.outcome.stages) :]:
        value = sum((0, 0, *option.measures())[SUM_OF[name]] for option in options)
        if name == "cost":
            value += sum(steps.price * sum(units[part] >= threshold for threshold in steps.units) for part, steps in spares.items())
        chosen.outcome.stages.append(Stage(name, value, 0))
    return replace(chosen, task=replace(chosen.task, spares=spares))


def _only(prepared: Prepared, wanted: Callable[[Option], bool]) -> Prepared:
    """The same links with those of their options that are wanted; a link without any is left out."""
    kept: dict[int, tuple[Option, ...]] = {}
    options = {}
    for link_id, found in prepared.options.items():
        if id(found.options) not in kept:
            kept[id(found.options)] = tuple(option for option in found.options if wanted(option))
        if kept[id(found.options)]:
            options[link_id] = OptionList(kept[id(found.options)], found.names)
    return replace(prepared, options=options)


def picks_of(prepared: Prepared, task: Task, outcome: Outcome) -> dict[str, Pick]:
    """Which option each served link takes."""
    return {link_id: prepared.options[link_id].options[position].pick for link_id, position in _positions(task, outcome)}


def _positions(task: Task, outcome: Outcome) -> Iterator[tuple[str, int]]:
    """For each served link the position of its option: the units of a row in the order of their ids, its ways in theirs."""
    for row, taken in zip(task.rows, outcome.taken, strict=True):
        units = iter(row.units)
        for index in sorted(taken):
            for _ in range(taken[index]):
                for link_id, position in zip(next(units), row.ways[index].taken, strict=True):
                    if position >= 0:
                        yield link_id, position


def _overdrawn(preparation: Preparation, chosen: Chosen, counted: Scarce) -> set[Resource]:
    """The resources that could run short, are not counted, and do run short in this answer (ports apart)."""
    prepared, task, picks = chosen.prepared, chosen.task, chosen.picks
    possible = replace(preparation.may_run_short, ports=frozenset())
    if not (possible.stock or possible.power or possible.diverse):
        return set()  # runs are counted from the start
    used: dict[Resource, int] = defaultdict(int)
    units: dict[str, int] = defaultdict(int)
    for link_id, pick in picks.items():
        for resource, amount in prepared.builder.uses(prepared.rows[link_id], pick, possible).items():
            used[resource] += amount
        for fit in (pick.fit_a, pick.fit_b):
            for part in fit.parts:
                units[part] += 1
    for part, steps in task.spares.items():
        if ("stock", part) in used:
            used["stock", part] += sum(units[part] >= threshold for threshold in steps.units)
    short = {
        resource
        for resource, amount in used.items()
        if resource[0] != "over" and not counted.counts(resource) and amount > preparation.capacity.get(resource, amount)
    }
    for first, second in preparation.apart:
        if first in used and second in used and not (counted.counts(first) and counted.counts(second)):
            short |= {first, second}
    return short


def settle_ports(preparation: Preparation, chosen: Chosen, counted: Scarce) -> set[Resource]:
    """Move links among the port groups that take their fittings until every group has room; the picks are put right.

    Returns:
        The port groups of the devices where no arrangement has room: these must be counted.
    """
    prepared, picks = chosen.prepared, chosen.picks
    ends: dict[str, list[tuple[str, int]]] = defaultdict(list)
    waiting = {resource[1] for resource in preparation.may_run_short.ports - counted.ports}
    for link_id in sorted(picks):
        for side, device_id in enumerate(prepared.rows[link_id].link.devices):
            if device_id in waiting:
                ends[device_id].append((link_id, side))
    short: set[Resource] = set()
    for device_id, links in sorted(ends.items()):
        places = _matched(preparation, prepared, picks, device_id, links)
        if places is None:
            short |= {resource for resource in preparation.may_run_short.ports if resource[1] == device_id}
            continue
        for (link_id, side), place in zip(links, places, strict=True):
            pick = picks[link_id]
            picks[link_id] = replace(pick, group_a=place) if side == 0 else replace(pick, group_b=place)
    return short


def _matched(preparation: Preparation, prepared: Prepared, picks: Mapping[str, Pick], device_id: str, links: list[tuple[str, int]]) -> list[int] | None:
    """A port group for each link end of one device, as positions among the link's groups; None when there is no room."""
    from ortools.graph.python import max_flow

    groups = preparation.fittings.groups(device_id)
    flow = max_flow.SimpleMaxFlow()
    source, sink = 0, 1
    group_node = {group.index: 2 + position for position, group in enumerate(groups)}
    arcs: dict[int, tuple[int, int]] = {}
    for number, (link_id, side) in enumerate(links):
        rows = prepared.rows[link_id]
        node = 2 + len(groups) + number
        flow.add_arc_with_capacity(source, node, 1)
        for position in prepared.builder.takers(rows, picks[link_id], side):
            arcs[flow.add_arc_with_capacity(node, group_node[rows.groups[side][position].index], 1)] = (number, position)
    for group in groups:
        flow.add_arc_with_capacity(group_node[group.index], sink, len(group.names))
    if flow.solve(source, sink) != flow.OPTIMAL or flow.optimal_flow() < len(links):
        return None
    placed = {number: position for arc, (number, position) in arcs.items() if flow.flow(arc)}
    return [placed[number] for number in range(len(links))]
