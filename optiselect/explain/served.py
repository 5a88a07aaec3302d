"""What a served link gets, and why not the cheaper or the obvious: what each would break, or what it would cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from optiselect.explain.candidates import Candidates
from optiselect.explain.crowded import Beside
from optiselect.explain.ground import Ground
from optiselect.explain.places import fact_of
from optiselect.explain.ways import Way, spares_of
from optiselect.explain.wording import alternative_text, explanation_text
from optiselect.model.explanation import Alternative, Explanation
from optiselect.model.plan import Fact, Plan, PlannedLink
from optiselect.model.refusal import Effect, Tally
from optiselect.model.terms import RULE_IDS
from optiselect.rules import RULE_BY_ID
from optiselect.rules.fitted import FittedLink
from optiselect.rules.served import units_of
from optiselect.solver.assemble import planned_end
from optiselect.solver.audit import Refitter

MOST = 3
_WAYS = 400


def explanation_of(ground: Ground, plan: Plan, planned: PlannedLink) -> Explanation:
    """A served link with what else it could have had, and why it has not."""
    link = ground.links[planned.id]
    candidates = Candidates(ground, link, (planned.rate,))
    choice = _Choice(ground, plan, planned)
    alternatives = tuple(choice.alternatives(candidates))[:MOST]
    passing = Tally(rule=None, count=candidates.passed)
    rules = sorted({fact.rule for other in alternatives for fact in other.breaches}, key=RULE_IDS.index)
    found = Explanation(
        id=planned.id,
        link=planned,
        candidates=candidates.total,
        tally=(*candidates.tally(), *([passing] if passing.count else [])),
        alternatives=alternatives,
        cut_short=candidates.cut,
        sources=tuple(f"{rule}: {RULE_BY_ID[rule].source}" for rule in rules),
    )
    return found.model_copy(update={"text": explanation_text(found)})


@dataclass(frozen=True)
class _Bill:
    """Part numbers and cost of a whole plan."""

    parts: frozenset[str]
    cost: float


class _Choice:
    """A planned link, and what the plan would be with another choice for it and everything else as it is."""

    def __init__(self, ground: Ground, plan: Plan, planned: PlannedLink) -> None:
        self._ground, self._plan, self._planned = ground, plan, planned
        self._beside = Beside(ground, (link for link in plan.links if link.id != planned.id))
        refitter = Refitter(ground.network, ground.catalog, ground.policy)
        self._own = refitter.link(planned)
        self._others: Counter[str] = Counter()
        for other in plan.links:
            if other.id != planned.id:
                self._others.update(units_of((refitter.link(other),)))
        self._now = self._bill(self._own)
        self._price = _price(self._own)

    def alternatives(self, candidates: Candidates) -> Iterator[Alternative]:
        """The cheapest that passes, the cheapest of one part at both ends, then what is cheaper and does not pass."""
        told = {self._fitting(self._own)}
        ways = sorted((candidates.way(close) for close in candidates.passing[:_WAYS]), key=_by_price)
        same = [way for way in ways if way.a.parts == way.b.parts]
        for why, several in (("cheapest", ways), ("obvious", same)):
            first = next(iter(several), None)
            if first is not None and self._fitting(first.link) not in told:
                told.add(self._fitting(first.link))
                yield self._alternative(first, "cheapest" if why == "cheapest" else "obvious")
        for way in candidates.nearest():
            cheaper = way.price is not None and self._price is not None and way.price < self._price
            if cheaper and self._fitting(way.link) not in told:
                told.add(self._fitting(way.link))
                yield self._alternative(way, "cheaper")

    def _alternative(self, way: Way, why: Literal["cheapest", "obvious", "cheaper"]) -> Alternative:
        facts: tuple[Fact, ...] = tuple(fact_of(breach, reason[1]) for reason, breach in way.broken)
        if not facts:
            facts = tuple(fact for _, fact in self._beside.lacking(way).facts)
        bill = self._bill(way.link)
        new = tuple(sorted(bill.parts - self._now.parts))
        by_part = self._ground.catalog.module_by_part | self._ground.catalog.converter_by_part | self._ground.catalog.attenuator_by_part
        effect = Effect(
            part_numbers=len(bill.parts) - len(self._now.parts),
            new_parts=new,
            cost=round(bill.cost - self._now.cost, 4),
            unpriced=tuple(part for part in new if by_part[part].price is None),
            currency=self._ground.catalog.currency,
        )
        ends = planned_end(way.link.a), planned_end(way.link.b)
        found = Alternative(
            why=why, over=tuple(run.id for run in way.asked.path.runs), ends=ends, breaches=facts, unknown=tuple(dict.fromkeys(way.unknown)), effect=effect
        )
        return found.model_copy(update={"text": alternative_text(found)})

    def _fitting(self, link: FittedLink) -> tuple[object, ...]:
        return tuple(run.id for run in link.path.runs), tuple(units_of((link,)).items())

    def _bill(self, link: FittedLink) -> _Bill:
        """The whole bill with this link fitted so; modules that stay in place are used, not bought."""
        catalog = self._ground.catalog
        units = self._others + Counter(units_of((link,)))
        cords = catalog.cord_by_part
        items = {item.part: item for several in (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators) for item in several}
        cost = sum((items[part].price or 0.0) * (count + spares_of(self._ground, part, count)) for part, count in units.items())
        cost -= sum(end.module.price or 0.0 for end in link.ends if end.module is not None and end.installed == end.module.part and end.converter is None)
        return _Bill(frozenset(part for part in units if part not in cords), cost)


def _price(link: FittedLink) -> float | None:
    items = [item for end in link.ends for item in (end.module, end.converter, end.cord, end.attenuator) if item is not None]
    prices = [item.price for item in items]
    return None if None in prices else sum(price for price in prices if price is not None)


def _by_price(way: Way) -> tuple[object, ...]:
    return bool(way.unknown), way.price is None, way.price or 0.0, way.parts
