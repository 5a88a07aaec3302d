"""Which port of a group each link takes, once the options are chosen: lowest port first, links in the order of their ids."""

from __future__ import annotations

from optiselect.solver.fittings import PortGroup


class PortDesk:
    """Hands out the ports of each group, each once."""

    def __init__(self) -> None:
        self._given: dict[PortGroup, int] = {}

    def take(self, group: PortGroup) -> str:
        """The next free port of a group. There is one: ports are counted by the choice, or matched after it (`port_places`)."""
        given = self._given.get(group, 0)
        self._given[group] = given + 1
        return group.names[given]
