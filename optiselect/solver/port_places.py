"""Port groups for links whose options are chosen: which group of a device each takes, so that no group is wanted more often than it has ports."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from typing import Any

from optiselect.model.network import Link
from optiselect.rules.fitted import Asked
from optiselect.solver.fittings import Fit, PortGroup
from optiselect.solver.option import LinkRows, Pick
from optiselect.solver.prepare import Preparation, Prepared
from optiselect.solver.scarce import Resource

LinkEnd = tuple[str, int]
"""A link id and a side."""


def sure_to_run_short(preparation: Preparation) -> frozenset[Resource]:
    """The port groups of devices at which, whatever is chosen, not every link finds a port: more links end there than there are ports that
    anything fitted for them goes into.
    """
    devices = {resource[1] for resource in preparation.may_run_short.ports}
    ends: dict[str, Counter[frozenset[int]]] = defaultdict(Counter)
    known: dict[tuple[int, ...], frozenset[int]] = {}
    for row in map(preparation.rows.__getitem__, preparation.links_at.of(devices)):
        for groups in row.groups:
            device_id = groups[0].device.id
            if device_id in devices:
                asked = [preparation.sheets[sheet] for sheet, _ in row.places]
                key = id(groups), *[sheet.asks for sheet in asked]  # the rows hold the groups
                if key not in known:
                    known[key] = frozenset(
                        group.index for group in groups if any(preparation.fittings.accepted(group.end_class, sheet.asked) for sheet in asked)
                    )
                ends[device_id][known[key]] += 1
    short = {device_id for device_id, wanting in ends.items() if _are_more_than_ports(wanting, preparation.fittings.groups(device_id))}
    return frozenset(resource for resource in preparation.may_run_short.ports if resource[1] in short)


def _are_more_than_ports(wanting: Mapping[frozenset[int], int], groups: Sequence[PortGroup]) -> bool:
    """Whether some of these link ends, by the groups that take them, are more than the ports of those groups."""
    return any(sum(count for its, count in wanting.items() if its <= takes) > sum(len(groups[index].names) for index in takes) for takes in wanting)


def ends_at(devices: Set[str], preparation: Preparation, picks: Mapping[str, Pick]) -> dict[str, list[LinkEnd]]:
    """By device, in order, the ends there of links that are served."""
    ends: dict[str, list[LinkEnd]] = defaultdict(list)
    for link_id in preparation.links_at.of(devices):
        for side, groups in enumerate(preparation.rows[link_id].groups if link_id in picks else ()):
            if groups[0].device.id in devices:
                ends[groups[0].device.id].append((link_id, side))
    return dict(sorted(ends.items()))


def places_for(preparation: Preparation, prepared: Prepared, picks: Mapping[str, Pick], device_id: str, ends: list[LinkEnd]) -> list[int] | None:
    """A port group for each link end of one device, as positions among the link's groups; None when there is no room for all."""
    from ortools.graph.python import max_flow

    arcs = _Arcs(preparation, prepared, picks, device_id, ends)
    flow = max_flow.SimpleMaxFlow()
    for tail, head, capacity, _ in arcs.all:
        flow.add_arc_with_capacity(tail, head, capacity)
    if flow.solve(0, 1) != flow.OPTIMAL or flow.optimal_flow() < len(ends):
        return None
    return [place for _, place in sorted(arcs.placed(flow).items())]


def places_for_most(
    preparation: Preparation, prepared: Prepared, picks: Mapping[str, Pick], device_id: str, ends: list[LinkEnd], worth: Mapping[str, int]
) -> dict[int, int]:
    """The same for as many as find room, those of the greatest worth in all: by position among the link ends."""
    from ortools.graph.python import min_cost_flow

    arcs = _Arcs(preparation, prepared, picks, device_id, ends)
    flow = min_cost_flow.SimpleMinCostFlow()
    for tail, head, capacity, number in arcs.all:
        flow.add_arc_with_capacity_and_unit_cost(tail, head, capacity, 0 if number is None else -worth[ends[number][0]])
    flow.set_node_supply(0, len(ends))
    flow.set_node_supply(1, -len(ends))
    flow.solve_max_flow_with_min_cost()
    return arcs.placed(flow)


class _Arcs:
    """The arcs of a flow from a source (0) over link ends and groups to a sink (1).

    Attributes:
        all: tail, head, capacity, and for an arc from the source the position of its link end.
    """

    def __init__(self, preparation: Preparation, prepared: Prepared, picks: Mapping[str, Pick], device_id: str, ends: list[LinkEnd]) -> None:
        self._preparation = preparation
        self._takers: dict[tuple[int, int, int, int], list[int]] = {}
        groups = preparation.fittings.groups(device_id)
        node_of = {group.index: 2 + position for position, group in enumerate(groups)}
        self.all: list[tuple[int, int, int, int | None]] = []
        self._says: dict[int, tuple[int, int]] = {}
        for number, (link_id, side) in enumerate(ends):
            rows = prepared.rows[link_id]
            node = 2 + len(groups) + number
            self.all.append((0, node, 1, number))
            for position in self._takers_of(rows, picks[link_id], side):
                self._says[len(self.all)] = number, position
                self.all.append((node, node_of[rows.groups[side][position].index], 1, None))
        self.all += [(node_of[group.index], 1, len(group.names), None) for group in groups]

    def _takers_of(self, rows: LinkRows, pick: Pick, side: int) -> list[int]:
        """The positions of the port groups that an option's fitting could take instead at one side: equal in all that counts."""
        sheet = self._preparation.sheets[rows.places[pick.path][0]]
        position, fit = (pick.group_a, pick.fit_a) if side == 0 else (pick.group_b, pick.fit_b)
        key = id(rows.groups[side]), position, id(fit), sheet.asks  # the groups and fittings live as long as the preparation
        if key not in self._takers:
            self._takers[key] = self._taking(rows.groups[side], position, fit, sheet.asked)
        return self._takers[key]

    def _taking(self, groups: tuple[PortGroup, ...], position: int, fit: Fit, asked: Asked) -> list[int]:
        here, accepted = groups[position], self._preparation.fittings.accepted
        if here.installed is not None:
            return [position]
        wanted = next(item.unknown for item in accepted(here.end_class, asked) if item.fit is fit)
        return [
            position
            for position, group in enumerate(groups)
            if group.installed is None and any(item.fit is fit and item.unknown == wanted for item in accepted(group.end_class, asked))
        ]

    def placed(self, flow: Any) -> dict[int, int]:
        """By position of a link end the position of its group, where it found one."""
        return {number: position for arc, (number, position) in self._says.items() if flow.flow(arc)}


def worth_of(links: Iterable[Link]) -> dict[str, int]:
    """What each link is worth: one that is critical more than all others together."""
    links = tuple(links)
    all_others = 1 + sum(link.weight for link in links)
    return {link.id: link.weight + link.critical * all_others for link in links}
