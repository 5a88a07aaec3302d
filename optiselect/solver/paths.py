"""Which chains of runs join the two devices of a link: one run, or several through panels, all of one medium."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from functools import cached_property

from optiselect.model.network import Link, Network, Panel, Run, Site
from optiselect.rules.fitted import Path

MOST_PATHS = 64
"""A link that may use any path is offered at most this many, the shortest first; the plan says so when more were there."""
_MOST_STEPS = 20_000
_NONE: frozenset[int] = frozenset()
KnownSites = dict[tuple[int, ...], tuple[Site | None, ...]]
"""The sites of a path by their identity, good as long as the network is kept."""
_ONE_RUN: tuple[tuple[bool], tuple[bool]] = (False,), (True,)


class Paths:
    """The paths of a network.

    Args:
        before: those of a network with the same panels; a run that is in both is where it was there, and what is new ends at no panel.
    """

    def __init__(self, network: Network, before: Paths | None = None) -> None:
        self._network, self._before = network, before
        self._found: dict[tuple[str, str], tuple[tuple[Path, ...], bool]] = {}
        self._panels_of: dict[str, frozenset[int]] = {}
        self._sites: KnownSites = {}
        self.cut: set[str] = set()
        """Ids of links for which more paths exist than were offered."""

    @cached_property
    def _ids_between(self) -> Mapping[str, str | list[str]]:
        """The run between two places, or the runs, sorted."""
        runs = self._network.run_by_id
        if self._before is not None:
            return self._before._with_runs({run_id: runs[run_id] for run_id in sorted(runs.keys() - self._before._network.run_by_id.keys())})
        between: dict[str, str | list[str]] = {}
        for run_id in sorted(runs):
            places = _between(*runs[run_id].ends)
            others = between.get(places)
            if others is None:
                between[places] = run_id
            elif isinstance(others, str):
                between[places] = [others, run_id]
            else:
                others.append(run_id)
        return between

    def _with_runs(self, more: Mapping[str, Run]) -> Mapping[str, str | list[str]]:
        """The runs between two places, with these as well."""
        if not more:
            return self._ids_between
        between = dict(self._ids_between)
        for run_id, run in more.items():
            places = _between(*run.ends)
            others = between.get(places, [])
            between[places] = sorted([*([others] if isinstance(others, str) else others), run_id]) if others else run_id
        return between

    @cached_property
    def _ids_to_panel(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """From each place the runs that end at a panel, with the panel, sorted."""
        if self._before is not None:
            return self._before._ids_to_panel
        to_panel: dict[str, list[tuple[str, str]]] = defaultdict(list)
        runs, panels = self._network.run_by_id, self._network.panel_by_id
        for run_id in sorted(runs) if panels else ():
            first, second = runs[run_id].ends
            if second in panels:
                to_panel[first].append((run_id, second))
            if first in panels:
                to_panel[second].append((run_id, first))
        return {place: tuple(its) for place, its in to_panel.items()}

    @cached_property
    def _panels_joined(self) -> Mapping[str, int]:
        """A number for each panel: the same for panels that runs join, over other panels or at once."""
        if self._before is not None:
            return self._before._panels_joined
        numbers: dict[str, int] = {}
        for panel in self._network.panel_by_id:
            number, here = len(numbers), [panel]
            while here:
                place = here.pop()
                if place not in numbers:
                    numbers[place] = number
                    here += [there for _, there in self._ids_to_panel.get(place, ())]
        return numbers

    def _panels_at(self, place: str) -> frozenset[int]:
        """The numbers of the panels that runs from a place lead to."""
        if place not in self._panels_of and place in self._ids_to_panel:
            self._panels_of[place] = frozenset([self._panels_joined[panel] for _, panel in self._ids_to_panel[place]])
        return self._panels_of.get(place, _NONE)

    def _runs_between(self, here: str, there: str) -> list[Run]:
        runs = self._network.run_by_id
        found = self._ids_between.get(_between(here, there), ())
        return [runs[run_id] for run_id in ((found,) if isinstance(found, str) else found) if run_id in runs]

    def _to_panel(self, here: str) -> list[tuple[Run, str]]:
        runs = self._network.run_by_id
        return [(runs[run_id], there) for run_id, there in self._ids_to_panel.get(here, ()) if run_id in runs]

    def of(self, link: Link) -> tuple[Path, ...]:
        """The paths that a link may use: the stated chain, or every chain between its devices, shortest first."""
        places = link.devices
        if link.over is not None:
            return (path_over(self._network, [self._network.run_by_id[run_id] for run_id in link.over], places[0], self._sites),)
        its = self._found.get(places)
        if its is None:
            its = self._search(*places)
            if len(its[0]) > 1:  # else it is found again as quickly
                self._found[places] = its
        paths, is_all = its
        if not is_all:
            self.cut.add(link.id)
        return paths

    def _search(self, start: str, goal: str) -> tuple[tuple[Path, ...], bool]:
        """The paths between two devices that are offered, and whether there are no more."""
        is_all, found = True, [[run] for run in self._runs_between(start, goal)]
        panels = self._panels_at(start) & self._panels_at(goal)
        if panels:  # else none joins them
            found = []
            for steps, chain in enumerate(self._chains(start, goal, panels)):
                if chain is not None:
                    found.append(chain)
                if steps >= _MOST_STEPS:
                    is_all = False
                    break
        if len(found) > 1:
            found.sort(key=lambda chain: (sum(run.length_m for run in chain), [run.id for run in chain]))
        return tuple([path_over(self._network, chain, start, self._sites) for chain in found[:MOST_PATHS]]), is_all and len(found) <= MOST_PATHS

    def _chains(self, start: str, goal: str, panels: Set[int]) -> Iterator[list[Run] | None]:
        """Yield every chain over these panels that visits no place twice; None for a step that leads nowhere, so that the caller can count."""
        stack: list[tuple[str, list[Run], frozenset[str]]] = [(start, [], frozenset([start]))]
        while stack:
            here, chain, seen = stack.pop()
            yield None
            yield from ([*chain, run] for run in self._runs_between(here, goal) if not chain or _same_medium(chain[0], run))
            for run, there in reversed(self._to_panel(here)):
                if there not in seen and self._panels_joined[there] in panels and (not chain or _same_medium(chain[0], run)):
                    stack.append((there, [*chain, run], seen | {there}))


def _between(first: str, second: str) -> str:
    """A name for two places, which no slash is in."""
    return f"{first}/{second}" if first < second else f"{second}/{first}"


def path_over(network: Network, chain: Sequence[Run], start: str, known: KnownSites | None = None) -> Path:
    """The path over runs that follow one another from a device; what joins two of them is a panel.

    `known`: the sites of other paths of this network, to be shared: few differ.
    """
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
    turned = _ONE_RUN[flipped[0]] if len(flipped) == 1 else tuple(flipped)
    along = tuple(sites)
    if known is not None:
        along = known.setdefault(tuple(map(id, sites)), along)
    return Path(tuple(chain), turned, tuple(panels), along)


def _site_of(network: Network, place: str) -> Site | None:
    there = network.device_by_id.get(place) or network.panel_by_id.get(place)
    return network.site_by_id.get(there.site) if there is not None and there.site else None


def _same_medium(first: Run, second: Run) -> bool:
    if first.fiber is not None or second.fiber is not None:
        return first.fiber is not None and second.fiber is not None
    assert first.copper and second.copper  # a run is of fiber or of copper
    kinds = {"single-pair", "coax"}
    return first.copper.category == second.copper.category or not kinds & {first.copper.category, second.copper.category}
