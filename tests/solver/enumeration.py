"""Plain enumeration: every way to fit a small network, judged by the rules themselves and scored in plain arithmetic.

Nothing of the solver's reductions is used: no port groups, no classes of ends, no thresholds, no dominance, no clusters.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import exp, factorial, inf

from optiselect.model.catalog import Attenuator, Catalog, Cord
from optiselect.model.network import Link, Network, Run
from optiselect.model.plan import PlannedEnd
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Rate
from optiselect.rules import END_RULES, NETWORK_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.rule import Breach
from optiselect.rules.served import Served, taken_by
from optiselect.solver.audit import Refitter

Score = tuple[float, ...]
Fitting = dict[str, str]
SEE_NO_CORD = tuple(rule for rule in PAIR_RULES if rule.id in ("wavelength", "role", "earthing"))


@dataclass(frozen=True)
class Way:
    """A link as it may be served, and whether that rests on a figure that nobody states."""

    link: FittedLink
    unknown: bool


def holds(breaches: Iterable[Breach]) -> bool:
    """Whether nothing is broken; what cannot be checked may stand."""
    return all(breach.unknown for breach in breaches)


def spares_of(units: int, fit: float | None, policy: Policy) -> int:
    """The least k with P(failures <= k) at the service level, term by term."""
    if policy.spares is None or fit is None:
        return 0
    mean = units * fit * 1e-9 * policy.spares.restock_days * 24
    spares = 0
    while sum(exp(-mean) * mean**failures / factorial(failures) for failures in range(spares + 1)) < policy.spares.service_level:
        spares += 1
    return spares


class Enumeration:
    """All ways to serve a network."""

    def __init__(self, network: Network, catalog: Catalog, policy: Policy) -> None:
        self.network, self.catalog, self.policy = network, catalog, policy
        self.links = sorted(network.wanted, key=lambda link: link.id)
        self._refitter = Refitter(network, catalog, policy)
        self._items = {item.part: item for items in (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators) for item in items}
        self._cords = [None, *filter(self._may_be_used, catalog.cords)]
        self._attenuators = [None, *filter(self._may_be_used, catalog.attenuators)]
        self.ways = {link.id: self._ways_at_its_rate(link) for link in self.links}

    def _may_be_used(self, item: Cord | Attenuator) -> bool:
        return item.part not in self.policy.exclude_parts and item.lifecycle in self.policy.lifecycles

    # -- what a link may be served with ---------------------------------------------------------------------------

    def _ways_at_its_rate(self, link: Link) -> list[Way]:
        """The ways at the rate that is wanted, else at the highest that any way alone allows; one that rests on an unknown last."""
        rates: Sequence[Rate] = [link.rate] if link.rate else RATES[::-1]
        by_rate = [[way for way in self._ways(link, rate) if self.fits([way])] for rate in rates]
        certain = [ways for ways in by_rate if any(not way.unknown for way in ways)]
        return next(iter([*certain, *filter(None, by_rate)]), [])

    def _ways(self, link: Link, rate: Rate) -> Iterator[Way]:
        for chain in self._chains(link):
            asked = Asked(link, rate, self._path(link, chain), self.policy)
            ends = [list(self._ends(asked, side)) for side in (0, 1)]
            joined = {}
            for (a, what_a, unknown_a), (b, what_b, unknown_b) in product(*ends):
                key = (what_a, what_b)
                if key not in joined:  # the rules of a pair and of a path look at what is fitted, not at the port
                    joined[key] = self._with_accessories(FittedLink(asked, a, b))
                whole = joined[key]
                if whole is not None:
                    a, b = a._replace(cord=whole.a.cord, attenuator=whole.a.attenuator), b._replace(cord=whole.b.cord, attenuator=whole.b.attenuator)
                    unknown = any(True for rule in (*PAIR_RULES, *PATH_RULES) for _ in rule.check(whole))
                    yield Way(FittedLink(asked, a, b), unknown or unknown_a or unknown_b)

    def _chains(self, link: Link) -> Iterator[tuple[Run, ...]]:
        """The stated chain, or every chain of runs of one medium through panels that visits no place twice."""
        if link.over is not None:
            yield tuple(self.network.run_by_id[run] for run in link.over)
            return
        chains = self._onward(link.devices[0], link.devices[1], ())
        yield from (chain for chain in chains if len({run.fiber is None for run in chain}) == 1)

    def _onward(self, here: str, goal: str, seen: tuple[str, ...]) -> Iterator[tuple[Run, ...]]:
        for run in self.network.runs:
            if here in run.ends:
                there = run.ends[run.ends[0] == here]
                if there == goal:
                    yield (run,)
                elif there in self.network.panel_by_id and there not in seen:
                    yield from ((run, *rest) for rest in self._onward(there, goal, (*seen, there)))

    def _path(self, link: Link, chain: tuple[Run, ...]) -> Path:
        places = [link.devices[0]]
        for run in chain:
            places.append(run.ends[run.ends[0] == places[-1]])
        sites = [(self.network.device_by_id.get(place) or self.network.panel_by_id[place]).site for place in places]
        flipped = tuple(run.ends[0] != place for run, place in zip(chain, places, strict=False))
        panels = tuple(self.network.panel_by_id[place] for place in places[1:-1])
        return Path(chain, flipped, panels, tuple(self.network.site_by_id.get(site) if site else None for site in sites))

    def _ends(self, asked: Asked, side: int) -> Iterator[tuple[FittedEnd, tuple[str | None, ...], bool]]:
        """Everything that may be in every port of an end, that no rule of an end stops; with a name for what is fitted."""
        device, pinned = asked.link.devices[side], asked.link.pinned[side]
        for port in [pinned] if pinned else self.network.device_by_id[device].port_by_id:
            for fitting in self._fittings():
                end = self._refitter.end(PlannedEnd(device=device, port=port, **fitting), asked.rate)
                breaches = [breach for rule in END_RULES for breach in rule.check(end, asked)]
                if holds(breaches):
                    soldered = port if fitting == {"fitting": "fixed"} else None
                    yield end, (fitting["fitting"], fitting.get("module"), fitting.get("converter"), soldered), bool(breaches)

    def _fittings(self) -> Iterator[Fitting]:
        """The copper socket, the port's own optic, any module, any converter with its own optic or with any module."""
        modules = [{"fitting": "module", "module": module.part} for module in self.catalog.modules]
        converters = [{"converter": converter.part} for converter in self.catalog.converters]
        yield from ({"fitting": "copper"}, {"fitting": "fixed"}, *modules)
        yield from (fitting | converter for converter in converters for fitting in ({"fitting": "fixed"}, *modules))

    def _with_accessories(self, link: FittedLink) -> FittedLink | None:
        """The link with the cheapest cords and the smallest attenuators that serve; on a single strand one at the first end.

        No cord is planned at a module that does not state its connector.
        """
        if not holds(breach for rule in SEE_NO_CORD for breach in rule.check(link)):
            return None
        cords = [self._cords if end.light is not None and end.light.connector is not None else [None] for end in link.ends]
        corded = [FittedLink(link.asked, link.a._replace(cord=cord_a), link.b._replace(cord=cord_b)) for cord_a, cord_b in product(*cords)]
        serving = [way for way in corded if holds(breach for rule in PAIR_RULES for breach in rule.check(way))]
        if not serving:
            return None
        cheapest = min(serving, key=lambda way: sum(self._price(end.cord) for end in way.ends))
        single = link.a.light is not None and link.a.light.strands == 1
        damped = [
            FittedLink(link.asked, cheapest.a._replace(attenuator=at_a), cheapest.b._replace(attenuator=at_b))
            for at_a, at_b in product(self._attenuators, [None] if single else self._attenuators)
        ]
        lit = [way for way in damped if holds(breach for rule in PATH_RULES for breach in rule.check(way))]
        return min(lit, key=lambda way: (self._loss(way), sum(self._price(end.attenuator) for end in way.ends)), default=None)

    def _loss(self, link: FittedLink) -> float:
        return sum(end.attenuator.loss_db for end in link.ends if end.attenuator)

    def _price(self, item: Cord | Attenuator | None) -> float:
        return (item.price or 0) if item else 0

    # -- the whole ------------------------------------------------------------------------------------------------

    def fits(self, ways: Sequence[Way]) -> bool:
        """Whether links share ports, strands, power, routes and stock as the rules of the whole want it."""
        links = tuple(way.link for way in ways)
        units = self._units(links)
        kept = frozenset(end.name for link in links for end in link.ends if self._stays(end))
        taken = tuple(map(taken_by, links))
        served = Served(self.network, self.catalog, self.policy, taken, units, {part: self._spares(part, count) for part, count in units.items()}, kept)
        return holds(breach for rule in NETWORK_RULES for breach in rule.check(served))

    def _units(self, links: Iterable[FittedLink]) -> Counter[str]:
        ends = [end for link in links for end in link.ends]
        return Counter(item.part for end in ends for item in (end.module, end.converter, end.cord, end.attenuator) if item is not None)

    def _spares(self, part: str, count: int) -> int:
        return spares_of(count, getattr(self._items[part], "fit", None), self.policy)

    def _stays(self, end: FittedEnd) -> bool:
        return end.installed is not None and end.module is not None and end.converter is None and end.module.part == end.installed

    @property
    def names(self) -> list[str]:
        """The objectives in order: critical links, links, unknowns, then `changes` where to keep is preferred, then the policy's."""
        critical = ["critical_links"] * any(link.critical for link in self.links)
        keeping = ["changes"] * (self.policy.keep_installed == "prefer" and "changes" not in self.policy.objective)
        return [*critical, "links", "unknowns", *keeping, *self.policy.objective[1:], *["disliked"] * bool(self.policy.prefer_parts)]

    def score(self, ways: Sequence[Way]) -> Score:
        """The objectives in order; less is better."""
        links = [way.link for way in ways]
        ends = [end for link in links for end in link.ends]
        units = self._units(links)
        kept = Counter(end.installed for end in ends if self._stays(end))
        counted = [item.part for end in ends for item in (end.module, end.converter, end.attenuator) if item is not None]
        cost = sum((count - kept[part] + self._spares(part, count)) * (self._items[part].price or 0) for part, count in units.items())
        values = {
            "critical_links": -sum(link.asked.link.critical for link in links),
            "links": -sum(link.asked.link.weight for link in links),
            "unknowns": sum(way.unknown for way in ways),
            "part_numbers": len(set(counted)),
            "cost": round(cost, 4),
            "strands": sum((link.a.light.strands or 1) * len(link.path.runs) for link in links if link.path.medium == "fiber" and link.a.light),
            "modules": sum(end.module is not None for end in ends),
            "changes": sum(end.installed is not None and not self._stays(end) for end in ends),
            "disliked": sum(part not in self.policy.prefer_parts for part in counted),
        }
        return tuple(values[name] for name in self.names)

    def best(self) -> list[tuple[str, float]]:
        """Every objective in order, with its value in the best of all combinations that fit."""
        return [(name, abs(value)) for name, value in zip(self.names, self._best([], self.links, (inf,)), strict=True)]

    def _best(self, chosen: list[Way], left: Sequence[Link], best: Score) -> Score:
        """The best of what is known and of everything that goes on from `chosen`.

        What does not fit fits no better with one more; and one more link makes nothing but the links served better.
        """
        hoped = {"critical_links": sum(link.critical for link in left), "links": sum(link.weight for link in left)}
        score = self.score(chosen)
        if tuple(value - hoped.get(name, 0) for name, value in zip(self.names, score, strict=True)) >= best:
            return best
        if not left:
            return score
        for way in sorted(self.ways[left[0].id], key=lambda way: self.score([*chosen, way])):
            if self.fits([*chosen, way]):
                best = self._best([*chosen, way], left[1:], best)
        return self._best(chosen, left[1:], best)
