"""Where more is scarce than was counted: first a plan with the part numbers of the answer before, then a better one from there.

To count more only rules plans out. So what the answer before proves to be best stays a bound, and where its part numbers serve as many
links under the new counts, their number is proven with it. With so few part numbers a link has few options, and the plan is quickly
found; what is then still open is searched among all part numbers that a plan of so few may have, beginning there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from optiselect.errors import Cancelled
from optiselect.solver.choice import SUM_OF, Outcome, Row, Stage, Task, choose, measure, settled_first
from optiselect.solver.chosen import Chosen, better_of, options_of
from optiselect.solver.dominance import SUMS
from optiselect.solver.option import Wanted, parts_of
from optiselect.solver.prepare import Preparation, Prepared
from optiselect.solver.progress import Watch
from optiselect.solver.scarce import Resource, Scarce
from optiselect.solver.task import TaskMaker

FEW_LINKS = 100
"""Networks of no more links are planned with everything counted sooner than step by step."""
_MOST_EFFORT = 1.0
"""That the same part numbers do not serve may take very long to prove."""


def may_follow(before: Chosen, tasks: TaskMaker) -> bool:
    """Whether the part numbers of an answer are proven to be the fewest, on a network where it pays to begin with them."""
    return len(before.picks) > FEW_LINKS and before.possible is not None and not tasks.plans_spares


def with_same_parts(preparation: Preparation, before: Chosen, counted: Scarce, tasks: TaskMaker, watch: Watch) -> Chosen | None:
    """The best answer with the part numbers of the one before; None where it is worse in what comes up to their number."""
    names = parts_of(before.options.values())
    try:
        with watch.spending(_MOST_EFFORT):
            found = planned_within(names, preparation, counted, tasks, watch)
    except Cancelled:
        return None
    up_to = len(settled_first(tasks.objectives, tasks.plans_spares)) + 1
    if [stage.value for stage in found.stages[:up_to]] != [stage.value for stage in before.stages[:up_to]]:
        return None
    stages = [*before.stages[:up_to], *(Stage(stage.name, stage.value, 0) for stage in found.stages[up_to:])]
    return replace(found, stages=stages, possible=before.possible, fewest_confirmed=before.fewest_confirmed)


def planned_within(names: frozenset[str], preparation: Preparation, counted: Scarce, tasks: TaskMaker, watch: Watch) -> Chosen:
    """The best answer with these part numbers; what is proven of it is proven among such answers only.

    Raises:
        Cancelled: when time is over.
    """
    prepared = preparation.counting(counted, may_stop=True, wanted=Wanted(only=names), has_plan=True)
    task = tasks.whole(prepared, in_haste=watch.is_over_now)
    outcome = choose(task, watch)
    return Chosen(prepared, counted, outcome.stages, {}, options_of(prepared, task, outcome))


def further(preparation: Preparation, found: Chosen, tasks: TaskMaker, watch: Watch) -> Chosen | None:
    """A better answer than the one found, or the proof that there is none, as far as time allows; None where the search cannot begin there."""
    try:
        prepared = preparation.counting(found.counted, may_stop=True, wanted=Wanted(only=found.possible), has_plan=True)
    except Cancelled:
        return None
    task = tasks.whole(prepared, in_haste=watch.is_over_now)
    up_to = len(settled_first(tasks.objectives, tasks.plans_spares)) + 1
    taken = _taken(task, prepared, found)
    if taken is None or any(measure(task, taken, stage.name) != stage.value for stage in found.stages[:up_to]):
        return None
    outcome = Outcome(taken, found.stages[:up_to])
    choose(task, watch, outcome)
    return replace(found, prepared=prepared, stages=outcome.stages, options=options_of(prepared, task, outcome))


def searched_on(preparation: Preparation, found: Chosen, tasks: TaskMaker, watch: Watch) -> Chosen | None:
    """The better of an answer and of what a search from there finds, first among its own part numbers; None where the search cannot begin there."""
    same = with_same_parts(preparation, found, found.counted, tasks, watch) if len(found.picks) > FEW_LINKS else None
    best = found if same is None else better_of(found, same)
    better = further(preparation, best, tasks, watch)
    if better is None:
        return best if same is not None else None
    return better_of(best, better)


def _taken(task: Task, prepared: Prepared, answer: Chosen) -> list[dict[int, int]] | None:
    """An answer as the ways of a task, of which these are the options: the same ones, or others that use no other part numbers, take no more
    and are no worse in what comes before the part numbers; None where there is no such way.
    """
    settled = [SUM_OF[name] for name in settled_first(task.objectives, bool(task.spares))]
    positions: dict[tuple[int, int], int] = {}
    taken: list[dict[int, int]] = []
    for row in task.rows:
        places = {way.taken: index for index, way in enumerate(row.ways)}
        counts: dict[int, int] = {}
        for unit in row.units:
            its = []
            for link_id in unit:
                option, found = answer.options.get(link_id), prepared.options[link_id].options
                if option is None:
                    its.append(-1)
                    continue
                key = id(found), id(option)
                if key not in positions:
                    positions[key] = found.index(option) if option in found else -2
                its.append(positions[key])
            way = places.get(tuple(its))
            if way is None and any(place != -1 for place in its):
                way = _in_place_of(row, unit, answer, settled)
                if way is None:
                    return None
            if way is not None:
                counts[way] = counts.get(way, 0) + 1
        taken.append(counts)
    return taken


def _in_place_of(row: Row, unit: Sequence[str], answer: Chosen, places: Sequence[int]) -> int | None:
    """The first way of a row that uses no part numbers but those that its links have, takes no more, and is no worse in the sums at these places."""
    names: set[str] = set()
    uses: Counter[Resource] = Counter()
    sums = [0] * SUMS
    for link_id in unit:
        option = answer.options.get(link_id)
        if option is not None:
            link = answer.prepared.rows[link_id].link
            names |= option.names
            uses.update(dict(answer.prepared.options[link_id].uses(option)))
            sums = [a + b for a, b in zip(sums, (-int(link.critical), -link.weight, *option.measures()), strict=True)]
    for index, way in enumerate(row.ways):
        if way.names <= names and all(way.sums[place] <= sums[place] for place in places) and all(amount <= uses[its] for its, amount in way.uses):
            return index
    return None
