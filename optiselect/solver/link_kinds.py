"""Which links are alike in all that decides their options, what can run short aside: worked out once, for every listing.

Links of one kind are served by the same pairs in the same way over as many paths of as many runs, and at either end the same fittings
can go into the same order of port groups.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from optiselect.model.terms import Rate
from optiselect.solver.fittings import Fittings, PortGroup
from optiselect.solver.option import LinkRows, Sheet


class LinkKinds:
    """Numbers the kinds of links of one preparation.

    Args:
        sheets: of the preparation, which may add to them. each_alone: whether no link is like another (the user's own rules look at anything).
    """

    def __init__(self, fittings: Fittings, sheets: Sequence[Sheet], *, each_alone: bool) -> None:
        self._fittings, self._sheets, self._each_alone = fittings, sheets, each_alone
        self._numbers: dict[Rate, dict[str, int]] = defaultdict(dict)
        self._sides: dict[int, int] = {}
        self._offers: dict[tuple[int, int], int] = {}

    def number(self, rows: LinkRows) -> int:
        """A number for the kind of a link at its rate: equal for links of one kind."""
        numbers, link_id = self._numbers[rows.rate], rows.link.id
        if link_id not in numbers:
            places = []
            for sheet_index, row in rows.places:
                sheet = self._sheets[sheet_index]
                path = sheet.paths[row]
                offers = self._offered(rows.groups[0], sheet), self._offered(rows.groups[1], sheet)
                places.append((sheet.served[row], len(path.run_ids), path.medium == "fiber", *offers))
            numbers[link_id] = self._fittings.number((*places, link_id if self._each_alone else None))
        return numbers[link_id]

    def side(self, groups: tuple[PortGroup, ...]) -> int:
        """A number for the port groups of an end, whatever is asked of them; the groups live as long as the preparation."""
        number = self._sides.get(id(groups))
        if number is None:
            number = self._fittings.number(tuple([(group.end_class, group.installed, group.device.module_power_w) for group in groups]))
            self._sides[id(groups)] = number
        return number

    def _offered(self, groups: tuple[PortGroup, ...], sheet: Sheet) -> int:
        """A number for what can be fitted at an end for what a sheet asks, group by group."""
        key = self.side(groups), sheet.asks
        if key not in self._offers:
            accepted = [(self._fittings.accepted_number(group.end_class, sheet.asked), group.installed, group.device.module_power_w) for group in groups]
            self._offers[key] = self._fittings.number(tuple(accepted))
        return self._offers[key]
