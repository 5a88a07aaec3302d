"""Which chains of runs join the two devices of a link: one run, or several through panels, all of one medium."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from optiselect.model.network import Link, Network, Panel, Run, Site
from optiselect.rules.fitted import Path

MOST_PATHS = 64
"""A link that may use any path is offered at most this many, the shortest first; the plan says so when more were there."""
_MOST_STEPS = 20_000


class Paths:
    """The paths of a network."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._to_panel: dict[str, list[tuple[Run, str]]] = defaultdict(list)
        self._between: dict[tuple[str, str], list[Run]] = defaultdict(list)
        for run in sorted(network.runs, key=lambda run: run.id):
            for here, there in (run.ends, run.ends[::-1]):
                self._between[here, there].append(run)
                if there in network.panel_by_id:
                    self._to_panel[here].append((run, there))
        self._found: dict[tuple[str, str], tuple[tuple[Path, ...], bool]] = {}
        self.cut: set[str] = set()
        """Ids of links for which more paths exist than were offered."""

    def of(self, link: Link) -> tuple[Path, ...]:
        """The paths that a link may use: the stated chain, or every chain between its devices, shortest first."""
        places = link.devices
        if link.over is not None:
            return (path_over(self._network, [self._network.run_by_id[run_id] for run_id in link.over], places[0]),)
        if places not in self._found:
            self._found[places] = self._search(*places)
        paths, is_all = self._found[places]
        if not is_all:
            self.cut.add(link.id)
        return paths

    def _search(self, start: str, goal: str) -> tuple[tuple[Path, ...], bool]:
        """The paths between two devices that are offered, and whether there are no more."""
        is_all, found = True, [[run] for run in self._between.get((start, goal), ())]
        if start in self._to_panel and goal in self._to_panel:  # else no panel joins them
            found = []
            for steps, chain in enumerate(self._chains(start, goal)):
                if chain is not None:
                    found.append(chain)
                if steps >= _MOST_STEPS:
                    is_all = False
                    break
        if len(found) > 1:
            found.sort(key=lambda chain: (sum(run.length_m for run in chain), [run.id for run in chain]))
        return tuple(path_over(self._network, chain, start) for chain in found[:MOST_PATHS]), is_all and len(found) <= MOST_PATHS

    def _chains(self, start: str, goal: str) -> Iterator[list[Run] | None]:
        """Yield every chain that visits no place twice; None for a step that leads nowhere, so that the caller can count."""
        stack: list[tuple[str, list[Run], frozenset[str]]] = [(start, [], frozenset([start]))]
        while stack:
            here, chain, seen = stack.pop()
            yield None
            yield from ([*chain, run] for run in self._between.get((here, goal), ()) if not chain or _same_medium(chain[0], run))
            for run, there in reversed(self._to_panel.get(here, ())):
                if there not in seen and (not chain or _same_medium(chain[0], run)):
                    stack.append((there, [*chain, run], seen | {there}))


def path_over(network: Network, chain: Sequence[Run], start: str) -> Path:
    """The path over runs that follow one another from a device; what joins two of them is a panel."""
    here = start
    flipped: list[bool] = []
    sites = [_site_of(network, here)]
    panels: list[Panel] = []
    for run in chain:
        first, second = run.ends
        flipped.append(first != here)
        here = first if first != here else second
        sites.append(_site_of(network, here))
        if here in network.panel_by_id:
            panels.append(network.panel_by_id[here])
    return Path(tuple(chain), tuple(flipped), tuple(panels), tuple(sites))


def _site_of(network: Network, place: str) -> Site | None:
    there = network.device_by_id.get(place) or network.panel_by_id.get(place)
    return network.site_by_id.get(there.site) if there is not None and there.site else None


def _same_medium(first: Run, second: Run) -> bool:
    if first.fiber is not None or second.fiber is not None:
        return first.fiber is not None and second.fiber is not None
    assert first.copper and second.copper  # a run is of fiber or of copper
    kinds = {"single-pair", "coax"}
    return first.copper.category == second.copper.category or not kinds & {first.copper.category, second.copper.category}
