"""From documents to groups of links with their options: paths, accepted fittings, pairs, distances, what can run short."""

from __future__ import annotations

from collections import ChainMap, Counter, defaultdict
from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.model.policy import Policy
from optiselect.model.terms import RATES, Medium, Rate
from optiselect.optics.spares import spares_needed
from optiselect.rules.fitted import Asked, FittedEnd, Path
from optiselect.solver.demand import Demand, Side
from optiselect.solver.distances import NOT_SERVED, Row, copper_codes, fiber_codes, strands_free
from optiselect.solver.fittings import Fittings
from optiselect.solver.joined import Apart, Joined, Member, joined
from optiselect.solver.link_kinds import LinkKinds
from optiselect.solver.links_at import LinksAt
from optiselect.solver.option import LinkRows, Option, OptionList, Sheet, Wanted
from optiselect.solver.options import ALL, KnownKinds, Lists, OptionBuilder
from optiselect.solver.pairs import Accessories, Pair, pairs_that_fit
from optiselect.solver.paths import Paths
from optiselect.solver.port_kinds import rates_of
from optiselect.solver.progress import Watch
from optiselect.solver.replaced import Replacing
from optiselect.solver.scarce import Resource, Scarce

AskKey = tuple[int, Rate, Medium, frozenset[str]]
"""An end class, and the rate, the medium and the waived rules that it is asked for."""
_ALONE: dict[Rate, tuple[Rate, ...]] = {rate: (rate,) for rate in RATES}
_BETWEEN_STEPS = 16
"""Links between two looks at the clock."""


@dataclass
class Prepared:
    """Everything that the choice needs, and what is needed to read its answer back.

    Attributes:
        rows: by link id, its rate and rows; links that nothing serves are missing.
        options: by link id; links without any that is wanted are missing.
        builder: fits a link as an option says.
        impossible: ids of links that nothing serves, each with the rate at which it was tried last.
        before: the same of a network that this one follows, where the same was counted and wanted.
    """

    rows: dict[str, LinkRows]
    options: dict[str, OptionList]
    capacity: dict[Resource, int]
    apart: Apart
    builder: OptionBuilder
    impossible: dict[str, Rate]
    cut: frozenset[str]
    before: Prepared | None = None

    @cached_property
    def joined(self) -> Joined:
        """The links that have options, as scarce resources join them."""
        before = self.before
        if before is None or self.apart or before.apart:
            return joined(map(self._member, self.options), self.apart)
        changed = [
            link_id for link_id, found in self.options.items() if found is not before.options.get(link_id) or self.rows[link_id] is not before.rows[link_id]
        ]
        return before.joined.where({link_id: self._member(link_id) for link_id in changed}, before.options.keys() - self.options.keys())

    def forget_clusters(self) -> None:
        """Let go of the clusters, of which nothing is asked after the choice."""
        self.__dict__.pop("joined", None)

    def _member(self, link_id: str) -> Member:
        link = self.rows[link_id].link
        return Member(link_id, self.options[link_id], link.critical, link.weight)


class Preparation:
    """Prepares one network; kept as an object so that others can ask the same tables.

    Args:
        before: the preparation of a network that this one follows (`revised`): its tables are shared, and what it says of links that are
            the same stands. fittings: then those of this network. repriced: part numbers that have another price than there.
    """

    def __init__(
        self,
        network: Network,
        catalog: Catalog,
        policy: Policy,
        watch: Watch,
        before: Preparation | None = None,
        fittings: Fittings | None = None,
        repriced: frozenset[str] = frozenset(),
    ) -> None:
        self.network, self.catalog, self.policy, self.watch = network, catalog, policy, watch
        self.links = sorted(network.wanted, key=lambda link: link.id)
        self.fittings: Fittings = fittings or Fittings(network, catalog, policy)
        if repriced:
            self.fittings = self.fittings.repriced(catalog, repriced)
        self.repriced = repriced
        self.accessories: Accessories = before.accessories if before else Accessories(catalog, policy, 2 * len(self.links))
        self.paths: Paths = Paths(network, before.paths if before else None)
        self.paths_of: dict[str, tuple[Path, ...]] = {}
        self.sides: dict[str, tuple[Side, Side]] = {}
        self.rates: dict[str, tuple[Rate, ...]] = {}
        self.sheets: list[Sheet] = list(before.sheets) if before else []
        self.demand: Demand = Demand(network, catalog, policy, self.fittings, self.sheets, before.demand if before else None)
        self.asked: dict[AskKey, tuple[int, Asked]] = {}
        self.left_out: frozenset[str] = frozenset()
        self.replaced_at_any_price: dict[str, str] = {}
        self.rows: dict[str, LinkRows] = {}
        self.impossible: dict[str, Rate] = {}
        self._lists: Lists = ChainMap({}, before._lists) if before else {}  # what is added goes with this preparation
        self._pairs: dict[Hashable, Pair] = before._pairs if before else {}
        self._pairs_at: dict[Hashable, list[Pair]] = before._pairs_at if before else {}
        self._kinds = LinkKinds(self.fittings, self.sheets, each_alone=bool(policy.rules))
        self._known_kinds: dict[Scarce, KnownKinds] = defaultdict(dict)
        self.lends = False
        """Whether others are to follow, so that what is listed is kept."""
        self._counted: dict[tuple[Scarce, Wanted], Prepared] = {}
        self._before, self._same, self._differ = before, frozenset[str](), frozenset[str]()

    def run(self) -> None:
        """Prepare every link: paths, rates, what serves it, and which resources could run short."""
        self.watch.leave_time_for(len(self.links))
        for done, link in enumerate(self.links):
            if done % _BETWEEN_STEPS == 0:
                self.watch.step("paths", done, len(self.links))
            self._place(link)
        self.asked = self._everything_asked()
        self._leave_out()
        self.rows, self.impossible = self._rates(self.links)
        self.links_at = LinksAt(self.rows)
        self.watch.leave_time_for(len(self.links), self.watch.elapsed_s)
        self.may_run_short, self.capacity, self.apart = self.demand.scarce(self.rows, self.paths_of)

    def run_again(self, before: Preparation, same: frozenset[str], differ: frozenset[str]) -> bool:
        """The same, where these links are the same as before, over the same paths; False where what is asked of the ends has changed.

        Args:
            differ: ids of runs that are others, or are gone; none of those links may go over them.
        """
        self.watch.leave_time_for(len(self.links))
        gone, others = [link for link in before.links if link.id not in same], [link for link in self.links if link.id not in same]
        self.paths_of, self.sides, self.rates = before.paths_of.copy(), before.sides.copy(), before.rates.copy()
        for link in gone:
            del self.paths_of[link.id], self.sides[link.id], self.rates[link.id]
        for link in others:
            self._place(link)
        asks = before.asks.copy()
        asks.subtract(key for link in gone for key in before.keys_of(link))
        asks.update(key for link in others for key in self.keys_of(link))
        if {key for key, links in asks.items() if links} != before.asked.keys():
            return False
        self.asked = before.asked
        self.left_out, self.replaced_at_any_price = before.left_out, before.replaced_at_any_price
        if self.repriced:
            self._leave_out()
        if self.left_out == before.left_out:
            rows, self.impossible = self._rates(others)
            known = before.rows.copy()
            for link in gone:
                known.pop(link.id, None)
            self.rows = {link.id: row for link in self.links for row in [known.get(link.id) or rows.get(link.id)] if row is not None}
            self.impossible |= {link_id: rate for link_id, rate in before.impossible.items() if link_id in same}
            self._before, self._same, self._differ = before, same, differ
            self.links_at = LinksAt(self.rows, before.links_at, same)
        else:  # other parts are tried: every link is looked at anew, and only lists of options that are the same are not listed again
            self.rows, self.impossible = self._rates(self.links)
            self.links_at = LinksAt(self.rows)
        self.may_run_short, self.capacity, self.apart = self.demand.scarce(self.rows, self.paths_of)
        return True

    def _leave_out(self) -> None:
        """Leave out the parts that others replace everywhere."""
        replacing = Replacing(self.fittings, self.network, self.policy, self.asked.values())
        self.left_out = frozenset(replacing.parts(at_any_price=False))
        self.replaced_at_any_price = replacing.parts(at_any_price=True)
        self.fittings.leave_out(self.left_out)

    def _place(self, link: Link) -> None:
        self.paths_of[link.id] = self.paths.of(link)
        a, b = link.devices
        at_a, at_b = link.pinned
        self.sides[link.id] = (self._side(a, at_a), self._side(b, at_b))
        self.rates[link.id] = self._rates_to_try(link)

    def counting(self, scarce: Scarce, *, may_stop: bool, wanted: Wanted = ALL, has_plan: bool = False) -> Prepared:
        """The options of all links that are wanted, where only these scarce resources are counted; links without any have none.

        Args:
            may_stop: whether the clock or the caller may end it. has_plan: whether there is a plan without it.

        Raises:
            Cancelled: when the caller stops, and it may stop here.
        """
        builder = OptionBuilder(
            self.fittings,
            self.accessories,
            self.sheets,
            self._kinds,
            scarce,
            count_units=self.policy.spares is not None,
            wanted=wanted,
            lists=self._lists,
            known=self._known_kinds[scarce],
            repriced=self.repriced,
        )
        options: dict[str, OptionList] = {}
        before, same = self._counted_before(scarce, wanted)
        standing = {link_id: found for link_id, found in before.options.items() if link_id in same} if before is not None else {}

        def not_standing() -> Iterator[LinkRows]:
            for done, (link_id, row) in enumerate(self.rows.items()):
                if may_stop and done % _BETWEEN_STEPS == 0:
                    self.watch.step("options", done, len(self.rows), has_plan=has_plan)
                if link_id not in standing:
                    yield row

        builder.list_together(not_standing())
        for link_id, row in self.rows.items():
            found = standing.get(link_id)
            if found is None or (before is not None and self.repriced and not builder.stands(before.builder.kind(row)[1])):
                found = builder.options(row)
            if found.options:
                options[link_id] = found
        capacity = {resource: amount for resource, amount in self.capacity.items() if scarce.counts(resource)}
        apart = tuple(pair for pair in self.apart if all(resource[1] in scarce.diverse for resource in pair))
        prepared = Prepared(self.rows, options, capacity, apart, builder, self.impossible, frozenset(self.paths.cut), before)
        if self.lends:
            self._counted[scarce, wanted] = prepared
        return prepared

    def _counted_before(self, scarce: Scarce, wanted: Wanted) -> tuple[Prepared | None, frozenset[str]]:
        """What was listed for the network that this one follows, and the links that are the same and of which the same was counted there."""
        if self._before is None:
            return None, frozenset()
        for (was, what), its in self._before._counted.items():
            unlike = scarce.runs_unlike(was) if what == wanted else None
            if unlike is not None:
                others = [self._before.links_over.get(run_id, ()) for run_id in unlike - self._differ]
                return its, self._same.difference(*others)
        return None, frozenset()

    def _side(self, device_id: str, port: str | None) -> Side:
        groups = self.fittings.groups(device_id)
        return groups if port is None else tuple(group for group in groups if port in group.names)

    def _rates_to_try(self, link: Link) -> tuple[Rate, ...]:
        """The rate that is wanted, else all that some port at both ends might run, the highest first."""
        if link.rate is not None:
            return _ALONE[link.rate]
        both = [frozenset(rate for group in side for rate in rates_of(group.port)) for side in self.sides[link.id]]
        return tuple(rate for rate in reversed(RATES) if rate in both[0] and rate in both[1])

    def _everything_asked(self) -> dict[AskKey, tuple[int, Asked]]:
        """Each end class with what may be asked of it, by key."""
        told: dict[AskKey, tuple[int, Asked]] = {}
        alike: set[Hashable] = set()
        for link in self.links:
            a, b = self.sides[link.id]
            paths = {path.medium: path for path in reversed(self.paths_of[link.id])}
            kind = self._kinds.side(a), self._kinds.side(b), self.rates[link.id], self.policy.waived_on(link.id), *paths
            if kind in alike:
                continue
            alike.add(kind)
            for key in self.keys_of(link):
                if key not in told:
                    end_class, rate, medium, waived = key
                    told[key] = end_class, Asked(link, rate, paths[medium], self.policy, waived)
        return told

    def keys_of(self, link: Link) -> list[AskKey]:
        """What may be asked of the ends of a link."""
        waived = self.policy.waived_on(link.id)
        classes = dict.fromkeys(group.end_class for side in self.sides[link.id] for group in side)
        media = dict.fromkeys(path.medium for path in self.paths_of[link.id])
        return [(end_class, rate, medium, waived) for medium in media for rate in self.rates[link.id] for end_class in classes]

    @cached_property
    def links_over(self) -> dict[str, set[str]]:
        """By run the ids of the links that may go over it."""
        over: dict[str, set[str]] = defaultdict(set)
        for link_id, paths in self.paths_of.items():
            for path in paths:
                for run_id in path.run_ids:
                    over[run_id].add(link_id)
        return over

    @cached_property
    def asks(self) -> Counter[AskKey]:
        """By key of what is asked, how many links ask it."""
        return Counter(key for link in self.links for key in self.keys_of(link))

    def _rates(self, links: list[Link]) -> tuple[dict[str, LinkRows], dict[str, Rate]]:
        """The rate of each of these links, in their order (the one wanted, else the highest that any option of it alone allows) and its rows there.

        Options that rest on an unknown figure set the rate only where none does without.
        """
        settled: dict[str, LinkRows] = {}
        second_best: dict[str, LinkRows] = {}
        tried: dict[str, Rate] = {}
        trying: dict[Rate, list[Link]] = defaultdict(list)
        for link in links:
            for rate in self.rates[link.id] if self.paths_of[link.id] else ():
                trying[rate].append(link)
        fed = frozenset(device.id for device in self.network.devices if device.module_power_w is not None)
        limited = Scarce(stock=frozenset(self.demand.stock), power=fed)
        for rate in sorted(trying, key=RATES.index, reverse=True):
            asking = [link for link in trying[rate] if link.id not in settled]
            if not asking:
                continue
            places = self._sheets(asking, rate)
            alone = OptionBuilder(self.fittings, self.accessories, self.sheets, self._kinds, limited, count_units=False)
            for link in asking:
                row = LinkRows(link, rate, tuple(places[link.id]), self.sides[link.id])
                tried.setdefault(link.id, rate)
                found = [option for option in alone.first(row) if not option.uses or self._fits_alone(option)] if row.places else []
                if any(not option.unknown for option in found):
                    settled[link.id] = row
                elif found:
                    second_best.setdefault(link.id, row)
        for link in links:
            if link.id in second_best and link.id not in settled:
                settled[link.id] = second_best[link.id]
        served, unserved = [link for link in links if link.id in settled], [link for link in links if link.id not in settled]
        return {link.id: settled[link.id] for link in served}, {link.id: tried.get(link.id, link.rate or "1G") for link in unserved}

    def _fits_alone(self, option: Option) -> bool:
        return all(amount + self._spares_alone(resource, option) <= self.demand.capacity(resource) for resource, amount in option.uses)

    def _spares_alone(self, resource: Resource, option: Option) -> int:
        """The spares of a part in stock that an option asks for by itself."""
        spares = self.policy.spares
        item = self.catalog.module_by_part.get(resource[1]) or self.catalog.converter_by_part.get(resource[1])
        if resource[0] != "stock" or spares is None or item is None or item.fit is None:
            return 0
        return spares_needed(dict(option.parts)[item.part], item.fit, spares.restock_days * 24, spares.service_level)

    def _sheets(self, asking: list[Link], rate: Rate) -> dict[str, list[tuple[int, int]]]:
        """Gather links by profile of path, and work out each profile's codes; returns each link's places."""
        rows_of: dict[Hashable, list[Row]] = defaultdict(list)
        for link in asking:
            waived = self.policy.waived_on(link.id)
            for path in self.paths_of[link.id]:
                free = strands_free(path, self.policy)
                if path.medium != "fiber" or (free > 0 and len(path.cabling.cores) == 1):
                    rows_of[path.profile, waived].append(Row(link, path, waived, free))
        places: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for rows in rows_of.values():
            sheet = self._sheet(rows, rate)
            for index, row in enumerate(rows):
                places[row.link.id].append((sheet.index, index))
            self.watch.step("options", len(places), len(asking))
        return places

    def _sheet(self, rows: list[Row], rate: Rate) -> Sheet:
        asked = Asked(rows[0].link, rate, rows[0].path, self.policy, rows[0].waived)
        ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]] = ({}, {})
        sides = [self.sides[row.link.id] for row in rows]
        for side in (0, 1):
            for end_class in sorted({group.end_class for both in sides for group in both[side]}):
                for item in self.fittings.accepted(end_class, asked):
                    ends[side].setdefault(item.fit.light_id, self.fittings.fitted(self.fittings.classes[end_class], item.fit))
        key = rate, asked.path.profile, asked.waived, frozenset(ends[0]), frozenset(ends[1])
        if key not in self._pairs_at:
            self._pairs_at[key] = [self._known(pair) for pair in pairs_that_fit(asked, ends[0], ends[1], self.accessories)]
        pairs = self._pairs_at[key]
        if asked.path.medium == "fiber":
            codes = fiber_codes(rows, pairs, ends, asked, self.accessories)
        else:
            codes = copper_codes(rows, pairs, ends, asked)
        asks = self.fittings.number((rate, asked.path.medium, asked.waived))
        sheet = Sheet(len(self.sheets), asked, asks, [row.path for row in rows], pairs, ends, codes, self._served(pairs, codes))
        self.sheets.append(sheet)
        return sheet

    def _known(self, pair: Pair) -> Pair:
        """The same pair as one object, on whatever sheet it is."""
        a, b = pair.cords
        return self._pairs.setdefault((pair.a, pair.b, a and a.part, b and b.part, pair.unknown), pair)

    def _served(self, pairs: list[Pair], codes: NDArray[np.int32]) -> list[int]:
        """A number for each row of a sheet, from the pairs that serve it and their codes."""
        numbers = np.array([id(pair) for pair in pairs], dtype=np.int64)
        served = []
        seen: dict[bytes, int] = {}
        for column in np.ascontiguousarray(codes.T):
            said = column.tobytes()
            if said not in seen:
                serving = np.flatnonzero(column != NOT_SERVED)
                content = numbers[serving].tobytes(), column[serving].tobytes()
                seen[said] = self.fittings.number(content)
            served.append(seen[said])
        return served
