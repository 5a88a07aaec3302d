"""What a link can take of what is scarce: along its paths, and at its ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from optiselect.solver.fittings import PortGroup
from optiselect.solver.option import LinkRows, Sheet
from optiselect.solver.scarce import Resource, Scarce


class Along(NamedTuple):
    """What a path takes: the runs of which each strand counts, whatever else counts once, and its runs of fiber."""

    strands: tuple[Resource, ...]
    others: tuple[tuple[Resource, int], ...]
    fibers: int

    @property
    def takes(self) -> bool:
        """Whether anything along it is scarce."""
        return bool(self.strands or self.others)


class Takes:
    """What links can take of these scarce resources."""

    def __init__(self, scarce: Scarce, sheets: Sequence[Sheet]) -> None:
        self._scarce, self._sheets = scarce, sheets
        self._any_at_ends = bool(scarce.ports or scarce.power)
        self._at_sides: dict[int, tuple[Resource | None, ...]] = {}

    def of(self, rows: LinkRows) -> tuple[Resource | None, ...]:
        """What a link can take of what is scarce, in an order that links of one kind share (nothing where it takes none); stock goes by its own name."""
        scarce, sheets = self._scarce, self._sheets
        diverse = rows.link.id in scarce.diverse
        ends = (self._at_side(rows.groups[0]), self._at_side(rows.groups[1])) if self._any_at_ends else ((), ())
        if not (diverse or ends[0] or ends[1]) and not self._along_any(rows):
            return ()
        found: list[Resource | None] = []
        for sheet, row in rows.places:
            for run in sheets[sheet].paths[row].runs:
                found.append(("strands", run.id) if run.id in scarce.strands else ("copper", run.id) if run.id in scarce.copper else None)
                if diverse:
                    found.append(("over", rows.link.id, ("run", run.id)))
                    found += [("over", rows.link.id, ("route", route)) for route in run.routes]
                    found.append(None)
        for side, its in zip(rows.groups, ends, strict=True):
            found += its or (None,) * (len(side) + 1)
        return tuple(found)

    def _along_any(self, rows: LinkRows) -> bool:
        """Whether a run of any path is scarce."""
        strands, copper = self._scarce.strands, self._scarce.copper
        if not strands and not copper:
            return False
        paths = (self._sheets[sheet].paths[row] for sheet, row in rows.places)
        return any(not (strands.isdisjoint(path.run_ids) and copper.isdisjoint(path.run_ids)) for path in paths)

    def _at_side(self, side: tuple[PortGroup, ...]) -> tuple[Resource | None, ...]:
        """What an end can take of what is scarce: ports, group by group, and power; nothing where it takes none."""
        if id(side) not in self._at_sides:
            ports = [group.resource if group.resource in self._scarce.ports else None for group in side]
            power = ("power", side[0].device.id) if side and side[0].device.id in self._scarce.power else None
            self._at_sides[id(side)] = (*ports, power) if power is not None or any(ports) else ()
        return self._at_sides[id(side)]

    def along(self, rows: LinkRows, path_index: int) -> Along:
        """What is scarce along a path."""
        scarce = self._scarce
        sheet, row = rows.places[path_index]
        path = self._sheets[sheet].paths[row]
        others: list[tuple[Resource, int]] = [(("copper", run.id), 1) for run in path.runs if run.id in scarce.copper]
        if rows.link.id in scarce.diverse:
            elements = [element for run in path.runs for element in (("run", run.id), *(("route", route) for route in run.routes))]
            others += [(("over", rows.link.id, element), 1) for element in dict.fromkeys(elements)]
        strands = tuple(("strands", run.id) for run in path.runs if run.id in scarce.strands)
        return Along(strands, tuple(others), len(path.runs) if path.medium == "fiber" else 0)
