"""What can run short: what the links may want at most of everything that they share, beside what there is of it.

What cannot run short can never bind, whatever is chosen, and is not counted. Demands of links add up; so where few links differ from those
of a network that was looked at, theirs are taken off and put on.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from functools import cached_property

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.rules.fitted import Path
from optiselect.solver.fittings import Fittings, PortGroup
from optiselect.solver.joined import Apart
from optiselect.solver.option import LinkRows, Sheet
from optiselect.solver.scarce import Resource, Scarce

Side = tuple[PortGroup, ...]


class Demand:
    """Demands of the links of one network.

    Args:
        sheets: of the preparation, which may add to them. before: of a network that this one follows, with the same devices, catalog and policy.
    """

    def __init__(self, network: Network, catalog: Catalog, policy: Policy, fittings: Fittings, sheets: Sequence[Sheet], before: Demand | None = None) -> None:
        self._network, self._catalog, self._policy, self._fittings, self._sheets, self._before = network, catalog, policy, fittings, sheets, before
        self._rows: Mapping[str, LinkRows] = {}
        self._wanted: dict[Resource, int] = {}  # at the ends
        self._along: dict[str, int] = {}  # by run
        self._over: set[Resource] = set()
        self._kinds: dict[int, Hashable] = {}
        self._of_kind: dict[Hashable, tuple[list[int], int, list[str]]] = {}

    @cached_property
    def stock(self) -> dict[str, int]:
        """Units in stock by part number, where stated."""
        items: tuple[Module | Converter | Attenuator | Cord, ...] = (
            *self._catalog.modules,
            *self._catalog.converters,
            *self._catalog.attenuators,
            *self._catalog.cords,
        )
        return {item.part: item.stock for item in items if item.stock is not None}

    def capacity(self, resource: Resource) -> int:
        """How much there is of a resource, as `Option.uses` counts it."""
        kind, name = resource[0], resource[1]
        match kind:
            case "stock":
                return self.stock[name]
            case "power":
                return round((self._network.device_by_id[name].module_power_w or 0) * 1000)
            case "ports":
                return len(self._fittings.groups(name)[resource[2]].names)
            case _:
                return self._capacity_of_run(name)

    def scarce(self, rows: Mapping[str, LinkRows], paths_of: Mapping[str, tuple[Path, ...]]) -> tuple[Scarce, dict[Resource, int], Apart]:
        """Which resources these links could want more of than there is, how much there is of each, and which must stay apart."""
        self._count(rows)
        short = {resource: self.capacity(resource) for resource in sorted(self._over) if resource[0] != "ports"}
        crowded = sorted({resource[1] for resource in self._over if resource[0] == "ports"})
        ports = [group.resource for device_id in crowded for group in self._fittings.groups(device_id)]
        diverse, apart = self._apart(rows, paths_of)

        def named(kind: str) -> frozenset[str]:
            return frozenset(resource[1] for resource in short if resource[0] == kind)

        scarce = Scarce(frozenset(ports), named("strands"), named("copper"), named("stock"), named("power"), diverse)
        return scarce, short | {resource: self.capacity(resource) for resource in ports}, apart

    def _count(self, rows: Mapping[str, LinkRows]) -> None:
        """Add up what all links want, and see what there is less of.

        Of ports: every fitting goes to the first group that takes it. If even then no group of a device can be wanted more often than it has
        ports, any choice of fittings finds its ports, and the device's ports need not be counted.
        """
        self._rows = rows
        changed: Iterable[LinkRows] = rows.values()
        gone: Iterable[LinkRows] = ()
        if self._before is not None:
            was = self._before._rows
            self._wanted, self._along, self._over = dict(self._before._wanted), dict(self._before._along), set(self._before._over)
            changed = [row for link_id, row in rows.items() if was.get(link_id) is not row]
            gone = [row for link_id, row in was.items() if rows.get(link_id) is not row]
        touched: set[Resource] = set()
        runs: set[str] = set()
        for those, sign in ((gone, -1), (changed, 1)):
            for row in those:
                self._add(row, sign, touched, runs)
        cords_and_attenuators = {part for part in self.stock if part in self._catalog.cord_by_part or part in self._catalog.attenuator_by_part}
        for part in cords_and_attenuators:
            self._wanted["stock", part] = 2 * len(rows)
            touched.add(("stock", part))
        counts_spares = self._policy.spares is not None
        for resource in touched:
            wanted = self._wanted[resource]
            if wanted and (wanted > self.capacity(resource) or (counts_spares and resource[0] == "stock")):
                self._over.add(resource)
            else:
                self._over.discard(resource)
        for run_id in runs:
            wanted = self._along[run_id]
            if self._before is not None:
                self._over -= {("strands", run_id), ("copper", run_id)}
            if wanted and wanted > self._capacity_of_run(run_id):
                self._over.add(("copper" if self._network.run_by_id[run_id].fiber is None else "strands", run_id))

    def _capacity_of_run(self, run_id: str) -> int:
        fiber = self._network.run_by_id[run_id].fiber
        return 1 if fiber is None else fiber.strands - fiber.strands_in_use - self._policy.reserve_strands

    def _add(self, row: LinkRows, sign: int, touched: set[Resource], runs: set[str]) -> None:
        """Put on, or take off, what a link wants; what it wants something of is noted."""
        sheets = self._sheets
        over: dict[str, int] = {}
        for sheet_index, index in row.places:
            sheet = sheets[sheet_index]
            path, units = sheet.paths[index], sheet.most_strands[index]
            if path.medium != "fiber":
                units = min(units, 1)
            for run_id in path.run_ids:
                if units >= over.get(run_id, 0):
                    over[run_id] = units
        for run_id, units in over.items():
            self._along[run_id] = self._along.get(run_id, 0) + sign * units
        runs.update(over)
        wanted = self._wanted
        asked = tuple({sheet for sheet, _ in row.places}) if len(row.places) > 1 else (row.places[0][0],)
        for groups in row.groups:
            positions, most_power, parts = self._at_end(asked, groups)
            its: list[Resource] = [groups[position].resource for position in positions]
            its += [("stock", part) for part in parts]
            for resource in its:
                wanted[resource] = wanted.get(resource, 0) + sign
            if groups and groups[0].device.module_power_w is not None:
                power = ("power", groups[0].device.id)
                wanted[power] = wanted.get(power, 0) + sign * most_power
                touched.add(power)
            touched.update(its)

    def _at_end(self, sheets: tuple[int, ...], groups: Side) -> tuple[list[int], int, list[str]]:
        """What an end may want at most: ports of the groups that some fitting goes to first (positions), power in mW, and parts in stock."""
        if id(groups) not in self._kinds:  # which its link holds
            self._kinds[id(groups)] = self._fittings.number(tuple((group.end_class, group.installed is not None) for group in groups))
        kind = sheets, self._kinds[id(groups)]
        if kind not in self._of_kind:
            self._of_kind[kind] = self._first_choices(sheets, groups)
        return self._of_kind[kind]

    def _first_choices(self, sheets: tuple[int, ...], groups: Side) -> tuple[list[int], int, list[str]]:
        most_power = 0
        positions: set[int] = set()
        parts: set[str] = set()
        for sheet in sheets:
            seen: set[int] = set()
            for position, group in enumerate(groups):
                for item in self._fittings.accepted(group.end_class, self._sheets[sheet].asked):
                    if group.installed is not None or id(item.fit) not in seen:
                        positions.add(position)
                    seen.add(id(item.fit))
                    most_power = max(most_power, round(item.fit.power_w * 1000))
                    parts.update(part for part in item.fit.parts if part in self.stock)
        return sorted(positions), most_power, sorted(parts)

    def _apart(self, rows: Mapping[str, LinkRows], paths_of: Mapping[str, tuple[Path, ...]]) -> tuple[frozenset[str], Apart]:
        """The links that must be diverse and may share something, and what of each must stay apart from what of the other."""
        links = [row.link for row in rows.values() if row.link.diverse_from]
        elements = {
            link_id: {element for path in paths_of[link_id] for run in path.runs for element in (("run", run.id), *(("route", route) for route in run.routes))}
            for link_id in {link_id for link in links for link_id in (link.id, *link.diverse_from)} & rows.keys()
        }
        diverse: set[str] = set()
        apart: set[tuple[Resource, Resource]] = set()
        for link in links:
            for other in elements.keys() & set(link.diverse_from):
                for element in elements[link.id] & elements[other]:
                    first, second = sorted((link.id, other))
                    apart.add((("over", first, element), ("over", second, element)))
                    diverse |= {link.id, other}
        return frozenset(diverse), tuple(sorted(apart))
