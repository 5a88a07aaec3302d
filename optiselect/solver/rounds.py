"""Scarce resources by need: count runs at first, then whatever else the answer overdraws, until it overdraws nothing.

Runs are counted from the start because few links share one: such clusters are listed at once (`clusters`). Ports, power,
stock and diversity can join a whole network, and seldom bind; the ports of a device at which more links end than find one
are sure to, and are counted from the start too.

Why this loses no optimum: to leave out the count of a resource only allows more. An answer that is best among more, and
that keeps every count although it was not made to, is best among those that keep them. Bounds carry over for the same
reason. Each round counts at least one resource more, so the rounds end; after `MOST_ROUNDS` everything is counted, and so
it is when time is over and too many links would have to be let go (`let_go`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from optiselect.errors import Cancelled
from optiselect.solver.apart import fewest_confirmed
from optiselect.solver.by_part_lists import Answer, by_part_lists, possible_parts
from optiselect.solver.choice import Outcome, Stage, Task, choose, measure, settled_first
from optiselect.solver.chosen import Chosen, best_alike, better_of, bounded_by, options_of, values_of
from optiselect.solver.let_go import let_go
from optiselect.solver.option import Option, Wanted, parts_of
from optiselect.solver.port_places import ends_at, places_for, sure_to_run_short
from optiselect.solver.possible_by_model import possible_by_model
from optiselect.solver.prepare import Preparation, Prepared
from optiselect.solver.progress import Watch
from optiselect.solver.same_parts import further, may_follow, searched_on, with_same_parts
from optiselect.solver.scarce import Resource, Scarce
from optiselect.solver.short_stock import with_short_stock
from optiselect.solver.task import TaskMaker

MOST_ROUNDS = 12
_LITTLE_EFFORT, _MUCH_EFFORT = 0.15, 3.0


def choose_in_rounds(preparation: Preparation, tasks: TaskMaker, watch: Watch) -> Chosen:
    """Choose, counting only what proves to be scarce.

    Raises:
        Cancelled: when the caller stops before any options are known.
        Disagreement: when a plain enumeration finds fewer part numbers than were proven to be the fewest.
    """
    counted = Scarce(sure_to_run_short(preparation), preparation.may_run_short.strands, preparation.may_run_short.copper)
    chosen: Chosen | None = None
    looked_at: list[frozenset[str] | None] = []
    for round_number in range(MOST_ROUNDS + 1):  # pragma: no branch - in the last round all is counted, and nothing is overdrawn
        if round_number == MOST_ROUNDS:
            counted = preparation.may_run_short
        chosen = _choose(preparation, counted, tasks, watch, chosen)
        looked_at.append(chosen.possible)
        overdrawn = _overdrawn(preparation, chosen, counted) | settle_ports(preparation, chosen, counted)
        if not overdrawn:
            settled = [parts for parts in looked_at if parts is not None]
            chosen.priced = frozenset[str]().union(*settled) if len(settled) == len(looked_at) else None
            break
        counted = counted.joined(overdrawn)
        if watch.is_over:
            without = let_go(preparation, chosen, {resource[1] for resource in overdrawn if resource[0] == "ports"})
            if without is not None:
                return without
            counted = preparation.may_run_short
    assert chosen is not None  # there is a first round
    return chosen


def _choose(preparation: Preparation, counted: Scarce, tasks: TaskMaker, watch: Watch, before: Chosen | None) -> Chosen:
    """One round: the fewest part numbers by themselves first, with the few options that matter to them, then everything.

    `before`: the answer of the round before.
    """
    if before is None or tasks.most_part_numbers is not None:  # a round where more will do proves no fewest
        return _chosen(preparation, counted, tasks, watch, before)
    found: Chosen | None = None
    if may_follow(before, tasks):
        found = with_short_stock(preparation, before, counted, tasks, watch) if counted.stock else None
        found = found or with_same_parts(preparation, before, counted, tasks, watch)
    if found is None:
        return bounded_by(before, _chosen(preparation, counted, tasks, watch, before))
    found = bounded_by(before, found)
    if watch.is_over_now() or all(stage.proven for stage in found.stages):
        return found
    better = further(preparation, found, tasks, watch)
    if better is None:
        if watch.is_over_now():
            return found
        better = _chosen(preparation, counted, tasks, watch, before)
    return better_of(found, better)


def _chosen(preparation: Preparation, counted: Scarce, tasks: TaskMaker, watch: Watch, before: Chosen | None) -> Chosen:
    may_stop = before is None
    if not tasks.counts_parts_early:
        prepared = preparation.counting(counted, may_stop=may_stop)
        task = tasks.whole(prepared, in_haste=watch.is_over_now)
        chosen = _all_at_once(prepared, counted, task, watch)
        return replace(chosen, fewest_confirmed=fewest_confirmed(task, chosen.stages))
    without = frozenset(preparation.replaced_at_any_price)
    few = preparation.counting(counted, may_stop=may_stop, wanted=Wanted(without=without, counted=tasks.counted_early))
    outcome, options, possible, confirmed = _fewest(few, tasks, watch, before)
    after = tasks.objectives[len(outcome.stages) :]
    proven = all(stage.proven for stage in outcome.stages)
    settled = settled_first(tasks.objectives, tasks.plans_spares)
    most = tasks.most_part_numbers if outcome.stages[-1].value < (tasks.most_part_numbers or 0) else None
    families = preparation.replaced_at_any_price if most is None else {}
    only = None if possible is None else possible | {part for part, other in families.items() if other in possible}

    def first() -> Chosen:
        """The plan with the fewest part numbers, where there is no time for the rest."""
        spares, best = tasks.spares_of(few), best_alike(few, options, tasks.counted_early, after)
        values = values_of(few, best, spares)  # link by link: the rows of the first objectives put links together that differ in the others
        stages = [*(Stage(stage.name, values[stage.name], stage.bound) for stage in outcome.stages), *(Stage(name, values[name], 0) for name in after)]
        return Chosen(few, counted, stages, spares, best, fewest_confirmed=confirmed, possible=only)

    if watch.is_over_now():
        return first()
    try:
        prepared = preparation.counting(counted, may_stop=True, wanted=Wanted(only=only), has_plan=True)
    except Cancelled:
        return first()
    answer: Answer | None = None
    if proven and not tasks.plans_spares:
        answer = by_part_lists(prepared, settled, after, options, watch, most=most, families=families)
    if answer is None:
        found = first()
    else:
        stages = [*outcome.stages[:-1], _parts_of(answer[1]), *answer[0]]
        found = Chosen(prepared, counted, stages, {}, answer[1], by_lists=True, fewest_confirmed=confirmed, possible=only)
    if watch.is_over_now() or all(stage.proven for stage in found.stages):
        return found
    if tasks.most_part_numbers is None and not tasks.plans_spares:
        better = searched_on(preparation, found, tasks, watch)
        if better is not None or watch.is_over_now():
            return better or found
    task = tasks.whole(prepared, in_haste=watch.is_over_now)
    if watch.is_over_now():
        return found
    whole = replace(_all_at_once(prepared, counted, task, watch), fewest_confirmed=confirmed, possible=only)
    return whole if tasks.most_part_numbers is not None else better_of(found, whole)


def _fewest(few: Prepared, tasks: TaskMaker, watch: Watch, before: Chosen | None) -> tuple[Outcome, dict[str, Option], frozenset[str] | None, bool]:
    """The fewest part numbers, by link an option with which there are no more, the part numbers that any plan with so few has, and whether
    a plain enumeration confirms them.

    The part numbers of any plan are not asked for (None) where more will do, or the fewest are not proven.
    """
    task = tasks.parts_only(few, in_haste=watch.is_over_now)
    kinds = task.kinds_of_rows
    if kinds is not None and kinds in tasks.learnt.fewest:
        parts, known, confirmed = tasks.learnt.fewest[kinds]
        taken = task.with_parts(parts)
        values = [(name, measure(task, taken, name)) for name in task.objectives]
        outcome = Outcome(taken, [Stage(name, value, value) for name, value in values])
        return outcome, options_of(few, task, outcome), known, confirmed
    outcome = choose(task, watch)
    confirmed = fewest_confirmed(task, outcome.stages)
    options = options_of(few, task, outcome)
    proven = all(stage.proven for stage in outcome.stages)
    are_fewest = proven and outcome.stages[-1].value >= (tasks.most_part_numbers or 0)
    as_before = before is not None and [stage.value for stage in outcome.stages] == [stage.value for stage in before.stages[: len(outcome.stages)]]
    possible = before.possible if before is not None and as_before and are_fewest else None  # to count more only rules plans out
    if possible is None and are_fewest:
        possible = _possible(few, task, outcome, options, tasks, watch)
    if kinds is not None and proven and not watch.is_over:
        tasks.learnt.fewest[kinds] = parts_of(options.values()), possible, confirmed
    return outcome, options, possible, confirmed


def _possible(few: Prepared, task: Task, outcome: Outcome, options: Mapping[str, Option], tasks: TaskMaker, watch: Watch) -> frozenset[str] | None:
    """The part numbers of any plan of the fewest: most sites are walked at once, some are for the model, the rest are walked to the end."""
    settled = settled_first(tasks.objectives, tasks.plans_spares)
    possible = possible_parts(few, settled, options, watch, most_effort=_LITTLE_EFFORT)
    if possible is None and not watch.is_over:
        possible = possible_by_model(task, outcome, watch)
    if possible is None and not watch.is_over:
        possible = possible_parts(few, settled, options, watch, most_effort=_MUCH_EFFORT)
    return possible


def _all_at_once(prepared: Prepared, counted: Scarce, task: Task, watch: Watch) -> Chosen:
    outcome = choose(task, watch)
    return Chosen(prepared, counted, outcome.stages, task.spares, options_of(prepared, task, outcome))


def _parts_of(options: Mapping[str, Option]) -> Stage:
    """How many part numbers there are: no fewer were asked for, or as few as can be."""
    value = len(parts_of(options.values()))
    return Stage("part_numbers", value, value)


def _overdrawn(preparation: Preparation, chosen: Chosen, counted: Scarce) -> set[Resource]:
    """The resources that could run short, are not counted, and do run short in this answer (ports apart)."""
    prepared, picks = chosen.prepared, chosen.picks
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
    for part, steps in chosen.spares.items():
        if ("stock", part) in used:
            used["stock", part] += steps.kept(units[part])
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
    waiting = preparation.may_run_short.ports - counted.ports
    short: set[str] = set()
    for device_id, ends in ends_at({resource[1] for resource in waiting}, preparation, picks).items():
        places = places_for(preparation, prepared, picks, device_id, ends)
        if places is None:
            short.add(device_id)
            continue
        for (link_id, side), place in zip(ends, places, strict=True):
            pick = picks[link_id]
            if place != (pick.group_b if side else pick.group_a):
                picks[link_id] = replace(pick, group_b=place) if side else replace(pick, group_a=place)
    return {resource for resource in preparation.may_run_short.ports if resource[1] in short}
