"""From options and policy to the task of the choice: objectives in order, spares as steps, rows."""

from __future__ import annotations

from collections import ChainMap, Counter
from collections.abc import Callable, Hashable, MutableMapping
from dataclasses import dataclass, field
from functools import cached_property

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.optics.spares import spares_needed
from optiselect.solver.choice import SUM_OF, Name, SpareSteps, Task, settled_first
from optiselect.solver.clusters import Shapes
from optiselect.solver.fittings import in_ten_thousandths
from optiselect.solver.prepare import Prepared
from optiselect.solver.rows import rows_of


@dataclass(frozen=True)
class Learnt:
    """What was learnt under one policy, whatever the network and the catalog.

    Attributes:
        shapes: of clusters. fewest: by the kinds of rows of a task up to the part numbers, the fewest that serve, all that are in any
            such few (None: not settled), and whether the fewest are confirmed.
    """

    shapes: Shapes = field(default_factory=Shapes)
    fewest: MutableMapping[Hashable, tuple[frozenset[str], frozenset[str] | None, bool]] = field(default_factory=dict)

    def lent(self) -> Learnt:
        """The same, to which what is added is forgotten with the borrower."""
        return Learnt(Shapes(ChainMap({}, self.shapes.contents), ChainMap({}, self.shapes.lists), ChainMap({}, self.shapes.ways)), ChainMap({}, self.fewest))


class TaskMaker:
    """Makes the tasks of one network, catalog and policy; what it learns serves its later tasks, and those of others under the policy.

    Attributes:
        most_part_numbers: as of a `Task`; to be set between tasks.
    """

    def __init__(self, network: Network, catalog: Catalog, policy: Policy, learnt: Learnt | None = None) -> None:
        self._network, self._catalog, self._policy = network, catalog, policy
        self.most_part_numbers: int | None = None
        self.learnt = learnt or Learnt()
        self._steps: dict[str, SpareSteps] = {}

    @cached_property
    def objectives(self) -> tuple[Name, ...]:
        """All objectives in order.

        Fewest links that rest on an unknown comes right after the links; to keep what is installed, where that is
        preferred, comes next; preferred parts decide last, between plans that are equal in all else.
        """
        policy = self._policy
        names: list[Name] = ["critical_links"] if any(link.critical for link in self._network.wanted) else []
        names += ["links", "unknowns"]
        if policy.keep_installed == "prefer" and "changes" not in policy.objective:
            names.append("changes")
        names += [name for name in policy.objective if name != "links"]
        if policy.prefer_parts:
            names.append("disliked")
        return tuple(names)

    @property
    def counts_parts_early(self) -> bool:
        """Whether the part numbers are the first objective that is not a plain sum, with others after it.

        Not where cost comes before them: what is found early leaves out parts that another replaces at any price.
        """
        first = settled_first(self.objectives, self._policy.spares is not None)
        return "cost" not in first and "part_numbers" in self.objectives[len(first) : len(first) + 1] and len(first) + 1 < len(self.objectives)

    @property
    def counted_early(self) -> frozenset[int]:
        """The places in `Option.measures` that matter up to the part numbers."""
        return frozenset(SUM_OF[name] - 2 for name in settled_first(self.objectives, self.plans_spares) if SUM_OF[name] >= 2)

    @property
    def plans_spares(self) -> bool:
        """Whether spares are bought, so that the cost is not a plain sum over the links."""
        return self._policy.spares is not None

    def parts_only(self, prepared: Prepared, *, in_haste: Callable[[], bool]) -> Task:
        """The task up to the part numbers, in which only these and what comes before them count: far fewer ways matter."""
        names = self.objectives[: self.objectives.index("part_numbers") + 1]
        return self._task(prepared, names, spares=False, in_haste=in_haste)

    def whole(self, prepared: Prepared, *, in_haste: Callable[[], bool]) -> Task:
        """The task with all objectives."""
        return self._task(prepared, self.objectives, spares=self._policy.spares is not None, in_haste=in_haste)

    def _task(self, prepared: Prepared, names: tuple[Name, ...], *, spares: bool, in_haste: Callable[[], bool]) -> Task:
        capacity = dict(prepared.capacity)
        steps = self.spares_of(prepared)
        for part in sorted(steps):
            if ("stock", part) in capacity:
                capacity["stock", part] = self._room_with_spares(capacity["stock", part], part, steps[part])
        counted = tuple(sorted({SUM_OF[name] for name in names if name != "part_numbers"}))
        rows = rows_of(prepared.joined.clusters, capacity, prepared.apart, names, counted, spares=spares, shapes=self.learnt.shapes, in_haste=in_haste)
        return Task(rows, capacity, prepared.apart, steps if spares else {}, names, self._policy.seed, self._policy.workers, self.most_part_numbers)

    def spares_of(self, prepared: Prepared) -> dict[str, SpareSteps]:
        """The spares of every part that some option uses; nothing when no spares are planned."""
        if self._policy.spares is None:
            return {}
        lists = {id(found.options): found.options for found in prepared.options.values()}
        parts = sorted({part for options in lists.values() for option in options for part in option.names})
        return {part: self._spare_steps(part, 2 * len(self._network.wanted)) for part in parts}

    def _spare_steps(self, part: str, most: int) -> SpareSteps:
        """From how many units on each further spare is kept."""
        if part not in self._steps:
            item = self._catalog.module_by_part.get(part) or self._catalog.converter_by_part.get(part)
            spares = self._policy.spares
            steps: list[int] = []
            if item is not None and item.fit is not None and spares is not None:
                for units in range(1, most + 1):
                    needed = spares_needed(units, item.fit, spares.restock_days * 24, spares.service_level)
                    steps += [units] * (needed - len(steps))
            self._steps[part] = SpareSteps(tuple(steps), in_ten_thousandths(item.price if item else None))
        return self._steps[part]

    def _room_with_spares(self, stock: int, part: str, steps: SpareSteps) -> int:
        """How many units may be bought so that they and their spares are in stock.

        Units that are in place need spares too; all of them are taken to stay, which is on the safe side.
        """
        in_place = Counter(self._network.installed.values())[part] if self._policy.keep_installed != "no" else 0
        units = stock
        while units > 0 and units + steps.kept(units + in_place) > stock:
            units -= 1
        return units
