"""A link that could be served alone: which ports, strands, power, stock and ways the links of a plan leave it.

The rules of the whole are asked of the link beside the links of the plan that it shares anything with.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from optiselect.explain.candidates import Candidates, Close
from optiselect.explain.conflicts import disjoint_conflicts, minimal_sets, smallest_conflict
from optiselect.explain.ends import EndChoice, Reason
from optiselect.explain.ground import Ground
from optiselect.explain.places import fact_of
from optiselect.explain.ways import Way, crowded
from optiselect.model.network import Link
from optiselect.model.plan import Fact, Plan, PlannedLink
from optiselect.model.refusal import Tally
from optiselect.model.terms import RULE_IDS
from optiselect.rules.fitted import FittedLink
from optiselect.rules.rule import Breach, listed
from optiselect.rules.served import units_of
from optiselect.solver.audit import Refitter

MOST_WAYS = 600
"""Ways beside a plan that are looked at; where there are more, the rest is told to be cut short."""


@dataclass(frozen=True, eq=False)
class Lacking:
    """A way to serve the link, and what the plan does not leave for it."""

    way: Way
    facts: tuple[tuple[Reason, Fact], ...]


class Beside:
    """The links of a plan, as what is taken."""

    def __init__(self, ground: Ground, planned: Iterable[PlannedLink]) -> None:
        self._ground = ground
        refitter = Refitter(ground.network, ground.catalog, ground.policy)
        self._fitted: dict[str, FittedLink] = {}
        self._sharing: dict[tuple[str, str], set[str]] = defaultdict(set)
        self._holder: dict[tuple[str, str], str] = {}
        for link in planned:
            fitted = self._fitted[link.id] = refitter.link(link)
            for key in _shared_by(ground, fitted):
                self._sharing[key].add(link.id)
            for end in link.ends:
                self._holder[end.device, end.port] = link.id

    def lacking(self, way: Way) -> Lacking:
        """What is missing for a way, beside the links of the plan."""
        facts: list[tuple[Reason, Fact]] = []
        ends = []
        for choice, end in zip((way.a, way.b), way.link.ends, strict=True):
            port, holders = self._port(choice)
            ends.append(end._replace(port_id=port))
            if holders:
                facts.append(_no_port(end.device.id, holders))
        link = replace(way.link, a=ends[0], b=ends[1])
        near = {name for key in _shared_by(self._ground, link) for name in self._sharing[key]} | self._apart_from(link.asked.link)
        others = tuple(self._fitted[name] for name in sorted(near & set(self._fitted)))
        for reason, breach in crowded(self._ground, link, others):
            if breach.rule != "port-once":
                facts.append((reason, fact_of(breach, reason[1], links=self._holders(breach, link, others))))
        return Lacking(way, tuple(facts))

    def _port(self, choice: EndChoice) -> tuple[str, tuple[str, ...]]:
        """A free port for a fitting, or the first one and who holds all of them."""
        group = choice.group
        alike = [other for other in choice.groups if other.end_class == group.end_class and other.installed == group.installed]
        names = [name for other in alike for name in other.names]
        for name in names:
            if (group.device.id, name) not in self._holder:
                return name, ()
        return names[0], tuple(sorted({self._holder[group.device.id, name] for name in names}))

    def _apart_from(self, link: Link) -> set[str]:
        return {name for name in self._fitted if name in link.diverse_from or link.id in self._ground.links[name].diverse_from}

    def _holders(self, breach: Breach, link: FittedLink, others: tuple[FittedLink, ...]) -> tuple[str, ...]:
        """Who of the plan's links has what is missing."""
        if breach.rule == "diversity":
            return tuple(sorted({breach.path, str(breach.facts["other"])} - {link.asked.link.id}))
        key = {"strands-free": "run", "device-power": "device", "stock": "part"}[breach.rule], breach.path
        return tuple(sorted(other.asked.link.id for other in others if key in set(_shared_by(self._ground, other))))


def _shared_by(ground: Ground, link: FittedLink) -> Iterable[tuple[str, str]]:
    """What other links may want as well."""
    yield from (("device", end.device.id) for end in link.ends)
    yield from (("run", run.id) for run in link.path.runs)
    yield from (("part", part) for part in units_of((link,)) if part in ground.stock)


def _no_port(device: str, holders: tuple[str, ...]) -> tuple[Reason, Fact]:
    place = f"devices.{device}.ports"
    ports = "the port that takes it is" if len(holders) == 1 else f"all {len(holders)} ports that take it are"
    text = f"{device}: {ports} in use, by {listed(holders, 'others')}"
    return ("port-once", place), Fact(rule="port-once", path=place, required=1, available=0, unit="ports", links=holders, text=text)


@dataclass(frozen=True)
class Crowding:
    """What stands in the way of a link beside a plan.

    Attributes:
        conflict: the smallest set of what is taken that keeps the link out. others: disjoint sets beside it.
        tally: candidates that pass alone, by the first thing that they lack.
        nearest: the ways that lack least. cut: not every way was looked at.
    """

    conflict: tuple[Fact, ...]
    others: int
    tally: tuple[Tally, ...]
    nearest: tuple[Lacking, ...]
    cut: bool


def crowding(candidates: Candidates, plan: Plan) -> Crowding:
    """What a plan does not leave for a link that could be served alone."""
    beside = Beside(candidates.ground, plan.links)
    reasons: dict[Reason, Fact] = {}
    found: list[tuple[Close, Lacking]] = []
    for close in candidates.passing[:MOST_WAYS]:
        lacking = beside.lacking(candidates.way(close))
        found.append((close, lacking))
        for reason, fact in lacking.facts:
            if reason not in reasons or _short(fact) < _short(reasons[reason]):
                reasons[reason] = fact
    cut = len(candidates.passing) > MOST_WAYS or candidates.cut
    order = sorted(reasons, key=lambda reason: (RULE_IDS.index(reason[0]), reason[1]))
    position = {reason: index for index, reason in enumerate(order)}
    masks = [sum(1 << position[reason] for reason in {reason for reason, _ in lacking.facts}) for _, lacking in found]
    conflict: tuple[Fact, ...] = ()
    others = 0
    if masks and all(masks):
        smallest = smallest_conflict(minimal_sets(masks))
        complete = smallest.is_smallest and not cut
        conflict, others = (
            tuple(reasons[order[bit]].model_copy(update={"complete": complete}) for bit in smallest.bits),
            disjoint_conflicts(masks, smallest.bits),
        )
    nearest = sorted((lacking for _, lacking in found), key=_nearness)
    return Crowding(conflict, others, _tally(found, candidates), tuple(nearest[:3]), cut)


def _nearness(lacking: Lacking) -> tuple[object, ...]:
    price = lacking.way.price
    shortfall = sum(_short(fact) for _, fact in lacking.facts)
    return len(lacking.facts), shortfall, price is None, price or 0.0, lacking.way.parts


def _short(fact: Fact) -> float:
    """How much is lacking, in the fact's unit."""
    return abs(fact.required - fact.available) if isinstance(fact.required, float) and isinstance(fact.available, float) else 0.0


def _tally(found: list[tuple[Close, Lacking]], candidates: Candidates) -> tuple[Tally, ...]:
    """Each candidate that passes alone at the first thing that it lacks, of its ways the one that gets furthest."""
    furthest: dict[tuple[int, int, int], tuple[int, int]] = {}
    for close, lacking in found:
        first = min((RULE_IDS.index(fact.rule) for _, fact in lacking.facts), default=len(RULE_IDS))
        key = (id(close.asked), id(close.a), id(close.b))
        known = furthest.get(key)
        furthest[key] = max(first, known[0]) if known else first, close.a.counted * close.b.counted
    counts: Counter[int] = Counter()
    for first, count in furthest.values():
        counts[first] += count
    tally = [Tally(rule=RULE_IDS[first] if first < len(RULE_IDS) else None, count=count) for first, count in sorted(counts.items()) if count]
    left = candidates.passed - sum(entry.count for entry in tally)
    return (*tally, *([Tally(rule=None, count=left)] if left else []))
