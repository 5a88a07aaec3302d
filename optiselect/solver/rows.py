"""From the options of links to the rows of the choice: clusters joined up, equal lists put together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from optiselect.solver.choice import SUM_OF, Name, Row, settled_first
from optiselect.solver.clusters import Clusters, Shapes, Way
from optiselect.solver.joined import Apart, Cluster, Member, Unit
from optiselect.solver.scarce import Resource


def rows_of(
    clusters: Iterable[Cluster],
    capacity: Mapping[Resource, int],
    apart: Apart,
    objectives: Sequence[Name],
    counted: tuple[int, ...],
    *,
    spares: bool,
    shapes: Shapes,
    in_haste: Callable[[], bool],
) -> tuple[Row, ...]:
    """The rows of all clusters; one that is too large to list stays as single links that count resources.

    `counted`: places in `Way.sums` that matter. `in_haste`: says when there is no time to list clusters.
    `shapes` is filled here and of use to the next call for the same network, catalog and policy.
    """
    settled = [SUM_OF[name] for name in settled_first(objectives, spares)]
    listing = Clusters(capacity, apart, settled, counted, count_units=spares, shapes=shapes)
    rows: dict[tuple[Way, ...], list[Unit]] = {}
    units_of: dict[int, tuple[Sequence[Way], list[Unit]]] = {}

    def add(units: Sequence[Unit], ways: Sequence[Way]) -> None:
        if id(ways) not in units_of:
            units_of[id(ways)] = ways, rows.setdefault(tuple(ways), [])
        units_of[id(ways)][1].extend(units)

    several: list[Cluster] = []
    for cluster in clusters:
        if cluster.numbers:
            several.append(cluster)
        else:
            add(cluster.units, listing.ways(cluster) or [])
    for units in rows.values():
        units.sort()
    for cluster in several:
        ways = listing.ways(cluster) if not in_haste() else None
        if ways is not None:
            add(cluster.units, ways)
            continue
        for member in cluster.members:
            add(((member.link,),), _alone(member))
    return tuple(Row(tuple(units), ways) for ways, units in sorted(rows.items(), key=lambda item: item[1]))


def _alone(member: Member) -> list[Way]:
    """A link of a cluster that is too large to list, by itself and counting what it uses."""
    own = (-int(member.critical), -member.weight)
    return [Way((index,), (*own, *option.measures()), option.parts, option.names, member.found.uses(option)) for index, option in enumerate(member.options)]
