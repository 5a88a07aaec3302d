"""Whether a plan or an inventory speaks of this network and this catalog, and of all of it: everything that does not fit, all at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from operator import attrgetter

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.model.plan import Plan, PlannedEnd, PlannedLink


def names_of_plan_exist(plan: Plan, network: Network, catalog: Catalog) -> None:
    """Refuse a plan of another network or catalog, or one that was cut or edited so that it does not tell one thing of each link.

    Raises:
        UnknownNameError: with every link, run, port and part that is not there, every end, run or rate that the network
            states otherwise, and every link of which the plan says nothing or two things.
    """
    links = {link.id: link for link in network.wanted}
    wrong: list[str] = []
    told: set[str] = set()
    for planned in plan.links:
        link = links.get(planned.id)
        if link is None:
            wrong.append(f"there is no link {planned.id!r}")
        elif planned.id in told:
            wrong.append(f"link {planned.id!r} is planned twice")
        else:
            wrong += [f"link {planned.id!r}: {fault}" for fault in _faults_of_link(planned, link, network, catalog)]
        told.add(planned.id)
    wrong += _faults_of_unserved(plan, links)
    kinds = (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators)
    parts = {item.part for items in kinds for item in items} | fitted_units(plan.links).keys()
    wrong += [f"the plan's bill has {line.part!r}, and the catalog has no such part" for line in plan.parts if line.part not in parts]
    if wrong:
        raise UnknownNameError(_listed("the plan is not of this network and catalog", wrong))


def bill_is_of_the_links(plan: Plan) -> None:
    """Refuse a plan whose bill was edited, or whose ends were and its bill was not.

    Raises:
        UnknownNameError: with every part of which the bill has another number than the links use.
    """
    wrong = list(faults_of_bill(plan))
    if wrong:
        raise UnknownNameError(_listed("the plan does not agree with itself, so it was changed by hand; plan again", wrong))


def faults_of_bill(plan: Plan) -> Iterator[str]:
    """A sentence for each part of which the bill has another number than the links use."""
    fitted = fitted_units(plan.links)
    billed: Counter[str] = Counter()
    for line in plan.parts:
        billed[line.part] += line.used
    for part in dict.fromkeys((*billed, *fitted)):
        if billed[part] != fitted[part]:
            yield f"the bill has {billed[part]} of {part!r} in use, and the links use {fitted[part]}"


def fitted_units(links: Iterable[PlannedLink]) -> Counter[str]:
    """Part number to units at the ends of these links."""
    units: Counter[str] = Counter()
    for parts, ends in Counter(map(_PARTS, chain.from_iterable([link.ends for link in links]))).items():  # few ends differ in their parts
        for part in parts:
            if part is not None:
                units[part] += ends
    return units


_PARTS: attrgetter[tuple[str | None, ...]] = attrgetter("module", "converter", "cord", "attenuator")


def names_of_inventory_exist(inventory: Mapping[str, str], network: Network, catalog: Catalog) -> None:
    """Refuse an inventory that names ports, cages or modules that are not there.

    Raises:
        UnknownNameError: with every one of them.
    """
    wrong: list[str] = []
    for name, part in sorted(inventory.items()):
        device_id, _, port_id = name.partition("/")
        device = network.device_by_id.get(device_id)
        if device is None:
            wrong.append(f"{name!r}: there is no device {device_id!r}")
        elif port_id not in device.port_by_id:
            wrong.append(f"{name!r}: device {device_id!r} has no port {port_id!r}")
        elif device.port(port_id).kind not in ("cage", "shared"):
            wrong.append(f"{name!r}: only a cage holds a module, and this is a {_KINDS[device.port(port_id).kind]}")
        if part not in catalog.module_by_part:
            wrong.append(f"{name!r}: the catalog has no module {part!r}")
    if wrong:
        raise UnknownNameError(_listed("the inventory is not of this network and catalog", wrong))


_KINDS = {"fixed": "fixed optic", "copper": "copper port"}


def _listed(head: str, wrong: list[str]) -> str:
    return "\n".join([f"{head}:", *(f"  {line}" for line in wrong)])


def _faults_of_unserved(plan: Plan, links: Mapping[str, Link]) -> Iterator[str]:
    """Every link of the network is served or not served, and not both."""
    served = {planned.id for planned in plan.links}
    times = Counter(entry.id for entry in plan.unserved)
    for link_id, count in times.items():
        if link_id not in links:
            yield f"link {link_id!r} is not served in the plan, and there is no such link"
        elif link_id in served:
            yield f"link {link_id!r} is both served and not served in the plan"
        elif count > 1:
            yield f"link {link_id!r} is listed {count} times as not served"
    told = served | times.keys()
    yield from (f"the network wants link {link_id!r}, and the plan says nothing of it" for link_id in links if link_id not in told)


def _faults_of_link(planned: PlannedLink, link: Link, network: Network, catalog: Catalog) -> Iterator[str]:
    missing = [run_id for run_id in planned.over if run_id not in network.run_by_id]
    for run_id in missing:
        yield f"there is no run {run_id!r}"
    if not missing:
        yield from _faults_of_chain(planned, link, network)
    if link.rate is not None and planned.rate != link.rate:
        yield f"it is to run {link.rate}, and the plan has {planned.rate}"
    for side, end in enumerate(planned.ends):
        yield from _faults_of_end(end, link, side, network, catalog)


def _faults_of_chain(planned: PlannedLink, link: Link, network: Network) -> Iterator[str]:
    over = ", ".join(planned.over)
    if link.over is not None and planned.over != link.over:
        yield f"it is to go over {', '.join(link.over)}, and the plan has it over {over or 'nothing'}"
        return
    here = link.devices[0]
    for step, run_id in enumerate(planned.over):
        ends = network.run_by_id[run_id].ends
        if here not in ends or (step and here not in network.panel_by_id):
            yield f"the runs {over} do not join {link.devices[0]!r} and {link.devices[1]!r}"
            return
        here = ends[1] if ends[0] == here else ends[0]
    if here != link.devices[1]:
        yield f"the runs {over or '(none)'} do not join {link.devices[0]!r} and {link.devices[1]!r}"


def _faults_of_end(end: PlannedEnd, link: Link, side: int, network: Network, catalog: Catalog) -> Iterator[str]:
    device = network.device_by_id.get(end.device)
    if device is None:
        yield f"there is no device {end.device!r}"
    elif end.port not in device.port_by_id:
        yield f"device {end.device!r} has no port {end.port!r}"
    elif (end.device, link.pinned[side] or end.port) != (link.devices[side], end.port):
        yield f"it ends at {link.ends[side]!r}, and the plan has it at '{end.device}/{end.port}'"
    parts = (
        ("module", end.module, catalog.module_by_part),
        ("converter", end.converter, catalog.converter_by_part),
        ("cord", end.cord, catalog.cord_by_part),
        ("attenuator", end.attenuator, catalog.attenuator_by_part),
    )
    for kind, part, known in parts:
        if part is not None and part not in known:
            yield f"the catalog has no {kind} {part!r}"
