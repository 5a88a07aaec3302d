"""From the options of links to the rows of the choice: clusters joined up, equal lists put together."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence

from optiselect.model.network import Link
from optiselect.solver.choice import SUM_OF, Name, Row, settled_first
from optiselect.solver.clusters import Clusters, Member, Shapes, Way, components
from optiselect.solver.option import OptionList
from optiselect.solver.scarce import Resource


def rows_of(
    links: Sequence[Link],
    options: Mapping[str, OptionList],
    capacity: Mapping[Resource, int],
    apart: Sequence[tuple[Resource, Resource]],
    objectives: Sequence[Name],
    counted: tuple[int, ...],
    *,
    spares: bool,
    shapes: Shapes,
    in_haste: Callable[[], bool],
) -> tuple[Row, ...]:
    """The rows of all links that have options; a cluster too large to list stays as single links that count resources.

    `counted`: places in `Way.sums` that matter. `in_haste`: says when there is no time to list clusters.
    `shapes` is filled here and of use to the next call for the same network, catalog and policy.
    """
    settled = [SUM_OF[name] for name in settled_first(objectives, spares)]
    clusters = Clusters(capacity, apart, settled, counted, count_units=spares, shapes=shapes)
    rows: dict[tuple[Way, ...], list[tuple[str, ...]]] = {}
    units_of: dict[int, tuple[Sequence[Way], list[tuple[str, ...]]]] = {}

    def add(members: Sequence[Member], ways: Sequence[Way]) -> None:
        if id(ways) not in units_of:
            units_of[id(ways)] = ways, rows.setdefault(tuple(ways), [])
        units_of[id(ways)][1].append(tuple(member.link for member in members))

    plain: dict[Hashable, Sequence[Way]] = {}
    joined: list[Member] = []
    for link in sorted(links, key=lambda link: link.id):
        found = options.get(link.id)
        if found is None:
            continue
        member = Member(link.id, found, link.critical, link.weight)
        if member.resources:
            joined.append(member)
            continue
        key = ("alone", id(found.options), link.critical, link.weight)
        if key not in plain:
            plain[key] = clusters.ways([member]) or []
        add([member], plain[key])
    for cluster in components(joined, apart):
        ways = clusters.ways(cluster) if not in_haste() else None
        if ways is not None:
            add(cluster, ways)
            continue
        for member in cluster:
            single = _alone(member)
            add([member], single)
    return tuple(Row(tuple(units), ways) for ways, units in sorted(rows.items(), key=lambda item: item[1]))


def _alone(member: Member) -> list[Way]:
    """A link of a cluster that is too large to list, by itself and counting what it uses."""
    own = (-int(member.critical), -member.weight)
    return [Way((index,), (*own, *option.measures()), option.parts, option.names, member.found.uses(option)) for index, option in enumerate(member.options)]
