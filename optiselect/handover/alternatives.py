"""What else would do: other parts of the catalog that pass every rule wherever a part of the bill is fitted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import replace

from optiselect.handover.dossier import Dossier
from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.plan import PartLine
from optiselect.model.terms import Rate, RuleId
from optiselect.rules.fitted import FittedEnd, FittedLink
from optiselect.rules.rule import Breach
from optiselect.rules.served import Served, taken_by
from optiselect.rules.whole import DEVICE_POWER, STOCK
from optiselect.solver.alike import breaches_of_links
from optiselect.standards.transceiver import transceiver

MOST_ALTERNATIVES = 3
"""How many alternatives a line of the bill names, the cheapest first."""
_MOST_TRIED = 24
"""How many parts are tried for one line, the cheapest first, so that a large catalog does not take long."""
_FIRST = 12
"""On how many links at either end of their order a part is tried before it is tried on all."""
Item = Module | Converter | Cord | Attenuator
_NO_PRICE = float("inf")


def alternatives(dossier: Dossier, line: PartLine) -> tuple[Item, ...]:
    """Parts that could take the place of one everywhere in the plan, every rule still holding; at most three, the cheapest first.

    A part that would rest on a figure which is unknown, where the planned one does not, is not among them.
    """
    own = dossier.items.get(line.part)
    if own is None or not line.used:
        return ()
    links = _to_be_tried(dossier.links_with.get(own.part, []), own)
    before = {(finding.rule, finding.link, finding.unknown) for fitted in links for finding in dossier.findings[fitted.asked.link.id]}
    whole = {(breach.rule, breach.unknown) for breach in _of_the_whole(dossier, None, own)}
    found: list[Item] = []
    for other in sorted(_comparable(dossier, own), key=lambda item: (_NO_PRICE if item.price is None else item.price, item.part))[:_MOST_TRIED]:
        if len(found) == MOST_ALTERNATIVES:
            break
        if all(_breaks_no_more(some, own, other, before) for some in _longest_shortest_others(links)) and (
            all((breach.rule, breach.unknown) in whole for breach in _of_the_whole(dossier, other, own))
        ):
            found.append(other)
    return tuple(found)


def _longest_shortest_others(links: Sequence[FittedLink]) -> Iterator[Sequence[FittedLink]]:
    """The links in three parts: most parts that do not serve fail on the first or on the second."""
    yield links[:_FIRST]
    yield links[_FIRST:][-_FIRST:]
    yield links[_FIRST:][:-_FIRST]


def _breaks_no_more(links: Sequence[FittedLink], own: Item, other: Item, before: Set[tuple[RuleId, str | None, bool]]) -> bool:
    broken = breaches_of_links(_with(fitted, own, other) for fitted in links)
    return all((breach.rule, link.asked.link.id, breach.unknown) in before for link, breach in broken)


def _to_be_tried(links: Sequence[FittedLink], own: Item) -> list[FittedLink]:
    """The links on which another part is tried, the longest first, since most fail there.

    Whether a cord fits hangs on what it joins, not on lengths: of links that are alike in that, one is enough.
    """
    if isinstance(own, Cord):
        alike = {
            (fitted.path.profile, fitted.rate, fitted.asked.waived, *((end.light, end.cord, end.fitting) for end in fitted.ends)): fitted for fitted in links
        }
        return list(alike.values())
    return sorted(links, key=lambda fitted: -fitted.path.length_m)


def _holds(end: FittedEnd, item: Item) -> bool:
    return item.part in [fitted.part for fitted in (end.module, end.converter, end.cord, end.attenuator) if fitted is not None]


def _comparable(dossier: Dossier, own: Item) -> Iterator[Item]:
    """Parts that are worth a try: of the same kind, and alike in what never gives way."""
    catalog = dossier.catalog
    if isinstance(own, Module):
        rates = {fitted.rate for _, fitted in dossier.served for end in fitted.ends if end.module is not None and end.module.part == own.part}
        yield from (item for item in catalog.modules if item.part != own.part and _alike(item, own, rates))
    elif isinstance(own, Converter):
        yield from (item for item in catalog.converters if item.part != own.part and (item.form, item.optic is None) == (own.form, own.optic is None))
    elif isinstance(own, Cord):
        ends = sorted(own.connectors)
        yield from (item for item in catalog.cords if item.part != own.part and (sorted(item.connectors), item.strands) == (ends, own.strands))
    else:
        yield from (item for item in catalog.attenuators if item.part != own.part and item.connector == own.connector)


def _alike(item: Module, own: Module, rates: Iterable[Rate]) -> bool:
    return all(
        (one.form, one.medium, one.mode, one.strands, one.connector) == (two.form, two.medium, two.mode, two.strands, two.connector)
        for rate in rates
        for one, two in [(transceiver(item, rate), transceiver(own, rate))]
    )


def _with(fitted: FittedLink, own: Item, other: Item) -> FittedLink:
    """The link with the other part wherever the planned one is."""
    return replace(fitted, a=_swapped(fitted.a, own, other, fitted), b=_swapped(fitted.b, own, other, fitted))


def _swapped(end: FittedEnd, own: Item, other: Item, fitted: FittedLink) -> FittedEnd:
    if not _holds(end, own):
        return end
    if isinstance(other, Module):
        return end._replace(module=other, light=transceiver(other, fitted.rate))
    if isinstance(other, Converter):
        return end._replace(converter=other, light=transceiver(other.optic, fitted.rate) if other.optic is not None else end.light)
    return end._replace(cord=other) if isinstance(other, Cord) else end._replace(attenuator=other)


def _of_the_whole(dossier: Dossier, other: Item | None, own: Item) -> Iterator[Breach]:
    """What the rules of the whole find, with the other part in place of the planned one."""
    taken = dossier.taken
    units, spares = dict(dossier.units), {line.part: line.spares for line in dossier.plan.parts}
    if other is not None:
        units[other.part] = units.get(other.part, 0) + units.pop(own.part)
        spares[other.part] = spares.get(other.part, 0) + spares.pop(own.part, 0)
    asked = [STOCK]
    if isinstance(own, Module):
        asked = [DEVICE_POWER, STOCK]
        if other is not None:
            instead = {fitted.asked.link.id: taken_by(_with(fitted, own, other)) for fitted in dossier.links_with[own.part]}
            taken = tuple([instead.get(its.link.id, its) for its in taken])
    served = Served(dossier.network, dossier.catalog, dossier.policy, taken, units, spares, dossier.kept)
    for rule in asked:
        yield from rule.check(served)
