"""The options of every link: which fittings, cords and attenuators serve it, over which path, at what cost.

Links whose options are the same form one `Group`: the work that follows grows with the number of different links.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optiselect.model.network import Link
from optiselect.model.terms import Rate
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink
from optiselect.solver.distances import NOT_SERVED, Row, attenuator_positions, rests_on_unknown
from optiselect.solver.fittings import Accepted, Fit, Fittings, PortGroup, in_ten_thousandths
from optiselect.solver.pairs import Accessories, Pair

Resource = tuple[Any, ...]


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

    def column(self, row: int) -> bytes:
        """The codes of one row as a key: rows of equal keys are served by the same pairs."""
        return self.codes[:, row].tobytes()


@dataclass(frozen=True, slots=True)
class Pick:
    """How an option is carried out: over which path, from which port groups, with what."""

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
class Scarce:
    """Which resources can run short; options carry their use of these only."""

    ports: frozenset[Resource] = frozenset()
    strands: frozenset[str] = frozenset()
    copper: frozenset[str] = frozenset()
    stock: frozenset[str] = frozenset()
    power: frozenset[str] = frozenset()
    diverse: frozenset[str] = frozenset()
    """Ids of links whose runs and routes other links must avoid, or that must avoid those of others."""


class OptionBuilder:
    """Builds the options of links, each different list once."""

    def __init__(self, fittings: Fittings, accessories: Accessories, sheets: Sequence[Sheet], scarce: Scarce, *, count_units: bool) -> None:
        self._fittings = fittings
        self._accessories = accessories
        self._sheets = sheets
        self._scarce = scarce
        self._count_units = count_units
        self._preferred = frozenset(accessories.policy.prefer_parts)
        self._lists: dict[Hashable, list[Option]] = {}
        self._ladders: dict[Hashable, Any] = {}

    def key(self, rows: LinkRows) -> Hashable:
        """What decides a link's options; links of one key have the same list."""
        policy = self._accessories.policy
        places = tuple((sheet, self._sheets[sheet].column(row), self._path_uses(sheet, row)) for sheet, row in rows.places)
        sides = tuple(tuple((group.end_class, group.resource if group.resource in self._scarce.ports else None) for group in side) for side in rows.groups)
        powered = tuple(side[0].device.id if side and side[0].device.id in self._scarce.power else None for side in rows.groups)
        limits = tuple(side[0].device.module_power_w if side else None for side in rows.groups)
        own = rows.link.id if policy.rules or rows.link.id in self._scarce.diverse else None
        return places, sides, powered, limits, own

    def options(self, rows: LinkRows) -> list[Option]:
        """The options of a link, the undominated ones only, in a fixed order."""
        key = self.key(rows)
        if key not in self._lists:
            self._lists[key] = undominated(self._all(rows), count_units=self._count_units)
        return self._lists[key]

    def first(self, rows: LinkRows) -> list[Option]:
        """Enough options to tell whether a link can be served, with and without an unknown figure (not all of them)."""
        key = ("first", self.key(rows))
        if key not in self._lists:
            seen: dict[tuple[int, tuple[tuple[Resource, int], ...]], Option] = {}
            for option in self._all(rows):
                seen.setdefault((option.unknown, option.uses), option)
                if not option.unknown and not option.uses:
                    break
            self._lists[key] = list(seen.values())
        return self._lists[key]

    def _path_uses(self, sheet: int, row: int) -> tuple[tuple[str, str], ...]:
        path = self._sheets[sheet].rows[row].path
        return tuple(("strands" if run.fiber else "copper", run.id) for run in path.runs if run.id in self._scarce.strands or run.id in self._scarce.copper)

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
            path = sheet.rows[row].path
            for index in served.tolist():
                pair = sheet.pairs[index]
                fits_a, fits_b = at_a.get(pair.a), at_b.get(pair.b)
                if not fits_a or not fits_b:
                    continue
                code = int(column[index])
                extras = self._extras(sheet, pair, code)
                for group_a, item_a in fits_a:
                    for group_b, item_b in fits_b:
                        pick = Pick(path_index, sheet_index, index, code, group_a.index, group_b.index, item_a.fit, item_b.fit)
                        option = self._option(pick, (group_a, group_b), (item_a, item_b), extras, path, rows.link)
                        if option is not None and (not policy.rules or self._own_rules_hold(sheet, rows, row, pick)):
                            yield option

    def _fits(self, groups: tuple[PortGroup, ...], asked: Asked) -> dict[int, list[tuple[PortGroup, Accepted]]]:
        """By light: each fitting with the port groups to consider for it.

        Of the groups that take a fitting, one that cannot run short makes the others pointless; where none can run short
        the first stands for all. A group with a module in place is considered as well: keeping it changes cost and changes.
        """
        key = (asked.rate, asked.path.medium, asked.waived, tuple((group.end_class, group.index, group.resource in self._scarce.ports) for group in groups))
        if key in self._ladders and self._ladders[key][0] == groups:
            return self._ladders[key][1]  # type: ignore[no-any-return]
        by_light: dict[int, list[tuple[PortGroup, Accepted]]] = defaultdict(list)
        settled: set[tuple[int, bool]] = set()
        ordered = sorted(groups, key=lambda group: (group.resource in self._scarce.ports, group.index))
        for group in ordered:
            short = group.resource in self._scarce.ports
            for item in self._fittings.accepted(group.end_class, asked):
                mark = (id(item.fit), item.unknown)
                if group.installed is None:
                    if mark in settled:
                        continue
                    if not short:
                        settled.add(mark)
                by_light[item.fit.light_id].append((group, item))
        self._ladders[key] = (groups, by_light)
        return by_light

    def _extras(self, sheet: Sheet, pair: Pair, code: int) -> tuple[int, tuple[str, ...]]:
        """Price and counted part numbers of cords and attenuators."""
        price = sum(in_ten_thousandths(cord.price) for cord in pair.cords if cord is not None)
        parts = []
        for side, position in enumerate(attenuator_positions(code)):
            if position:
                attenuator = self._accessories.attenuators(sheet.ends[side][pair.a if side == 0 else pair.b])[position - 1]
                price += in_ten_thousandths(attenuator.price)
                parts.append(attenuator.part)
        stocked = [cord.part for cord in pair.cords if cord is not None and cord.part in self._scarce.stock]
        self._cord_stock = stocked
        return price, tuple(parts)

    def _option(
        self,
        pick: Pick,
        groups: tuple[PortGroup, PortGroup],
        items: tuple[Accepted, Accepted],
        extras: tuple[int, tuple[str, ...]],
        path: Any,
        link: Link,
    ) -> Option | None:
        fits = (pick.fit_a, pick.fit_b)
        units: dict[str, int] = defaultdict(int)
        bought: dict[str, int] = defaultdict(int)
        cost, modules, changes = extras[0], 0, 0
        uses: dict[Resource, int] = defaultdict(int)
        for fit, group in zip(fits, groups, strict=True):
            kept = fit.module is not None and fit.converter is None and group.installed == fit.module.part
            for part in fit.parts:
                units[part] += 1
                if not kept:
                    bought[part] += 1
            cost += 0 if kept else fit.price
            modules += fit.module is not None
            changes += group.installed is not None and not kept
            if group.resource in self._scarce.ports:
                uses[group.resource] += 1
            limit_w = group.device.module_power_w
            if fit.power_w and limit_w is not None:
                if fit.power_w > limit_w:
                    return None
                if group.device.id in self._scarce.power:
                    uses["power", group.device.id] += round(fit.power_w * 1000)
        for part in extras[1]:
            units[part] += 1
            bought[part] += 1
        for part in self._cord_stock:
            uses["stock", part] += 1
        for part, count in bought.items():
            if part in self._scarce.stock:
                uses["stock", part] += count
        strands = (fits[0].light.strands or 1) if fits[0].light is not None and path.medium == "fiber" else 0
        for run in path.runs:
            if run.id in self._scarce.strands:
                uses["strands", run.id] += strands
            if run.id in self._scarce.copper:
                uses["copper", run.id] += 1
            if link.id in self._scarce.diverse:
                for element in (("run", run.id), *(("route", route) for route in run.routes)):
                    uses["over", link.id, element] = 1
        return Option(
            tuple(sorted(units.items())),
            frozenset(units),
            cost,
            strands * len(path.runs),
            modules,
            changes,
            int(items[0].unknown or items[1].unknown or rests_on_unknown(pick.code)),
            sum(count for part, count in units.items() if part not in self._preferred) if self._preferred else 0,
            tuple(sorted(uses.items(), key=str)),
            pick,
        )

    def _own_rules_hold(self, sheet: Sheet, rows: LinkRows, row: int, pick: Pick) -> bool:
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
        for side, (fit, group_index) in enumerate(((pick.fit_a, pick.group_a), (pick.fit_b, pick.group_b))):
            group = next(group for group in rows.groups[side] if group.index == group_index)
            end = self._fittings.fitted(self._fittings.classes[group.end_class], fit)
            ladder = self._accessories.attenuators(end)
            site = self._fittings.site_of(group.device)
            ends.append(
                replace(
                    end,
                    device=group.device,
                    site=site,
                    port=group.port,
                    port_id=ports[side] if ports else group.names[0],
                    installed=group.installed,
                    cord=pair.cords[side],
                    attenuator=ladder[positions[side] - 1] if positions[side] else None,
                )
            )
        asked = Asked(row.link, rows.rate, row.path, self._accessories.policy, row.waived)
        return FittedLink(asked, ends[0], ends[1])


def undominated(options: Iterable[Option], *, count_units: bool) -> list[Option]:
    """Drop every option that another one makes pointless; return the rest in a fixed order.

    Option p is pointless beside q when q's part numbers are among p's, q measures no worse in anything that any objective
    counts, and q takes no more of any scarce resource: put q in p's place in any plan, and no objective gets worse, no
    resource runs short. Of options that are equal in all of it the first in the fixed order stays. Where units of a part
    matter by themselves (`count_units`: spares are a step function of them, so that fewer units of one part and more of
    another may cost less), q must use no more units of any part.
    """
    ordered = sorted(options, key=lambda option: (len(option.parts), option.measures(), option.parts, len(option.uses), str(option.uses)))
    kept: list[Option] = []
    by_names: dict[frozenset[str], list[Option]] = defaultdict(list)
    for option in ordered:
        names = sorted(option.names)
        beaten = any(
            _no_worse(other, option, count_units)
            for size in range(len(names) + 1)
            for subset in combinations(names, size)
            for other in by_names.get(frozenset(subset), ())
        )
        if not beaten:
            kept.append(option)
            by_names[option.names].append(option)
    return kept


def _no_worse(other: Option, option: Option, count_units: bool) -> bool:
    if any(mine > theirs for mine, theirs in zip(other.measures(), option.measures(), strict=True)):
        return False
    if other.uses:
        uses = dict(option.uses)
        if any(amount > uses.get(resource, 0) for resource, amount in other.uses):
            return False
    if count_units:
        units = dict(option.parts)
        return all(count <= units.get(part, 0) for part, count in other.parts)
    return True
