"""The options of every link: which fittings, cords and attenuators serve it, over which path, at what cost.

Links whose options are the same form one `Group`: the work that follows grows with the number of different links.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiselect.model.network import Link
from optiselect.model.terms import Rate
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.solver.distances import NOT_SERVED, Row, attenuator_positions, rests_on_unknown
from optiselect.solver.dominance import undominated
from optiselect.solver.fittings import Accepted, Fit, Fittings, PortGroup, in_ten_thousandths
from optiselect.solver.pairs import Accessories, Pair
from optiselect.solver.scarce import Resource, Scarce


@dataclass(frozen=True, eq=False)
class Sheet:
    """All links that ask one rate over one profile of path, beside all pairs that fit it.

    Attributes:
        asked: what is asked, with one path that stands for the profile.
        rows: links with their paths. codes: by pair and row (see `distances`).
        ends: by side, for each light an end that is fitted with it.
    """

    index: int
    asked: Asked
    rows: list[Row]
    pairs: list[Pair]
    ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]]
    codes: NDArray[np.int32]

    def most_strands(self) -> list[int]:
        """For each row the most strands that a pair which serves it takes."""
        if not self.pairs:
            return [0] * len(self.rows)
        lights = [self.ends[0][pair.a].light for pair in self.pairs]
        strands = np.array([(light.strands or 1) if light is not None else 1 for light in lights], dtype=np.int64)
        most: list[int] = ((self.codes != NOT_SERVED) * strands[:, None]).max(axis=0).tolist()
        return most

    def column(self, row: int) -> bytes:
        """The codes of one row as a key: rows of equal keys are served by the same pairs."""
        return self.codes[:, row].tobytes()


@dataclass(frozen=True, slots=True)
class Pick:
    """How an option is carried out: over which path, from which port groups (positions among the link's groups), with what."""

    path: int
    sheet: int
    pair: int
    code: int
    group_a: int
    group_b: int
    fit_a: Fit
    fit_b: Fit


@dataclass(frozen=True, slots=True)
class Option:
    """One way to serve a link, as the choice sees it.

    Attributes:
        parts: counted part numbers (modules, converters, attenuators) with their units, sorted.
        names: the part numbers alone.
        cost: ten-thousandths of the currency. bought: units to buy, by part number.
        uses: what it takes of each scarce resource.
    """

    parts: tuple[tuple[str, int], ...]
    names: frozenset[str]
    cost: int
    strands: int
    modules: int
    changes: int
    unknown: int
    disliked: int
    uses: tuple[tuple[Resource, int], ...]
    pick: Pick

    def measures(self) -> tuple[int, ...]:
        """Everything that counts beside part numbers and scarce resources; less is better."""
        return self.unknown, self.cost, self.strands, self.modules, self.changes, self.disliked


@dataclass(frozen=True)
class LinkRows:
    """A link at one rate: for each of its paths, the sheet and the row there."""

    link: Link
    rate: Rate
    places: tuple[tuple[int, int], ...]
    groups: tuple[tuple[PortGroup, ...], tuple[PortGroup, ...]]


@dataclass(frozen=True)
class OptionList:
    """The options of a link, which it may share with others.

    Attributes:
        names: the options speak of the resources of the link that they were made for; here is what this link calls them.
    """

    options: tuple[Option, ...]
    names: Mapping[Resource, Resource | None]

    def uses(self, option: Option) -> tuple[tuple[Resource, int], ...]:
        """What an option takes of each scarce resource of this link."""
        return tuple((self.names.get(resource) or resource, amount) for resource, amount in option.uses)


Lists = dict[Hashable, tuple[tuple[Resource | None, ...], tuple[Option, ...]]]


class OptionBuilder:
    """Builds the options of links, each different list once."""

    def __init__(
        self,
        fittings: Fittings,
        accessories: Accessories,
        sheets: Sequence[Sheet],
        scarce: Scarce,
        *,
        count_units: bool,
        lists: Lists | None = None,
    ) -> None:
        self._fittings = fittings
        self._accessories = accessories
        self._sheets = sheets
        self._scarce = scarce
        self._count_units = count_units
        self._preferred = frozenset(accessories.policy.prefer_parts)
        self._lists: Lists = {} if lists is None else lists
        self._ladders: dict[Hashable, dict[int, list[tuple[int, Accepted]]]] = {}

    def key(self, rows: LinkRows) -> Hashable:
        """What decides a link's options; links of one key have the same list."""
        policy = self._accessories.policy
        places = tuple((sheet, self._sheets[sheet].column(row), len(self._sheets[sheet].rows[row].path.runs)) for sheet, row in rows.places)
        sides = tuple(tuple((group.end_class, group.resource in self._scarce.ports) for group in side) for side in rows.groups)
        limits = tuple((side[0].device.module_power_w, side[0].device.id in self._scarce.power) if side else None for side in rows.groups)
        number: dict[Resource | None, int] = {None: -1}
        pattern = tuple(number.setdefault(resource, len(number)) for resource in self._resources(rows))
        return places, sides, limits, rows.link.id if policy.rules else None, pattern, self._scarce.stock

    def options(self, rows: LinkRows) -> OptionList:
        """The options of a link, the undominated ones only, in a fixed order."""
        key = self.key(rows)
        own = self._resources(rows)
        if key not in self._lists:
            self._lists[key] = own, tuple(undominated(self._all(rows), count_units=self._count_units))
        first, options = self._lists[key]
        return OptionList(options, {theirs: mine for theirs, mine in zip(first, own, strict=True) if theirs is not None})

    def _resources(self, rows: LinkRows) -> tuple[Resource | None, ...]:
        """What a link can take of what is scarce, in an order that links of one key share; stock goes by its own name."""
        scarce = self._scarce
        found: list[Resource | None] = []
        for sheet, row in rows.places:
            for run in self._sheets[sheet].rows[row].path.runs:
                found.append(("strands", run.id) if run.id in scarce.strands else ("copper", run.id) if run.id in scarce.copper else None)
                if rows.link.id in scarce.diverse:
                    found.append(("over", rows.link.id, ("run", run.id)))
                    found += [("over", rows.link.id, ("route", route)) for route in run.routes]
                    found.append(None)
        for side in rows.groups:
            found += [group.resource if group.resource in scarce.ports else None for group in side]
            found.append(("power", side[0].device.id) if side and side[0].device.id in scarce.power else None)
        return tuple(found)

    def first(self, rows: LinkRows) -> Sequence[Option]:
        """Enough options to tell whether a link can be served, with and without an unknown figure (not all of them)."""
        key = ("first", self.key(rows))
        if key not in self._lists:
            seen: dict[tuple[int, tuple[tuple[Resource, int], ...]], Option] = {}
            for option in self._all(rows):
                seen.setdefault((option.unknown, option.uses), option)
                if not option.unknown and not option.uses:
                    break
            self._lists[key] = (), tuple(seen.values())
        return self._lists[key][1]

    def _all(self, rows: LinkRows) -> Iterable[Option]:
        policy = self._accessories.policy
        for path_index, (sheet_index, row) in enumerate(rows.places):
            sheet = self._sheets[sheet_index]
            column = sheet.codes[:, row]
            served = np.flatnonzero(column != NOT_SERVED)
            if not len(served):
                continue
            at_a = self._fits(rows.groups[0], sheet.asked)
            at_b = self._fits(rows.groups[1], sheet.asked)
            for index in served.tolist():
                pair = sheet.pairs[index]
                fits_a, fits_b = at_a.get(pair.a), at_b.get(pair.b)
                if not fits_a or not fits_b:
                    continue
                code = int(column[index])
                extras = self._extras(sheet, pair, code)
                for at_a_group, item_a in fits_a:
                    for at_b_group, item_b in fits_b:
                        pick = Pick(path_index, sheet_index, index, code, at_a_group, at_b_group, item_a.fit, item_b.fit)
                        option = self._option(pick, rows, (item_a, item_b), extras)
                        if option is not None and (not policy.rules or self._own_rules_hold(rows, pick)):
                            yield option

    def _fits(self, groups: tuple[PortGroup, ...], asked: Asked) -> dict[int, list[tuple[int, Accepted]]]:
        """By light: each fitting with the positions of the port groups to consider for it.

        Of the groups that take a fitting, one that cannot run short makes the others pointless; where none can run short
        the first stands for all. A group with a module in place is considered as well: keeping it changes cost and changes.
        """
        key = (asked.rate, asked.path.medium, asked.waived, tuple((group.end_class, group.resource in self._scarce.ports) for group in groups))
        if key not in self._ladders:
            by_light: dict[int, list[tuple[int, Accepted]]] = defaultdict(list)
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
                    by_light[item.fit.light_id].append((position, item))
            self._ladders[key] = by_light
        return self._ladders[key]

    def _extras(self, sheet: Sheet, pair: Pair, code: int) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
        """The price of cords and attenuators, the attenuators' part numbers (they are counted), and those of the cords."""
        price = sum(in_ten_thousandths(cord.price) for cord in pair.cords if cord is not None)
        parts = []
        for side, position in enumerate(attenuator_positions(code)):
            if position:
                attenuator = self._accessories.attenuators(sheet.ends[side][pair.a if side == 0 else pair.b])[position - 1]
                price += in_ten_thousandths(attenuator.price)
                parts.append(attenuator.part)
        return price, tuple(parts), tuple(cord.part for cord in pair.cords if cord is not None)

    def _option(self, pick: Pick, rows: LinkRows, items: tuple[Accepted, Accepted], extras: tuple[int, tuple[str, ...], tuple[str, ...]]) -> Option | None:
        fits = (pick.fit_a, pick.fit_b)
        groups = (rows.groups[0][pick.group_a], rows.groups[1][pick.group_b])
        units: dict[str, int] = defaultdict(int)
        cost, modules, changes = extras[0], 0, 0
        for fit, group in zip(fits, groups, strict=True):
            kept = _stays(fit, group)
            for part in fit.parts:
                units[part] += 1
            cost += 0 if kept else fit.price
            modules += fit.module is not None
            changes += group.installed is not None and not kept
            if fit.power_w and group.device.module_power_w is not None and fit.power_w > group.device.module_power_w:
                return None
        for part in extras[1]:
            units[part] += 1
        sheet_index, row = rows.places[pick.path]
        path = self._sheets[sheet_index].rows[row].path
        return Option(
            tuple(sorted(units.items())),
            frozenset(units),
            cost,
            _strands(pick) * len(path.runs) if path.medium == "fiber" else 0,
            modules,
            changes,
            int(items[0].unknown or items[1].unknown or rests_on_unknown(pick.code)),
            sum(count for part, count in units.items() if part not in self._preferred) if self._preferred else 0,
            tuple(sorted(self._uses(pick, rows, extras, self._scarce).items(), key=str)),
            pick,
        )

    def uses(self, rows: LinkRows, pick: Pick, scarce: Scarce) -> dict[Resource, int]:
        """What an option takes of these resources, whether or not the choice has counted them."""
        sheet = self._sheets[rows.places[pick.path][0]]
        return self._uses(pick, rows, self._extras(sheet, sheet.pairs[pick.pair], pick.code), scarce)

    def _uses(self, pick: Pick, rows: LinkRows, extras: tuple[int, tuple[str, ...], tuple[str, ...]], scarce: Scarce) -> dict[Resource, int]:
        uses: dict[Resource, int] = defaultdict(int)
        for fit, group in ((pick.fit_a, rows.groups[0][pick.group_a]), (pick.fit_b, rows.groups[1][pick.group_b])):
            if group.resource in scarce.ports:
                uses[group.resource] += 1
            if fit.power_w and group.device.id in scarce.power:
                uses["power", group.device.id] += round(fit.power_w * 1000)
            if scarce.stock and not _stays(fit, group):
                for part in scarce.stock.intersection(fit.parts):
                    uses["stock", part] += 1
        for part in (*extras[1], *extras[2]):
            if part in scarce.stock:
                uses["stock", part] += 1
        sheet_index, row = rows.places[pick.path]
        for run in self._sheets[sheet_index].rows[row].path.runs:
            if run.id in scarce.strands:
                uses["strands", run.id] += _strands(pick)
            if run.id in scarce.copper:
                uses["copper", run.id] += 1
            if rows.link.id in scarce.diverse:
                for element in (("run", run.id), *(("route", route) for route in run.routes)):
                    uses["over", rows.link.id, element] = 1
        return uses

    def takers(self, rows: LinkRows, pick: Pick, side: int) -> list[int]:
        """The positions of the port groups that an option's fitting could take instead at one side: equal in all that counts."""
        groups = rows.groups[side]
        here = groups[pick.group_a if side == 0 else pick.group_b]
        fit = pick.fit_a if side == 0 else pick.fit_b
        if here.installed is not None:
            return [groups.index(here)]
        asked = self._sheets[rows.places[pick.path][0]].asked
        wanted = next(item.unknown for item in self._fittings.accepted(here.end_class, asked) if item.fit is fit)
        return [
            position
            for position, group in enumerate(groups)
            if group.installed is None and any(item.fit is fit and item.unknown == wanted for item in self._fittings.accepted(group.end_class, asked))
        ]

    def _own_rules_hold(self, rows: LinkRows, pick: Pick) -> bool:
        from optiselect.rules import RULE_BY_ID

        link = self.fitted_link(rows, pick)
        return not any(True for _ in RULE_BY_ID["own-rule"].check(link))

    def fitted_link(self, rows: LinkRows, pick: Pick, ports: tuple[str, str] | None = None) -> FittedLink:
        """The link as an option fits it; at the first port of each group unless the ports are given."""
        sheet_index, row_index = rows.places[pick.path]
        sheet = self._sheets[sheet_index]
        row = sheet.rows[row_index]
        pair = sheet.pairs[pick.pair]
        positions = attenuator_positions(pick.code)
        ends = []
        for side, (fit, position) in enumerate(((pick.fit_a, pick.group_a), (pick.fit_b, pick.group_b))):
            group = rows.groups[side][position]
            end = self._fittings.fitted(self._fittings.classes[group.end_class], fit)
            ends.append(
                FittedEnd(
                    group.device,
                    self._fittings.site_of(group.device),
                    ports[side] if ports else group.names[0],
                    group.port,
                    end.fitting,
                    end.light,
                    end.module,
                    end.converter,
                    pair.cords[side],
                    self._accessories.attenuators(end)[positions[side] - 1] if positions[side] else None,
                    group.installed,
                )
            )
        asked = Asked(row.link, rows.rate, row.path, self._accessories.policy, row.waived)
        return FittedLink(asked, ends[0], ends[1])


def _stays(fit: Fit, group: PortGroup) -> bool:
    """Whether an option keeps the module that is in place, so that it is not bought again."""
    return fit.module is not None and fit.converter is None and group.installed == fit.module.part


def _strands(pick: Pick) -> int:
    light = pick.fit_a.light
    return (light.strands or 1) if light is not None else 0
