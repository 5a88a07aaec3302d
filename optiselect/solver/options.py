"""The options of every link: which fittings, cords and attenuators serve it, over which path, at what cost.

Links that the tables cannot tell apart share one list: the work that follows grows with the number of different links.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from optiselect.model.catalog import Attenuator, Cord
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.solver.distances import NOT_SERVED, attenuator_positions, rests_on_unknown
from optiselect.solver.fittings import Accepted, Fittings, PortGroup, in_ten_thousandths, is_fed, stays
from optiselect.solver.lines import MOST_PAIRS, Lines, Piece, Undominated, summed, undominated_of, units_of
from optiselect.solver.link_kinds import LinkKinds
from optiselect.solver.option import COST, LinkRows, Option, OptionList, Pick, Sheet, Wanted
from optiselect.solver.pairs import Accessories, Pair
from optiselect.solver.scarce import Resource, Scarce
from optiselect.solver.takes import Along, Takes

ALL = Wanted()


class _Way(NamedTuple):
    """A path of a link, a pair of lights over it, and its code."""

    path: int
    pair: Pair
    code: int


class _PairPiece(NamedTuple):
    """What a pair of lights adds wherever it is, and the strands that it takes."""

    piece: Piece
    strands: int


Fits = list[tuple[int, Accepted]]


class Listed(NamedTuple):
    """The options of links of one kind.

    Attributes:
        own: what the link that they were listed for can take of what is scarce.
        parts: part numbers that were looked at. fittings: at whose prices.
    """

    own: tuple[Resource | None, ...]
    found: OptionList
    parts: frozenset[str]
    fittings: Fittings


Lists = MutableMapping[Hashable, Listed]
KnownKinds = MutableMapping[str, tuple[tuple[Resource | None, ...], int]]


class OptionBuilder:
    """Builds the options of links, each different list once.

    Args:
        kinds: of the same preparation. wanted: which options are looked at.
        lists: what other builders of the same preparation have listed, to be shared.
        known: likewise by link, what it can take of these scarce resources, and a number for all that decides its options but prices.
        repriced: part numbers that have another price than in what others have listed.
    """

    def __init__(
        self,
        fittings: Fittings,
        accessories: Accessories,
        sheets: Sequence[Sheet],
        kinds: LinkKinds,
        scarce: Scarce,
        *,
        count_units: bool,
        wanted: Wanted = ALL,
        lists: Lists | None = None,
        known: KnownKinds | None = None,
        repriced: frozenset[str] = frozenset(),
    ) -> None:
        self._fittings = fittings
        self._accessories = accessories
        self._sheets = sheets
        self._scarce = scarce
        self._count_units = count_units
        self._wanted = wanted
        self._compared = wanted.counted, count_units
        self._counts_cost = wanted.counted is None or COST in wanted.counted
        self._preferred = frozenset(accessories.policy.prefer_parts)
        self._lists: Lists = {} if lists is None else lists
        self._kinds = kinds
        self._known: KnownKinds = {} if known is None else known
        self._ladders: dict[tuple[int, int], dict[int, Fits]] = {}
        self._ladder_of: dict[Hashable, dict[int, Fits]] = {}
        self._pairs: dict[tuple[int, int], _PairPiece] = {}
        self._ways_apart: dict[tuple[int, int, int, int], Piece] = {}
        self._ends_of: dict[int, list[Piece]] = {}
        self._repriced = repriced
        self._here: dict[int, Listed] = {}
        self._at_this_price: dict[int, Option] = {}
        self._bare: dict[int, tuple[tuple[Resource | None, ...], int]] = {}
        self._takes = Takes(scarce, sheets)

    def kind(self, rows: LinkRows) -> tuple[tuple[Resource | None, ...], int]:
        """What a link can take of what is scarce, and a number for what decides its options but prices; links of one number have the same."""
        its = self._known.get(rows.link.id)
        if its is None:
            own, number = self._takes.of(rows), self._kinds.number(rows)
            its = self._known[rows.link.id] = self._of_kind(number, own) if own else self._taking_nothing(number)
        return its

    def _taking_nothing(self, number: int) -> tuple[tuple[Resource | None, ...], int]:
        if number not in self._bare:
            self._bare[number] = self._of_kind(number, ())
        return self._bare[number]

    def _of_kind(self, number: int, own: tuple[Resource | None, ...]) -> tuple[tuple[Resource | None, ...], int]:
        places: dict[Resource | None, int] = {None: -1}
        pattern = tuple([places.setdefault(resource, len(places)) for resource in own])
        return own, self._fittings.number((number, pattern, self._scarce.stock))

    def options(self, rows: LinkRows) -> OptionList:
        """The options of a link, the undominated ones only, in a fixed order."""
        own, kind = self.kind(rows)
        its = self._here.get(kind)
        if its is None:
            its = self._here[kind] = self._listed(rows, own, kind)
        first, found, *_ = its
        if not found.taken:
            return found
        return OptionList(found.options, found.taken, found.compared, {theirs: mine for theirs, mine in zip(first, own, strict=True) if theirs is not None})

    def _listed(self, rows: LinkRows, own: tuple[Resource | None, ...], kind: int) -> Listed:
        """The options of links of a kind, listed here unless that was done elsewhere."""
        if not self._is_listed(kind):
            lines = self._lines(rows)
            self._enter(own, kind, lines, lines.undominated())
        return self._lists[kind, self._wanted]

    def list_together(self, several: Iterable[LinkRows]) -> None:
        """List what these links need and is not listed, which takes less time than one after another; between two links it is no long time."""
        waiting: dict[int, tuple[tuple[Resource | None, ...], Lines]] = {}
        pairs = 0
        for rows in several:
            own, kind = self.kind(rows)
            if kind in waiting or kind in self._here or self._is_listed(kind):
                continue
            waiting[kind] = own, self._lines(rows)
            pairs += waiting[kind][1].pairs
            if pairs > MOST_PAIRS:
                self._enter_all(waiting)
                waiting, pairs = {}, 0
        self._enter_all(waiting)

    def _enter_all(self, waiting: Mapping[int, tuple[tuple[Resource | None, ...], Lines]]) -> None:
        for (kind, (own, lines)), found in zip(waiting.items(), undominated_of([lines for _, lines in waiting.values()]), strict=True):
            self._enter(own, kind, lines, found)

    def _enter(self, own: tuple[Resource | None, ...], kind: int, lines: Lines, found: Undominated) -> None:
        """Make the options that were found among these lines the list of a kind."""
        places = _places(own)
        options = tuple([_option([lines.pieces[piece] for piece in triple], its, places) for triple, its in zip(*found, strict=True)])
        taken = tuple(dict.fromkeys(resource for option in options for resource, _ in option.uses))
        parts = frozenset().union(*[piece.parts for piece in lines.pieces])
        self._lists[kind, self._wanted] = Listed(own, OptionList(options, taken, self._compared, {}), parts, self._fittings)

    def _is_listed(self, kind: int) -> bool:
        listed = self._lists.get((kind, self._wanted))
        return listed is not None and (listed.fittings is self._fittings or self.stands(kind))

    def stands(self, kind: int) -> bool:
        """Whether what was listed of a kind at other prices is what would be listed at these: no part of another price was looked at, or
        prices do not count (then an option may cost something else now, as of `at_this_price`).
        """
        listed = self._lists[kind, self._wanted]
        return listed.fittings is not self._fittings and (not self._counts_cost or listed.parts.isdisjoint(self._repriced))

    def at_this_price(self, option: Option, rows: LinkRows) -> Option:
        """An option of a link at the prices of this builder."""
        if self._counts_cost or self._repriced.isdisjoint(option.names):
            return option
        if id(option) not in self._at_this_price:  # which its list holds
            pick, cost = option.pick, option.cost
            fits = self._fittings.at_this_price(pick.fit_a), self._fittings.at_this_price(pick.fit_b)
            for now, was, side, position in zip(fits, (pick.fit_a, pick.fit_b), rows.groups, (pick.group_a, pick.group_b), strict=True):
                cost += 0 if stays(was, side[position]) else now.price - was.price
            self._at_this_price[id(option)] = replace(option, cost=cost, pick=replace(pick, fit_a=fits[0], fit_b=fits[1]))
        return self._at_this_price[id(option)]

    def _lines(self, rows: LinkRows) -> Lines:
        """Every option of a link, to be compared."""
        lines = Lines(count_units=self._count_units, counted=self._wanted.counted)
        numbers: dict[tuple[int, int], range] = {}
        for way, fits in self._ways(rows):
            for side in (0, 1):
                if (side, id(fits[side])) not in numbers:  # which its ladder holds
                    numbers[side, id(fits[side])] = lines.enter(self._ends(rows.groups[side], fits[side]))
            lines.add(lines.enter([way]), numbers[0, id(fits[0])], numbers[1, id(fits[1])])
        if self._accessories.policy.rules:
            lines.triples = [triple for triple in lines.triples if self._own_rules_hold(rows, _pick(lines.pieces, triple))]
        return lines

    def first(self, rows: LinkRows) -> Sequence[Option]:
        """Enough options to tell whether a link can be served, with and without an unknown figure (not all of them)."""
        own, kind = self.kind(rows)
        key = "first", kind
        if key not in self._lists:
            seen: dict[tuple[int, tuple[tuple[Resource, int], ...]], Option] = {}
            for option in self._each(rows, _places(own)):
                seen.setdefault((option.unknown, option.uses), option)
                if not option.unknown and not option.uses:
                    break
            self._lists[key] = Listed((), OptionList(tuple(seen.values()), (), self._compared, {}), frozenset(), self._fittings)
        return self._lists[key].found.options

    def _each(self, rows: LinkRows, places: Mapping[Resource, int]) -> Iterator[Option]:
        """Every option of a link, one after another."""
        for way, fits in self._ways(rows):
            for at_a, item_a in fits[0]:
                for at_b, item_b in fits[1]:
                    pieces = [way, self._end(rows.groups[0][at_a], at_a, item_a), self._end(rows.groups[1][at_b], at_b, item_b)]
                    if not self._accessories.policy.rules or self._own_rules_hold(rows, _pick(pieces, (0, 1, 2))):
                        yield _option(pieces, [sum(figures) for figures in zip(*(piece.measures for piece in pieces), strict=True)], places)

    def _ways(self, rows: LinkRows) -> Iterator[tuple[Piece, tuple[Fits, Fits]]]:
        """Each path with each pair of lights that serves there, and what can be fitted at either end for it."""
        for path_index, (sheet_index, row) in enumerate(rows.places):
            sheet = self._sheets[sheet_index]
            column = sheet.codes[:, row]
            served = np.flatnonzero(column != NOT_SERVED)
            at_a, at_b = self._ladder(rows.groups[0], sheet), self._ladder(rows.groups[1], sheet)
            along = self._takes.along(rows, path_index)
            for index, code in zip(served.tolist(), column[served].tolist(), strict=True):
                pair = sheet.pairs[index]
                if pair.a in at_a and pair.b in at_b:
                    way = self._way(path_index, pair, code, along, sheet)
                    if not way.parts or self._wanted.allows(way.parts):
                        yield way, (at_a[pair.a], at_b[pair.b])

    def _ladder(self, groups: tuple[PortGroup, ...], sheet: Sheet) -> dict[int, Fits]:
        """What can be fitted at an end for what a sheet asks, by light; the groups live as long as the preparation."""
        key = id(groups), sheet.asks
        if key not in self._ladders:
            accepted = [self._fittings.accepted_number(group.end_class, sheet.asked) for group in groups]
            stated = [(group.resource in self._scarce.ports, group.installed, group.device.module_power_w) for group in groups]
            several = *accepted, *stated
            if several not in self._ladder_of:
                self._ladder_of[several] = self._fits(groups, sheet.asked)
            self._ladders[key] = self._ladder_of[several]
        return self._ladders[key]

    def _fits(self, groups: tuple[PortGroup, ...], asked: Asked) -> dict[int, Fits]:
        """By light: each fitting with the positions of the port groups to consider for it.

        Of the groups that take a fitting, one that cannot run short makes the others pointless; where none can run short
        the first stands for all. A group with a module in place is considered as well: keeping it changes cost and changes.
        """
        by_light: dict[int, Fits] = defaultdict(list)
        settled: set[tuple[int, bool]] = set()
        for position in sorted(range(len(groups)), key=lambda position: (groups[position].resource in self._scarce.ports, position)):
            group = groups[position]
            for item in self._fittings.accepted(group.end_class, asked):
                mark = (id(item.fit), item.unknown)
                if group.installed is None:
                    if mark in settled:
                        continue
                    if group.resource not in self._scarce.ports:
                        settled.add(mark)
                if is_fed(item.fit, group) and self._wanted.allows(item.fit.parts):
                    by_light[item.fit.light_id].append((position, item))
        return dict(by_light)

    def _way(self, path: int, pair: Pair, code: int, along: Along, sheet: Sheet) -> Piece:
        """What a way adds: cords and attenuators, strands and runs. The attenuators are counted part numbers, the cords are not."""
        apart = id(pair), code, path, along.fibers
        if not along.takes and apart in self._ways_apart:
            return self._ways_apart[apart]
        key = (id(pair), code)
        if key not in self._pairs:
            self._pairs[key] = self._pair(sheet, pair, code)
        its = self._pairs[key]
        uses = (*its.piece.uses, *((resource, its.strands) for resource in along.strands), *along.others) if along.takes else its.piece.uses
        unknown, price, _, *rest = its.piece.measures
        piece = Piece((unknown, price, its.strands * along.fibers, *rest), its.piece.parts, uses, _Way(path, pair, code))
        if not along.takes:
            self._ways_apart[apart] = piece
        return piece

    def _pair(self, sheet: Sheet, pair: Pair, code: int) -> _PairPiece:
        """What a pair of lights adds wherever it is."""
        attenuators: list[Attenuator] = [
            self._accessories.attenuators(sheet.ends[side][light].light)[position - 1]
            for side, light, position in zip((0, 1), (pair.a, pair.b), attenuator_positions(code), strict=True)
            if position
        ]
        extras: tuple[Attenuator | Cord, ...] = (*attenuators, *(cord for cord in pair.cords if cord is not None))
        parts = tuple(item.part for item in attenuators)
        measures = (int(rests_on_unknown(code)), sum(in_ten_thousandths(item.price) for item in extras), 0, 0, 0, self._disliked(parts))
        stock = tuple((("stock", item.part), 1) for item in extras if item.part in self._scarce.stock)
        light = sheet.ends[0][pair.a].light
        return _PairPiece(Piece(measures, parts, stock, None), (light.strands or 1) if light is not None else 0)

    def _ends(self, groups: tuple[PortGroup, ...], fits: Fits) -> list[Piece]:
        """What each of these fittings adds; where nothing of a device is scarce, the same at all ends that have them."""
        scarce = self._scarce
        if (scarce.ports or scarce.power) and any(group.resource in scarce.ports or group.device.id in scarce.power for group in groups):
            return [self._end(groups[position], position, item) for position, item in fits]
        if id(fits) not in self._ends_of:  # which its ladder holds; equal ladders are of groups with the same in place
            self._ends_of[id(fits)] = [self._end(groups[position], position, item) for position, item in fits]
        return self._ends_of[id(fits)]

    def _end(self, group: PortGroup, position: int, item: Accepted) -> Piece:
        """What the fitting of one end adds; a module that stays in place is not bought again."""
        scarce, fit = self._scarce, item.fit
        kept = stays(fit, group)
        uses: list[tuple[Resource, int]] = []
        if group.resource in scarce.ports:
            uses.append((group.resource, 1))
        if fit.power_w and group.device.id in scarce.power:
            uses.append((("power", group.device.id), round(fit.power_w * 1000)))
        if not kept:
            uses += [(("stock", part), 1) for part in fit.parts if part in scarce.stock]
        changes = int(group.installed is not None and not kept)
        measures = (int(item.unknown), 0 if kept else fit.price, 0, int(fit.module is not None), changes, self._disliked(fit.parts))
        return Piece(measures, fit.parts, tuple(uses), (position, fit))

    def _disliked(self, parts: Iterable[str]) -> int:
        return sum(part not in self._preferred for part in parts) if self._preferred else 0

    def uses(self, rows: LinkRows, pick: Pick, scarce: Scarce) -> dict[Resource, int]:
        """What an option takes of these resources, whether or not the choice has counted them."""
        counting = OptionBuilder(self._fittings, self._accessories, self._sheets, self._kinds, scarce, count_units=False)
        ends = [
            counting._end(rows.groups[side][position], position, Accepted(fit, False))
            for side, position, fit in ((0, pick.group_a, pick.fit_a), (1, pick.group_b, pick.fit_b))
        ]
        sheet = self._sheets[rows.places[pick.path][0]]
        return summed([counting._way(pick.path, pick.pair, pick.code, counting._takes.along(rows, pick.path), sheet), *ends])

    def _own_rules_hold(self, rows: LinkRows, pick: Pick) -> bool:
        from optiselect.rules import RULE_BY_ID

        link = self.fitted_link(rows, pick)
        return not any(True for _ in RULE_BY_ID["own-rule"].check(link))

    def path_of(self, rows: LinkRows, pick: Pick) -> Path:
        """The path of an option."""
        sheet, row = rows.places[pick.path]
        return self._sheets[sheet].paths[row]

    def attenuators_of(self, pick: Pick) -> tuple[Attenuator | None, Attenuator | None]:
        """The attenuators of an option at the two ends."""
        at_a, at_b = attenuator_positions(pick.code)
        return (
            self._accessories.attenuators(pick.fit_a.light)[at_a - 1] if at_a else None,
            self._accessories.attenuators(pick.fit_b.light)[at_b - 1] if at_b else None,
        )

    def fitted_link(self, rows: LinkRows, pick: Pick) -> FittedLink:
        """The link as an option fits it, at the first port of each group."""
        sheet, row = rows.places[pick.path]
        its = self._sheets[sheet]
        ends = []
        sides = (pick.fit_a, pick.group_a), (pick.fit_b, pick.group_b)
        for groups, (fit, position), cord, attenuator in zip(rows.groups, sides, pick.pair.cords, self.attenuators_of(pick), strict=True):
            group = groups[position]
            site = self._fittings.site_of(group.device)
            fitted = fit.fitting, fit.light, fit.module, fit.converter, cord, attenuator, group.installed
            ends.append(FittedEnd(group.device, site, group.names[0], group.port, *fitted))
        return FittedLink(Asked(rows.link, rows.rate, its.paths[row], self._accessories.policy, its.asked.waived), ends[0], ends[1])


def _pick(pieces: Sequence[Piece], triple: tuple[int, int, int]) -> Pick:
    way, (at_a, fit_a), (at_b, fit_b) = (pieces[number].says for number in triple)
    return Pick(way.path, way.pair, way.code, at_a, at_b, fit_a, fit_b)


def _places(own: tuple[Resource | None, ...]) -> dict[Resource, int]:
    """The place of each resource in an order that links of one list share; stock goes by its own name, after these."""
    places: dict[Resource, int] = {}
    for resource in own:
        if resource is not None:
            places.setdefault(resource, len(places))
    return places


def _option(pieces: Sequence[Piece], measures: Sequence[int], places: Mapping[Resource, int]) -> Option:
    parts, names = units_of(*[piece.parts for piece in pieces])
    unknown, cost, strands, modules, changes, disliked = measures
    uses = tuple(sorted(summed(pieces).items(), key=lambda use: (places.get(use[0], len(places)), str(use[0]))))
    pick = _pick(pieces, (0, 1, 2))
    return Option(parts, names, cost, strands, modules, changes, min(unknown, 1), disliked, uses, pick)
