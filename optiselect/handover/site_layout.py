"""Where things stand on the map of a site: buildings in columns around the busiest one, devices and panels as rows of their building.

The same network gives the same map; no coordinates are asked for, and none are shown: it is a map of what is joined, not of distances.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass

from optiselect.model.network import Network

ROW, HEAD, WIDTH = 17.0, 20.0, 158.0
"""Height of a device, height of a building's heading, width of a building."""
_GAP_X, _GAP_Y = 150.0, 16.0


@dataclass(frozen=True)
class Spot:
    """A device or panel: its building's left edge, and the middle of its row."""

    left: float
    y: float
    is_panel: bool


@dataclass(frozen=True)
class Building:
    """A building (or a site, or what states no site) as a box."""

    title: str
    x: float
    y: float
    height: float


@dataclass(frozen=True)
class Layout:
    """The map: buildings, places by device or panel id, and its extent."""

    buildings: tuple[Building, ...]
    spots: dict[str, Spot]
    width: float
    height: float


def layout_of(network: Network) -> Layout:
    """Lay out a network."""
    zones = zones_of(network)
    near = _neighbors(network, zones)
    columns = _columns(zones, near)
    buildings: list[Building] = []
    spots: dict[str, Spot] = {}
    heights = {zone: HEAD + ROW * len(places) + 5 for zone, places in zones.items()}
    tallest = max((sum(heights[zone] + _GAP_Y for zone in column) for column in columns), default=0.0)
    for place, column in enumerate(columns):
        x = place * (WIDTH + _GAP_X)
        spare = tallest - sum(heights[zone] for zone in column)
        gap = min(spare / (len(column) + 1), 70.0) if column else 0.0
        y = (spare - gap * (len(column) - 1)) / 2
        for zone in column:
            buildings.append(Building(zone, x, y, heights[zone]))
            for row, name in enumerate(zones[zone]):
                spots[name] = Spot(x, y + HEAD + ROW * (row + 0.5), name in network.panel_by_id)
            y += heights[zone] + gap
    return Layout(tuple(buildings), spots, max(0.0, len(columns) * (WIDTH + _GAP_X) - _GAP_X), tallest)


def zones_of(network: Network) -> dict[str, list[str]]:
    """Devices and panels by building, each sorted; what names no site stands together."""
    zones: dict[str, list[str]] = defaultdict(list)
    placed = [(panel.id, panel.site) for panel in network.panels] + [(device.id, device.site) for device in network.devices]
    for name, site_id in sorted(placed):
        site = network.site_by_id.get(site_id) if site_id else None
        zones[(site.building or site.id) if site else "no site stated"].append(name)
    return dict(sorted(zones.items()))


def _neighbors(network: Network, zones: dict[str, list[str]]) -> dict[str, dict[str, int]]:
    """How many runs, and links that are wanted, join each two buildings."""
    zone_of = {name: zone for zone, names in zones.items() for name in names}
    near: dict[str, dict[str, int]] = {zone: defaultdict(int) for zone in zones}
    pairs = [run.ends for run in network.runs] + [link.devices for link in network.wanted]
    for a, b in ((zone_of[one], zone_of[two]) for one, two in pairs):
        if a != b:
            near[a][b] += 1
            near[b][a] += 1
    return near


def _columns(zones: dict[str, list[str]], near: dict[str, dict[str, int]]) -> list[list[str]]:
    """Columns from left to right: the busiest building in the middle, its neighbors to both sides, theirs further out."""
    side_of: dict[str, int] = {}
    load: dict[int, int] = defaultdict(int)
    for start in sorted(zones, key=lambda zone: (-sum(near[zone].values()), -len(zones[zone]), zone)):
        if start in side_of:
            continue
        _place(start, 0, zones, side_of, load)
        queue = deque([start])
        while queue:
            here = queue.popleft()
            for there in sorted(near[here], key=lambda zone: (-near[here][zone], zone)):
                if there not in side_of:
                    at = side_of[here]
                    column = (1 if load[1] <= load[-1] else -1) if at == 0 else at + (1 if at > 0 else -1)
                    _place(there, column, zones, side_of, load)
                    queue.append(there)
    members: dict[int, list[str]] = defaultdict(list)
    for zone in zones:
        members[side_of[zone]].append(zone)
    return _ordered(members, near)


def _place(zone: str, column: int, zones: dict[str, list[str]], side_of: dict[str, int], load: dict[int, int]) -> None:
    side_of[zone] = column
    load[column] += len(zones[zone]) + 2


def _ordered(members: dict[int, list[str]], near: dict[str, dict[str, int]]) -> list[list[str]]:
    """Within each column by the mean place of the neighbors nearer to the middle, so that fewer lines cross."""
    place: dict[str, float] = {}
    for column in sorted(members, key=lambda column: (abs(column), column)):
        names = members[column]
        means = {zone: _mean_place(near[zone], place) for zone in names}
        names.sort(key=lambda zone: (means[zone], zone))
        place |= {zone: (index + 0.5) / len(names) for index, zone in enumerate(names)}
    return [members[column] for column in sorted(members)]


def _mean_place(near: dict[str, int], place: dict[str, float]) -> float:
    """The mean place, from 0 at the top to 1, of those neighbors that have one; the middle where none has."""
    known = [(place[other], count) for other, count in near.items() if other in place]
    return sum(at * count for at, count in known) / sum(count for _, count in known) if known else 0.5
