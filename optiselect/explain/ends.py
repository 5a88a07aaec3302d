"""What each end of a link could be fitted with, whether or not it passes, and what is broken there.

Fittings that no rule can tell apart are one kind with a count, so that work follows the variety of a catalog, not its length.
A part of another form or medium than its place is no candidate, unless there is nothing else: then it says what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass, field

from optiselect.explain.ground import Ground
from optiselect.explain.places import place_at_end, shortfall_of
from optiselect.model.catalog import Module, Optics
from optiselect.model.network import Cage, CopperPort, FixedOptic, Link, SharedPort
from optiselect.model.terms import FORM_TAKES, RULE_IDS, RuleId
from optiselect.rules import END_RULES
from optiselect.rules.fitted import Asked, FittedEnd
from optiselect.rules.rule import Breach
from optiselect.solver.fittings import PortGroup, discrete_key, figures_key
from optiselect.standards.transceiver import Transceiver, transceiver

Reason = tuple[RuleId, str]
"""A rule and the place in the documents where it gets what it requires."""
_ELSEWHERE = ("form", "medium")


@dataclass(frozen=True, eq=False)
class EndChoice:
    """One way to fit an end.

    Attributes:
        group: the port group; `end` is at its first port. groups: all that the end may use.
        breaches: of the rules of one end, with their places; those that cannot be checked are not among them.
        unknown: the figures that nobody states, in words.
        price: of module and converter, None where one has none.
    """

    group: PortGroup
    groups: tuple[PortGroup, ...]
    end: FittedEnd
    breaches: tuple[tuple[Reason, Breach], ...]
    unknown: tuple[str, ...]
    price: float | None

    @property
    def parts(self) -> tuple[str, ...]:
        """The part numbers that are fitted, sorted."""
        return tuple(sorted(item.part for item in (self.end.module, self.end.converter) if item is not None))

    @property
    def shortfall(self) -> float:
        """What is missing, relative to what is required, over all breaches."""
        return sum(shortfall_of(breach) for _, breach in self.breaches)


@dataclass(eq=False)
class EndKind:
    """Fittings that no rule can tell apart.

    Attributes:
        choices: the nearest first: least shortfall, then price, then part numbers.
        mask: bits of what is broken at the end. first: position of the first rule that stops it; beyond every rule where none does.
        counted: how many fittings are counted here: each at the port where it gets furthest.
        light_key, pair_key, whole_key: what the rules of a path, of a pair, and of the whole look at.
    """

    mask: int
    first: int
    light_key: Hashable
    pair_key: Hashable
    whole_key: Hashable
    choices: list[EndChoice] = field(default_factory=list)
    counted: int = 0

    @property
    def best(self) -> EndChoice:
        """The nearest of them."""
        return self.choices[0]


def kinds_at(ground: Ground, link: Link, side: int, asked: Asked, bit: Callable[[Reason], int]) -> list[EndKind]:
    """Everything that an end could be fitted with at a rate over a path, gathered by kind; in a fixed order.

    Args:
        bit: the position of a reason among all, given on demand.
    """
    choices = list(_choices(ground, link, side, asked))
    kinds: dict[Hashable, EndKind] = {}
    furthest: dict[Hashable, tuple[int, EndKind]] = {}
    for choice in choices:
        mask = 0
        for reason, _ in choice.breaches:
            mask |= 1 << bit(reason)
        first = min((RULE_IDS.index(breach.rule) for _, breach in choice.breaches), default=len(RULE_IDS))
        light = choice.end.light
        light_key = figures_key(light) if light is not None else None
        own = _identity(choice) if ground.policy.rules else None
        limited = tuple(part for part in choice.parts if part in ground.stock)
        power_w = light.power_w if light is not None and choice.end.module is not None and choice.group.device.module_power_w is not None else None
        whole_key = (limited, power_w, choice.group.installed)
        key = (mask, bool(choice.unknown), light_key, own, whole_key)
        kind = kinds.get(key)
        if kind is None:
            kind = kinds[key] = EndKind(mask, first, (light_key, own), discrete_key(light) if light is not None else None, whole_key)
        kind.choices.append(choice)
        fitting = (choice.end.fitting, choice.parts, light_key if choice.end.fitting == "fixed" else None)
        known = furthest.get(fitting)
        if known is None or first > known[0]:
            furthest[fitting] = (first, kind)
    for _, kind in furthest.values():
        kind.counted += 1
    for kind in kinds.values():
        kind.choices.sort(key=lambda choice: (choice.shortfall, choice.price is None, choice.price or 0.0, choice.parts, choice.group.index))
    return list(kinds.values())


def _identity(choice: EndChoice) -> Hashable:
    return choice.group.index, choice.end.fitting, choice.parts


def _choices(ground: Ground, link: Link, side: int, asked: Asked) -> list[EndChoice]:
    """All choices; of those that are of another form or medium only when there are no others."""
    seen: set[tuple[int, str | None]] = set()
    found: list[EndChoice] = []
    groups = ground.groups(link, side)
    for group in groups:
        if (group.end_class, group.installed) in seen:
            continue
        seen.add((group.end_class, group.installed))
        site = ground.fittings.site_of(group.device)
        for fitted in _fitted(ground, group, asked):
            found.append(_judged(group, groups, fitted._replace(site=site), asked))
    here = [choice for choice in found if not any(breach.rule in _ELSEWHERE for _, breach in choice.breaches)]
    if here:
        return here
    with_form = [choice for choice in found if not any(breach.rule == "form" for _, breach in choice.breaches)]
    return with_form or found


def _judged(group: PortGroup, groups: tuple[PortGroup, ...], end: FittedEnd, asked: Asked) -> EndChoice:
    breaches: list[tuple[Reason, Breach]] = []
    unknown = []
    for rule in END_RULES:
        if rule.id in asked.waived:
            continue
        for breach in rule.check(end, asked):
            if breach.unknown:
                unknown.append(str(breach.available))
            else:
                breaches.append(((breach.rule, place_at_end(breach, end, asked.link.id)), breach))
    items = [item for item in (end.module, end.converter) if item is not None]
    stays = end.installed is not None and end.module is not None and end.converter is None and end.installed == end.module.part
    prices = [0.0] if stays or not items else [item.price for item in items]
    price = None if None in prices else round(sum(value for value in prices if value is not None), 4)
    return EndChoice(group, groups, end, tuple(breaches), tuple(unknown), price)


def _fitted(ground: Ground, group: PortGroup, asked: Asked) -> Iterator[FittedEnd]:
    """Every fitting of a port group, at its first port."""
    port, catalog = group.port, ground.catalog
    bare = FittedEnd(group.device, None, group.names[0], port, "copper", installed=group.installed)
    if isinstance(port, FixedOptic):
        yield bare._replace(fitting="fixed", light=_light(ground.fittings.figures_of(port.optic), asked))
        return
    if isinstance(port, CopperPort | SharedPort):
        yield bare
    if isinstance(port, Cage | SharedPort):
        yield from (_with_module(bare, module, asked) for module in _sorted(catalog.modules))
    if isinstance(port, CopperPort | SharedPort) and asked.path.medium == "fiber":
        for converter in sorted(catalog.converters, key=lambda item: item.part):
            behind = bare._replace(converter=converter)
            if converter.optic is not None:
                yield behind._replace(fitting="fixed", light=_light(ground.fittings.figures_of(converter.optic), asked))
            elif converter.form is not None:  # pragma: no branch - a converter has one of the two
                takes = (*FORM_TAKES[converter.form], None)
                yield from (_with_module(behind, module, asked) for module in _sorted(catalog.modules) if module.form in takes)


def _with_module(end: FittedEnd, module: Module, asked: Asked) -> FittedEnd:
    return end._replace(fitting="module", light=_light(module, asked), module=module)


def _light(optics: Optics, asked: Asked) -> Transceiver:
    return transceiver(optics, asked.rate)


def _sorted(modules: Iterable[Module]) -> list[Module]:
    return sorted(modules, key=lambda module: module.part)
