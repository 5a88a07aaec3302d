"""Which port each end of a link is in, as far as an inventory of what is plugged in tells.

An inventory names modules by port, and a link may name no port. Its port is then found where only one comes into question:
one whose module is of the medium of the link's runs, at the link's rate and of its fiber's mode if any such is there. Ports
that are alike and hold the same stand for one another. What stays open is told, never guessed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass

from optiselect.model.catalog import Catalog
from optiselect.model.network import Device, FixedOptic, Link, Network, SharedPort
from optiselect.model.plan import PlannedEnd
from optiselect.model.terms import RATES, Medium, Rate
from optiselect.rules.fitted import Path
from optiselect.rules.glass import takes_mode
from optiselect.solver.fittings import named_part
from optiselect.solver.port_kinds import natural, spec_of
from optiselect.standards.transceiver import Transceiver, transceiver


@dataclass(frozen=True)
class Plugged:
    """What is known of one end of a link.

    Attributes:
        end: what is in its port; None where the port is empty or not known.
        ports: ids of the ports that come into question, in natural order; of a known port the one.
    """

    end: PlannedEnd | None
    ports: tuple[str, ...] = ()


End = tuple[str, int]
"""A link's id and side."""
Held = tuple[PlannedEnd, ...]
"""The ports that come into question for an end, with what is in them."""


class PluggedIn:
    """What is in the ports of a network, and in which of them each link ends."""

    def __init__(self, network: Network, catalog: Catalog, inventory: Mapping[str, str], paths: Mapping[str, tuple[Path, ...]]) -> None:
        self._network, self._catalog, self._inventory, self._paths = network, catalog, inventory, paths
        self._links = {link.id: link for link in network.wanted}
        self._known: dict[End, Plugged] = {}
        self._taken: dict[str, set[str]] = defaultdict(set)
        open_ends: dict[str, list[End]] = defaultdict(list)
        for link in sorted(network.wanted, key=lambda link: link.id):
            for side in (0, 1):
                port = link.pinned[side]
                if port is None:
                    open_ends[link.devices[side]].append((link.id, side))
                else:
                    self._taken[link.devices[side]].add(port)
                    self._known[link.id, side] = Plugged(self._holds(self._device(link, side), port, self._media(link)), (port,))
        for device_id, ends in open_ends.items():
            self._settle(network.device_by_id[device_id], ends)

    def at(self, link: Link) -> tuple[Plugged, Plugged]:
        """Both ends of a link."""
        return self._known[link.id, 0], self._known[link.id, 1]

    def rates(self, end: PlannedEnd) -> frozenset[Rate]:
        """The rates that a port and what is in it both run; what states none may run any."""
        port = self._network.device_by_id[end.device].port(end.port)
        if isinstance(port, FixedOptic):
            runs: tuple[Rate, ...] = RATES
        else:
            runs = port.copper_rates if isinstance(port, SharedPort) and end.fitting == "copper" else port.rates
        light = self.light(end)
        return frozenset(runs) & frozenset(light.rates or RATES) if light is not None else frozenset(runs)

    def light(self, end: PlannedEnd) -> Transceiver | None:
        """The figures of what is in a port; None for a copper socket."""
        if end.module is not None:
            return transceiver(self._catalog.module_by_part[end.module], "1G")
        port = self._network.device_by_id[end.device].port(end.port)
        return transceiver(named_part(port.optic, self._catalog), "1G") if isinstance(port, FixedOptic) else None

    def medium(self, end: PlannedEnd) -> Medium | None:
        """The medium of what is in a port; None where it is not stated."""
        light = self.light(end)
        return "copper" if light is None else light.medium

    def _device(self, link: Link, side: int) -> Device:
        return self._network.device_by_id[link.devices[side]]

    def _media(self, link: Link) -> frozenset[Medium]:
        return frozenset(path.medium for path in self._paths[link.id])

    def _holds(self, device: Device, port_id: str, media: frozenset[Medium]) -> PlannedEnd | None:
        """What is in a port; its copper socket counts where copper leads to it."""
        part = self._inventory.get(f"{device.id}/{port_id}")
        kind = device.port(port_id).kind
        if part is not None:
            return PlannedEnd(device=device.id, port=port_id, fitting="module", module=part)
        if kind == "fixed":
            return PlannedEnd(device=device.id, port=port_id, fitting="fixed")
        if kind in ("copper", "shared") and "copper" in media:
            return PlannedEnd(device=device.id, port=port_id, fitting="copper")
        return None

    # -- ends that pin no port ------------------------------------------------------------------------------------

    def _settle(self, device: Device, ends: list[End]) -> None:
        """Give ends the only port, or the only kind of port, that is left for them, until nothing more follows."""
        taken = self._taken[device.id]
        asking: dict[Held, list[End]] = defaultdict(list)
        for end in ends:
            asking[self._in_question(device, self._links[end[0]])].append(end)
        while True:
            left = {held: tuple(holding for holding in held if holding.port not in taken) for held in asking}
            follows = [held for held in sorted(asking, key=lambda held: len(left[held])) if self._follows(device, held, left, asking)]
            if not follows:
                break
            held = follows[0]
            wanted_elsewhere = Counter(holding.port for other in asking if other != held for holding in left[other])
            free = sorted(left[held], key=lambda holding: wanted_elsewhere[holding.port])
            for end, holding in zip(asking.pop(held), free, strict=False):
                taken.add(holding.port)
                self._known[end] = Plugged(holding, (holding.port,))
        for held, open_ends in asking.items():
            self._known |= {end: Plugged(None, tuple(holding.port for holding in left[held])) for end in open_ends}

    def _follows(self, device: Device, held: Held, left: Mapping[Held, Held], asking: Mapping[Held, list[End]]) -> bool:
        """Whether the ports in question are all alike, and enough for every end that could only be in one of them."""
        own = {holding.port for holding in left[held]}
        kinds: set[Hashable] = {(spec_of(device.port(holding.port)), holding.fitting, holding.module) for holding in left[held]}
        rivals = sum(len(ends) for other, ends in asking.items() if left[other] and {holding.port for holding in left[other]} <= own)
        return len(kinds) == 1 and rivals <= len(own)

    def _in_question(self, device: Device, link: Link) -> Held:
        media = self._media(link)
        names = sorted((name for name in device.port_by_id if name not in self._taken[device.id]), key=natural)
        held = [holding for name in names if (holding := self._holds(device, name, media)) is not None]
        held = [holding for holding in held if self.medium(holding) in (*media, None)]
        held = _narrowed(held, lambda holding: link.rate is None or link.rate in self.rates(holding))
        return tuple(_narrowed(held, lambda holding: self._suits_fiber(holding, link)))

    def _suits_fiber(self, holding: PlannedEnd, link: Link) -> bool:
        light = self.light(holding)
        return light is None or any(all(takes_mode(light, grade) is not False for grade in path.grades) for path in self._paths[link.id])


def _narrowed(held: list[PlannedEnd], suits: Callable[[PlannedEnd], bool]) -> list[PlannedEnd]:
    """Those that suit, or all where none does: then the wrong one is plugged in, and its rule says so."""
    return [holding for holding in held if suits(holding)] or held
