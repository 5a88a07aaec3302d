"""A link fitted with one candidate: everything that stands against it, with its cords and the attenuators that could help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from optiselect.explain.ends import EndChoice, Reason
from optiselect.explain.ground import Ground
from optiselect.explain.places import place_of_pair
from optiselect.optics.spares import spares_needed
from optiselect.rules import NETWORK_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.rules.rule import Breach, Rule
from optiselect.rules.served import Served, kept_ports, taken_by, units_of

Broken = tuple[tuple[Reason, Breach], ...]


@dataclass(frozen=True, eq=False)
class Way:
    """One candidate with its cords and attenuators, and everything that is broken; `unknown`: the figures that nobody states."""

    asked: Asked
    a: EndChoice
    b: EndChoice
    link: FittedLink
    broken: Broken
    unknown: tuple[str, ...] = ()

    @property
    def reasons(self) -> frozenset[Reason]:
        """What is broken, each rule and place once."""
        return frozenset(reason for reason, _ in self.broken)

    @property
    def price(self) -> float | None:
        """What its parts cost, cords and attenuators included; None where one states no price."""
        prices = [self.a.price, self.b.price, *(item.price for end in self.link.ends for item in (end.cord, end.attenuator) if item is not None)]
        return None if None in prices else round(sum(price for price in prices if price is not None), 4)

    @property
    def parts(self) -> tuple[str, ...]:
        """Every part number, sorted."""
        return tuple(units_of((self.link,)))


def ways_of(ground: Ground, asked: Asked, a: EndChoice, b: EndChoice) -> list[Way]:
    """A candidate as it stands, and once more with attenuators where too much light arrives and some would take it."""
    plain = with_cords(ground, asked, a, b)
    pair, unknown = judged(plain, PAIR_RULES)
    known = (*a.breaches, *b.breaches, *pair)
    ways = []
    for link in attenuated(ground, plain):
        beyond, also = judged(link, PATH_RULES)
        ways.append(Way(asked, a, b, link, (*known, *beyond, *alone(ground, link)), (*a.unknown, *b.unknown, *unknown, *also)))
    return ways


def with_cords(ground: Ground, asked: Asked, a: EndChoice, b: EndChoice) -> FittedLink:
    """Both ends with the cords that they need, where the catalog has them."""
    return ground.accessories.with_cords(FittedLink(asked, a.end, b.end))


def judged(link: FittedLink, rules: tuple[Rule, ...]) -> tuple[Broken, tuple[str, ...]]:
    """What these rules find on a link: what is broken, and what cannot be checked for want of a figure."""
    broken: list[tuple[Reason, Breach]] = []
    unknown = []
    link_id, path, waived = link.asked.link.id, link.path, link.asked.waived
    for rule in rules:
        if rule.id in waived:
            continue
        for breach in rule.check(link):
            if breach.unknown:
                unknown.append(str(breach.available))
            else:
                broken.append(((breach.rule, place_of_pair(breach, link_id, path)), breach))
    return tuple(broken), tuple(unknown)


def attenuated(ground: Ground, link: FittedLink) -> Iterator[FittedLink]:
    """The link as it is, and once with the least attenuators that take what is too much, where there are such.

    Ends of different strands meet nowhere, so nothing is tried there.
    """
    yield link
    if link.a.light is None or link.b.light is None or link.a.light.strands != link.b.light.strands:
        return
    overload = next(rule for rule in PATH_RULES if rule.id == "overload")
    strong = [breach for breach in overload.check(link) if not breach.unknown]
    if not strong:
        return
    single = link.a.light.strands == 1
    damped = link
    for side in (0,) if single else (0, 1):
        here = damped
        name = link.ends[side].name
        for item in ground.accessories.attenuators(link.ends[side].light):
            tried = _with(here, side, here.ends[side]._replace(attenuator=item))
            left = [breach for breach in overload.check(tried) if not breach.unknown]
            if not (left if single else [breach for breach in left if breach.path.endswith(f"to {name}") or breach.path == name]):
                damped = tried
                break
    if damped is not link:
        yield damped


def _with(link: FittedLink, side: int, end: FittedEnd) -> FittedLink:
    return replace(link, a=end) if side == 0 else replace(link, b=end)


def alone(ground: Ground, link: FittedLink) -> Broken:
    """What the rules of the whole find where this link has the network to itself."""
    return tuple(crowded(ground, link, ()))


def crowded(ground: Ground, link: FittedLink, others: tuple[FittedLink, ...]) -> Iterator[tuple[Reason, Breach]]:
    """What the rules of the whole find for a link beside these others, which keep them among themselves."""
    links = (*others, link)
    units = units_of(links)
    spares = {part: spares_of(ground, part, count) for part, count in units.items()} if ground.stock else {}
    taken = tuple(map(taken_by, links))
    served = Served(ground.network, ground.catalog, ground.policy, taken, units, spares, kept_ports(taken))
    limited = any(end.device.module_power_w is not None for end in link.ends)
    for rule in NETWORK_RULES:
        if (rule.id == "stock" and not ground.stock) or (rule.id == "device-power" and not limited) or (rule.id in ("port-once", "diversity") and not others):
            continue
        for breach in rule.check(served):
            if not breach.unknown:
                yield (breach.rule, place_of_pair(breach, link.asked.link.id, link.path)), breach


def spares_of(ground: Ground, part: str, units: int) -> int:
    """The spares that so many units of a part ask for."""
    spares = ground.policy.spares
    item = ground.catalog.module_by_part.get(part) or ground.catalog.converter_by_part.get(part)
    if spares is None or item is None or item.fit is None:
        return 0
    return spares_needed(units, item.fit, spares.restock_days * 24, spares.service_level)
