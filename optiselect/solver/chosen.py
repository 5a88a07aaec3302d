"""The answer of a round of the choice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optiselect.solver.by_part_lists import sums_of
from optiselect.solver.choice import GREATEST, SUM_OF, Name, Outcome, SpareSteps, Stage, Task
from optiselect.solver.option import Option, Pick, parts_of
from optiselect.solver.prepare import Prepared
from optiselect.solver.scarce import Scarce


@dataclass
class Chosen:
    """The answer of a round, and how it is carried out link by link.

    Attributes:
        prepared: the options that the answer was chosen from. counted: the scarce resources that were counted.
        stages: the objectives with what is proven of each. spares: as of the `Task`. options: by served link.
        picks: likewise; links may move from one port group to another that takes their fitting as well.
        by_lists: whether a search over part lists proved the objectives after the part numbers.
        fewest_confirmed: whether a plain enumeration says the same of the fewest part numbers.
        possible: the part numbers of any plan with so few, where they are proven to be the fewest; None where that was not settled.
        priced: the part numbers at whose prices the choice looked, in all its rounds; None where that is not known.
    """

    prepared: Prepared
    counted: Scarce
    stages: list[Stage]
    spares: Mapping[str, SpareSteps]
    options: Mapping[str, Option]
    by_lists: bool = False
    fewest_confirmed: bool = False
    possible: frozenset[str] | None = None
    priced: frozenset[str] | None = None
    picks: dict[str, Pick] = field(init=False)

    def __post_init__(self) -> None:
        self.picks = {link_id: option.pick for link_id, option in self.options.items()}


def better_of(one: Chosen, other: Chosen) -> Chosen:
    """The better of two answers to one question; as long as they are alike, what either proves stands for both."""
    best, rest = (one, other) if _rank(one) <= _rank(other) else (other, one)
    return rest if all(stage.proven for stage in rest.stages) else bounded_by(rest, best)


def bounded_by(other: Chosen, chosen: Chosen) -> Chosen:
    """An answer that is bounded by what another proves of the same question, or of one that allows more."""
    stages = list(chosen.stages)
    for place, (mine, theirs) in enumerate(zip(chosen.stages, other.stages, strict=True)):
        bound = min(mine.bound, theirs.bound) if mine.name in GREATEST else max(mine.bound, theirs.bound)
        stages[place] = Stage(mine.name, mine.value, bound)
        if mine.value != theirs.value:
            break
    bounded = replace(chosen, stages=stages, by_lists=chosen.by_lists or other.by_lists)
    bounded.picks = chosen.picks
    return bounded


def _rank(chosen: Chosen) -> list[int]:
    return [-stage.value if stage.name in GREATEST else stage.value for stage in chosen.stages]


def values_of(prepared: Prepared, options: Mapping[str, Option], spares: Mapping[str, SpareSteps]) -> dict[Name, int]:
    """Every objective, of options by served link."""
    links = [prepared.rows[link_id].link for link_id in options]
    sums = sums_of(options.values(), [name for name in SUM_OF if name not in GREATEST])
    return sums | {
        "critical_links": sum(link.critical for link in links),
        "links": sum(link.weight for link in links),
        "part_numbers": len(parts_of(options.values())),
        "cost": sums["cost"] + cost_of_spares(options.values(), spares),
    }


def cost_of_spares(options: Iterable[Option], spares: Mapping[str, SpareSteps]) -> int:
    """What the spares of these options cost, in ten-thousandths of the currency."""
    units: Counter[str] = Counter()
    for option in options if spares else ():
        units.update(dict(option.parts))
    return sum(steps.price * steps.kept(units[part]) for part, steps in spares.items())


def options_of(prepared: Prepared, task: Task, outcome: Outcome) -> dict[str, Option]:
    """Which option each served link takes, at the prices of today."""
    builder = prepared.builder
    return {
        link_id: builder.at_this_price(prepared.options[link_id].options[position], prepared.rows[link_id]) for link_id, position in _positions(task, outcome)
    }


def best_alike(prepared: Prepared, options: Mapping[str, Option], settled: Iterable[int], aimed: Sequence[Name]) -> dict[str, Option]:
    """For each link the best option in the objectives `aimed`, in order, among those that use no part number which none of them has, take no more
    of anything scarce and are no worse at the places `settled` of their measures: it may take the place of the one that was chosen.
    """
    names = parts_of(options.values())
    places = [SUM_OF[name] - 2 for name in aimed if SUM_OF.get(name, 0) >= 2]
    best: dict[tuple[int, int], Option] = {}
    for link_id, option in options.items():
        found = prepared.options[link_id].options
        key = id(found), id(option)
        if key not in best:
            others = [prepared.builder.at_this_price(other, prepared.rows[link_id]) for other in found if other.names <= names]
            fit = [option, *(other for other in others if _is_no_worse(other, option, settled))]
            best[key] = min(fit, key=lambda its: [its.measures()[place] for place in places])
    return {link_id: best[id(prepared.options[link_id].options), id(option)] for link_id, option in options.items()}


def _is_no_worse(other: Option, option: Option, settled: Iterable[int]) -> bool:
    """Whether an option takes no more than another of one list, and is no worse at these places of their measures."""
    amounts, measures, its = dict(option.uses), option.measures(), other.measures()
    return all(its[place] <= measures[place] for place in settled) and all(amount <= amounts.get(resource, 0) for resource, amount in other.uses)


def _positions(task: Task, outcome: Outcome) -> Iterator[tuple[str, int]]:
    """For each served link the position of its option: the units of a row in the order of their ids, its ways in theirs."""
    for row, taken in zip(task.rows, outcome.taken, strict=True):
        units = iter(row.units)
        for index in sorted(taken):
            for _ in range(taken[index]):
                for link_id, position in zip(next(units), row.ways[index].taken, strict=True):
                    if position >= 0:
                        yield link_id, position
