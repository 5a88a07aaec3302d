"""What each end may be fitted with: port groups, end classes, and the fittings that pass the rules of one end.

Ports of a device that are alike and named by nobody are one group with a count. Ends that the rules of one end cannot
tell apart share an end class, so that each part is tried once a class, not once a port.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count
from typing import Literal

from optiselect.model.catalog import Catalog, Converter, Module, Optics
from optiselect.model.network import Cage, CopperPort, Device, FixedOptic, Network, SharedPort, Site
from optiselect.model.policy import Policy
from optiselect.model.terms import FORM_TAKES, RATES, Form, Medium, Rate
from optiselect.rules import END_RULES
from optiselect.rules.fitted import Asked, FittedEnd
from optiselect.solver.port_kinds import Port, natural, rates_of, spec_of
from optiselect.standards.transceiver import Transceiver, transceiver

TEN_THOUSANDTHS = 10_000
"""In one unit of the currency: sums of prices are whole numbers of these."""


@dataclass(frozen=True, eq=False)
class Fit:
    """One way to fit an end, by itself: a module, a fixed optic or the copper socket, perhaps behind a converter.

    Attributes:
        key: names it whatever its price: fittings of one key differ in prices only.
        parts: the part numbers that it uses up, sorted.
        price: what they cost, in ten-thousandths of the currency.
        light_id: index of its figures among `Fittings.lights`; -1 for a bare copper socket.
        power_w: what the module draws from the device; 0 where no module of the catalog is in a cage of the device.
    """

    key: Hashable
    fitting: Literal["module", "fixed", "copper"]
    light: Transceiver | None
    light_id: int
    module: Module | None = None
    converter: Converter | None = None
    parts: tuple[str, ...] = ()
    price: int = 0
    power_w: float = 0.0


@dataclass(frozen=True)
class Accepted:
    """A fitting that passes the rules of its end; `unknown`: some rule could not be checked for want of a figure."""

    fit: Fit
    unknown: bool


@dataclass(frozen=True, eq=False, slots=True)
class PortGroup:
    """Ports of one device that are alike.

    Attributes:
        index: position among the device's groups; groups of ports that nobody names come first.
        names: port ids in natural order.
        end_class: index of its end class.
        installed: part number in the cage (then the group is that one port).
        resource: the name of its count as a resource.
    """

    device: Device
    index: int
    port: Port
    names: tuple[str, ...]
    end_class: int
    installed: str | None = None
    resource: tuple[str, str, int] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "resource", ("ports", self.device.id, self.index))


@dataclass(frozen=True, eq=False)
class EndClass:
    """What the rules of one end look at: one representative end stands for all."""

    device: Device
    site: Site | None
    port: Port
    port_id: str
    installed: str | None


def is_fed(fit: Fit, group: PortGroup) -> bool:
    """Whether the device feeds the module at all."""
    return not fit.power_w or group.device.module_power_w is None or fit.power_w <= group.device.module_power_w


def stays(fit: Fit, group: PortGroup) -> bool:
    """Whether an option keeps the module that is in place, so that it is not bought again."""
    return fit.module is not None and fit.converter is None and group.installed == fit.module.part


def in_ten_thousandths(price: float | None) -> int:
    """A price as a whole number of ten-thousandths of the currency; a missing price counts as 0."""
    return 0 if price is None else round(price * TEN_THOUSANDTHS)


class Fittings:
    """The port groups of every device and, by end class, rate and medium, what an end may be fitted with."""

    def __init__(self, network: Network, catalog: Catalog, policy: Policy) -> None:
        self._network = network
        self._catalog = catalog
        self._policy = policy
        self._excluded = frozenset(policy.exclude_parts)
        self._modules = sorted((m for m in catalog.modules if m.part not in self._excluded), key=lambda m: m.part)
        self._by_form: dict[Form | None, list[Module]] = defaultdict(list)
        for module in self._modules:
            self._by_form[module.form].append(module)
        self._converters = sorted((c for c in catalog.converters if c.part not in self._excluded), key=lambda c: c.part)
        self._named: set[str] = {end for link in network.wanted for end in link.ends if "/" in end} | set(network.installed)
        self._class_of: dict[Hashable, int] = {}
        self.classes: list[EndClass] = []
        self.lights: list[Transceiver] = []
        self._light_ids: dict[Hashable, int] = {}
        self._fits: dict[Hashable, Fit] = {}
        self._accepted: dict[Hashable, tuple[Accepted, ...]] = {}
        self._groups: dict[str, tuple[PortGroup, ...]] = {}
        self._all_accepted: dict[Hashable, tuple[Accepted, ...]] = {}
        self._numbers: dict[Hashable, int] = {}
        self._counter = count()
        self._numbered: dict[int, tuple[tuple[Accepted, ...], int]] = {}
        self._number_lights()

    def _number_lights(self) -> None:
        """Number every light that there can be, so that its number does not depend on which link asks first."""
        asked, fixed = self._lights_at_ports
        for rate in (rate for rate in RATES if rate in asked):
            for module in self._modules:
                self._module(module, rate, None)
            for converter in self._converters:
                if converter.optic is not None:
                    self._fixed(converter.optic, rate, converter)
            for optic in fixed:
                self._fixed(optic, rate, None)

    @cached_property
    def _lights_at_ports(self) -> tuple[frozenset[Rate], list[Optics]]:
        """The rates of all ports, and their fixed optics, each once, in the order of the devices' ids."""
        ports = [port for device in sorted(self._network.devices, key=lambda device: device.id) for port in device.ports]
        rates = frozenset(rate for port in ports for rate in rates_of(port))
        return rates, list(dict.fromkeys(port.optic for port in ports if isinstance(port, FixedOptic)))

    def groups(self, device_id: str) -> tuple[PortGroup, ...]:
        """The port groups of a device, sorted: unnamed ports first, then those that a link or a module names."""
        if device_id not in self._groups:
            self._groups[device_id] = self._group(self._network.device_by_id[device_id])
        return self._groups[device_id]

    def _group(self, device: Device) -> tuple[PortGroup, ...]:
        site = self.site_of(device)
        gathered: dict[tuple[Hashable, str | None], tuple[Port, list[str]]] = {}
        for port in device.ports:
            spec = spec_of(port)
            for name in port.names:
                key = spec, name if f"{device.id}/{name}" in self._named else None
                if key not in gathered:
                    gathered[key] = port, []
                gathered[key][1].append(name)
        rows = [(name, spec, port, sorted(names, key=natural) if len(names) > 1 else names) for (spec, name), (port, names) in gathered.items()]
        if len(rows) > 1:
            rows.sort(key=lambda row: (row[0] is not None, natural(row[3][0])))
        keep = self._policy.keep_installed != "no"
        groups = []
        for index, (named, spec, port, names) in enumerate(rows):
            installed = self._network.installed.get(f"{device.id}/{named}") if named and keep else None
            kind = device.accepts, site.ambient_c if site else None, spec, installed
            if kind not in self._class_of:
                self._class_of[kind] = len(self.classes)
                self.classes.append(EndClass(device, site, port, names[0], installed))
            groups.append(PortGroup(device, index, port, tuple(names), self._class_of[kind], installed))
        return tuple(groups)

    def accepted(self, end_class: int, asked: Asked) -> tuple[Accepted, ...]:
        """What an end of this class may be fitted with at the rate and on the medium asked; parts in order."""
        key = (end_class, asked.rate, asked.path.medium, asked.waived)
        if key not in self._accepted:
            self._accepted[key] = tuple(self._passing(self.classes[end_class], asked))
        return self._accepted[key]

    def accepted_number(self, end_class: int, asked: Asked) -> int:
        """A number for what `accepted` returns, whatever it costs: ends of one number are accepted the same."""
        found = self.accepted(end_class, asked)
        if id(found) not in self._numbered:
            content = tuple([(item.fit.key, item.unknown) for item in found])
            self._numbered[id(found)] = found, self.number(content)
        return self._numbered[id(found)][1]

    def number(self, content: Hashable) -> int:
        """A number for anything: the same for what is equal."""
        return self._numbers.setdefault(content, next(self._counter))  # threads may ask at once: no number is given twice

    def leave_out(self, parts: frozenset[str]) -> None:
        """Leave out these parts from what has been accepted so far (see `replaced`)."""
        self._all_accepted = dict(self._accepted)
        for key, found in self._accepted.items():
            self._accepted[key] = tuple(item for item in found if parts.isdisjoint(item.fit.parts))

    def repriced(self, catalog: Catalog, parts: frozenset[str]) -> Fittings:
        """The same, nothing left out, with a catalog in which modules and converters of these part numbers have other prices and no more.

        Everything but what is fitted with these parts is shared.
        """
        other = copy(self)
        other._catalog = catalog
        other._numbered = {}
        fits = {id(fit): other._at_new_price(fit) for fit in self._fits.values() if not parts.isdisjoint(fit.parts)}
        other._fits = {key: fits.get(id(fit), fit) for key, fit in self._fits.items()}
        other._accepted = {
            key: tuple(Accepted(fits[id(item.fit)], item.unknown) if id(item.fit) in fits else item for item in found)
            for key, found in self._all_accepted.items()
        }
        return other

    def of(self, network: Network) -> Fittings | None:
        """The same for a network of other devices, or of fewer, where those in both are the same; None where lights would be numbered otherwise."""
        if network.devices == self._network.devices and network.sites == self._network.sites:
            return self
        other = copy(self)
        other._network = network
        other.__dict__.pop("_lights_at_ports", None)
        if other._lights_at_ports != self._lights_at_ports:
            return None
        other._class_of, other.classes = dict(self._class_of), list(self.classes)
        other._groups = {device_id: groups for device_id, groups in self._groups.items() if device_id in network.device_by_id}
        return other

    def at_this_price(self, fit: Fit) -> Fit:
        """The fitting of that key."""
        return self._fits[fit.key]

    def _at_new_price(self, fit: Fit) -> Fit:
        module = self._catalog.module_by_part[fit.module.part] if fit.module else None
        converter = self._catalog.converter_by_part[fit.converter.part] if fit.converter else None
        return replace(fit, module=module, converter=converter, price=sum(in_ten_thousandths(item.price) for item in (module, converter) if item is not None))

    def _passing(self, end_class: EndClass, asked: Asked) -> Iterable[Accepted]:
        rules = [rule for rule in END_RULES if rule.id not in asked.waived]
        for fit in self.candidates(end_class.port, asked.rate, asked.path.medium):
            end = self.fitted(end_class, fit)
            unknown = False
            for breach in (breach for rule in rules for breach in rule.check(end, asked)):
                if not breach.unknown:
                    break
                unknown = True
            else:
                yield Accepted(fit, unknown)

    def fitted(self, end_class: EndClass, fit: Fit) -> FittedEnd:
        """The representative end of a class with a fitting, as the rules see it."""
        return FittedEnd(
            end_class.device,
            end_class.site,
            end_class.port_id,
            end_class.port,
            fit.fitting,
            fit.light,
            fit.module,
            fit.converter,
            installed=end_class.installed,
        )

    def site_of(self, device: Device) -> Site | None:
        """The site of a device, None where it states none."""
        return self._network.site_by_id.get(device.site) if device.site else None

    def candidates(self, port: Port, rate: Rate, medium: Medium) -> Iterable[Fit]:
        """Every fitting that a port could be tried with, whether or not it passes; modules of a form that cannot enter are left out."""
        match port:
            case Cage():
                yield from self._modules_in(port.form, rate)
            case SharedPort():
                yield self._socket()
                yield from self._modules_in(port.form, rate)
                yield from self._converted(rate, medium)
            case FixedOptic():
                yield self._fixed(port.optic, rate, None)
            case CopperPort():  # pragma: no branch - the last of four kinds
                yield self._socket()
                yield from self._converted(rate, medium)

    def _converted(self, rate: Rate, medium: Medium) -> Iterable[Fit]:
        """What a copper socket could be tried with behind a converter."""
        if medium == "fiber" and self._policy.allow_converters:
            for converter in self._converters:
                if converter.optic is not None:
                    yield self._fixed(converter.optic, rate, converter)
                elif converter.form is not None:  # pragma: no branch - a converter has one of the two
                    yield from self._modules_in(converter.form, rate, converter)

    def _modules_in(self, form: Form, rate: Rate, converter: Converter | None = None) -> Iterable[Fit]:
        for taken in (*FORM_TAKES[form], None):
            for module in self._by_form[taken]:
                yield self._module(module, rate, converter)

    def _socket(self) -> Fit:
        return self._fits.setdefault("socket", Fit("socket", "copper", None, -1))

    def _module(self, module: Module, rate: Rate, converter: Converter | None) -> Fit:
        key = (module.part, rate, converter.part if converter else None)
        if key not in self._fits:
            light = transceiver(module, rate)
            parts = (module.part,) if converter is None else tuple(sorted((module.part, converter.part)))
            price = in_ten_thousandths(module.price) + in_ten_thousandths(converter.price if converter else None)
            power_w = (module.power_w or 0.0) if converter is None else 0.0
            self._fits[key] = Fit(key, "module", light, self._light_id(light), module, converter, parts, price, power_w)
        return self._fits[key]

    def _fixed(self, optic: Optics, rate: Rate, converter: Converter | None) -> Fit:
        key = ("fixed", optic, rate, converter.part if converter else None)
        if key not in self._fits:
            light = transceiver(self.figures_of(optic), rate)
            parts = (converter.part,) if converter else ()
            price = in_ten_thousandths(converter.price) if converter else 0
            self._fits[key] = Fit(key, "fixed", light, self._light_id(light), None, converter, parts, price)
        return self._fits[key]

    def figures_of(self, optic: Optics) -> Optics:
        """The figures of a fixed optic: its own, or those of the catalog part that it names."""
        return named_part(optic, self._catalog)

    def _light_id(self, light: Transceiver) -> int:
        key = figures_key(light)
        if key not in self._light_ids:
            self._light_ids[key] = len(self.lights)
            self.lights.append(light)
        return self._light_ids[key]


def named_part(optic: Optics, catalog: Catalog) -> Optics:
    """A fixed optic's figures, filled in from the catalog part that it names; what it states itself stands."""
    module = catalog.module_by_part.get(optic.part) if optic.part else None
    if module is None:
        return optic
    own = {key: getattr(optic, key) for key in optic.model_fields_set}
    shared = {key: getattr(module, key) for key in Optics.model_fields if key in module.model_fields_set}
    return Optics(**(shared | own))


def discrete_key(light: Transceiver) -> Hashable:
    """What the pair rules look at: no powers, no lengths."""
    return (
        light.medium,
        light.mode,
        light.strands,
        light.connector,
        light.tx_nm,
        light.rx_nm,
        light.role,
        light.pairs_with,
        light.standard,
        light.conditioning,
        frozenset(light.reach_m) if light.reach_m is not None else None,
    )


def figures_key(light: Transceiver) -> Hashable:
    """What the rules of a pair or a path look at: two lights of one key serve the same links."""
    return (
        discrete_key(light),
        light.tx_dbm_by_core,
        light.rx_dbm,
        light.own_powers,
        light.own_sensitivity,
        light.penalty_db,
        light.standard_penalty_db,
        light.reach_m,
        light.channel_loss_db,
        light.dispersion_ps_nm,
        light.throughput_mbit_s,
    )
