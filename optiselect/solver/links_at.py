"""Which links end at a device. Few devices are asked for, so that of a network that follows another few links are looked at.

Why this changes nothing: a link that is the same as before ends where it did; all others are looked at.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Set
from functools import cached_property

from optiselect.solver.option import LinkRows


class LinksAt:
    """The links of one network that have rows, by where they end.

    Args:
        rows: by link id, in the order of the ids.
        before: of a network that this one follows. same: ids of links that are the same there, and may be more than have rows.
    """

    def __init__(self, rows: Mapping[str, LinkRows], before: LinksAt | None = None, same: frozenset[str] = frozenset()) -> None:
        self._rows, self._before, self._same = rows, before, same

    @cached_property
    def _by_device(self) -> Mapping[str, list[str]]:
        """For those that follow."""
        links: dict[str, list[str]] = defaultdict(list)
        for link_id, row in self._rows.items():
            for device_id in {groups[0].device.id for groups in row.groups}:
                links[device_id].append(link_id)
        return links

    def of(self, devices: Set[str]) -> list[str]:
        """The links that end at any of these devices, in the order of their ids."""
        if not devices:
            return []
        if self._before is None:
            return [link_id for link_id, row in self._rows.items() if _ends_at(row, devices)]
        known = self._before._by_device
        standing = {link_id for device_id in devices for link_id in known.get(device_id, ()) if link_id in self._same and link_id in self._rows}
        return sorted(standing.union(link_id for link_id in self._rows.keys() - self._same if _ends_at(self._rows[link_id], devices)))


def _ends_at(row: LinkRows, devices: Set[str]) -> bool:
    a, b = row.groups
    return a[0].device.id in devices or b[0].device.id in devices
