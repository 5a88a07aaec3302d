"""What can go together: for each kind of path and rate, the pairs of figures that pass every rule of a pair.

A small constraint problem (python-constraint) of two variables, one a link end; its values are the *kinds* of light that
the ends accept, so its size follows the variety of the catalog, not its length. Lengths and losses come later
(`distances`), as limits of each pair that is found here.
"""

from __future__ import annotations

import warnings
from collections import defaultdict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from functools import cache

from constraint import Problem

from optiselect.model.catalog import Attenuator, Catalog, Cord
from optiselect.model.policy import Policy
from optiselect.rules import PAIR_RULES, RULE_BY_ID
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.rules.panel import conditioning_needed, cord_needed, cord_serves
from optiselect.rules.rule import Rule
from optiselect.solver.fittings import discrete_key, in_ten_thousandths
from optiselect.standards.transceiver import Transceiver

WHATEVER_THE_CORDS = frozenset({"wavelength", "role", "earthing"})
"""The rules of a pair that look at no cord: asked first, since they leave few pairs for which cords are looked for."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two kinds of light (indexes of `Fittings.lights`, -1 a copper socket) that go together, and the cords that join them.

    Attributes:
        unknown: some rule of the pair could not be checked for want of a figure.
    """

    a: int
    b: int
    cords: tuple[Cord | None, Cord | None]
    unknown: bool


class Accessories:
    """The cords and attenuators that may be used, cheapest first."""

    def __init__(self, catalog: Catalog, policy: Policy, most_units: int) -> None:
        def usable(item: Cord | Attenuator) -> bool:
            return item.part not in policy.exclude_parts and item.lifecycle in policy.lifecycles

        def order(item: Cord | Attenuator) -> tuple[bool, int, str]:
            # An item whose stated stock could run out comes last: which cord serves is decided here, before the choice.
            return item.stock is not None and item.stock < most_units, in_ten_thousandths(item.price), item.part

        self.policy = policy
        self._cords = sorted((cord for cord in catalog.cords if usable(cord)), key=order)
        self._attenuators: dict[Hashable, list[Attenuator]] = defaultdict(list)
        kept: set[Hashable] = set()
        for attenuator in sorted((item for item in catalog.attenuators if usable(item)), key=order):
            if (attenuator.mode, attenuator.connector, attenuator.loss_db) not in kept:
                kept.add((attenuator.mode, attenuator.connector, attenuator.loss_db))
                self._attenuators[attenuator.mode, attenuator.connector].append(attenuator)
        for ladder in self._attenuators.values():
            ladder.sort(key=lambda item: item.loss_db)
        self._chosen: dict[Hashable, Cord | None] = {}

    def attenuators(self, light: Transceiver | None) -> list[Attenuator]:
        """The attenuators that fit a light, least loss first; of equal ones the cheapest."""
        if light is None or not self.policy.allow_attenuators:
            return []
        return self._attenuators.get((light.mode, light.connector), [])

    def cord(self, end: FittedEnd, asked: Asked, side: int, conditioning: bool) -> Cord | None:
        """The cheapest cord that joins an end to what its run presents; None when none is needed or none serves."""
        need = cord_needed(end.light, asked.path, side, conditioning)
        if need is None:
            return None
        if need not in self._chosen:
            self._chosen[need] = next((cord for cord in self._cords if cord_serves(cord, need, self.policy)), None)
        return self._chosen[need]

    def with_cords(self, link: FittedLink) -> FittedLink:
        """The link with the cords that it needs at both ends.

        Where a person answers for plain cords in the place of mode-conditioning ones, these are taken all the same if they cost no more.
        """
        due = conditioning_needed(link.a.light, link.b.light, link.path)
        corded = self._corded(link, due)
        if due and "mode-conditioning" in link.asked.waived:
            return min(corded, self._corded(link, False), key=_gaps_and_price)
        return corded

    def _corded(self, link: FittedLink, conditioning: bool) -> FittedLink:
        cord_a = self.cord(link.a, link.asked, 0, conditioning)
        cord_b = self.cord(link.b, link.asked, 1, conditioning)
        if cord_a is None and cord_b is None:
            return link
        return FittedLink(link.asked, link.a._replace(cord=cord_a), link.b._replace(cord=cord_b))


def _gaps_and_price(link: FittedLink) -> tuple[int, float]:
    cords = [end.cord for end in link.ends if end.cord is not None]
    return -len(cords), sum(cord.price or 0.0 for cord in cords)


def pairs_that_fit(asked: Asked, at_a: Mapping[int, FittedEnd], at_b: Mapping[int, FittedEnd], accessories: Accessories) -> list[Pair]:
    """Return every pair of lights that passes the rules of a pair over a path of this kind, in order.

    Args:
        asked: rate, policy, waived rules and one path that stands for all of its profile.
        at_a, at_b: for each light that the ends accept, an end fitted with it.
        accessories: where the cords come from.
    """
    kinds_a, kinds_b = _by_kind(at_a, asked), _by_kind(at_b, asked)
    if not kinds_a or not kinds_b:
        return []
    first_a = [members[0] for members in kinds_a.values()]
    first_b = [members[0] for members in kinds_b.values()]
    unknown: set[tuple[int, int]] = set()

    @cache
    def bare(a: int, b: int) -> FittedLink:
        return FittedLink(asked, at_a[a], at_b[b])

    @cache
    def link_of(a: int, b: int) -> FittedLink:
        return accessories.with_cords(bare(a, b))

    problem = Problem()
    problem.addVariable("a", first_a)
    problem.addVariable("b", first_b)
    for rule in sorted(PAIR_RULES, key=lambda rule: rule.id not in WHATEVER_THE_CORDS):
        if rule.id not in asked.waived:
            problem.addConstraint(_holds(rule, bare if rule.id in WHATEVER_THE_CORDS else link_of, unknown), ("a", "b"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        solutions = sorted((solution["a"], solution["b"]) for solution in problem.getSolutions())
    members_a = {members[0]: members for members in kinds_a.values()}
    members_b = {members[0]: members for members in kinds_b.values()}
    found = []
    for kind_a, kind_b in solutions:
        link = link_of(kind_a, kind_b)
        for a in members_a[kind_a]:
            for b in members_b[kind_b]:
                found.append(Pair(a, b, (link.a.cord, link.b.cord), (kind_a, kind_b) in unknown))
    return sorted(found, key=lambda pair: (pair.a, pair.b))


def _by_kind(ends: Mapping[int, FittedEnd], asked: Asked) -> dict[Hashable, list[int]]:
    """Gather lights that the pair rules cannot tell apart, leaving out those whose mode the path refuses.

    The fiber-mode rule looks at each light by itself, so a light that fails it beside itself fails it beside any other.
    """
    kinds: dict[Hashable, list[int]] = defaultdict(list)
    for light_id in sorted(ends):
        light = ends[light_id].light
        kinds[discrete_key(light) if light is not None else None].append(light_id)
    mode = RULE_BY_ID["fiber-mode"]
    return {key: members for key, members in kinds.items() if not _refused_alone(mode, ends[members[0]], asked)}


def _refused_alone(rule: Rule, end: FittedEnd, asked: Asked) -> bool:
    return any(not breach.unknown for breach in rule.check(FittedLink(asked, end, end)))


def _holds(rule: Rule, link_of: Callable[[int, int], FittedLink], unknown: set[tuple[int, int]]) -> Callable[[int, int], bool]:
    def holds(a: int, b: int) -> bool:
        for breach in rule.check(link_of(a, b)):
            if not breach.unknown:
                return False
            unknown.add((a, b))
        return True

    return holds
