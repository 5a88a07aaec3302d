"""The whole: ports, strands, power, routes and stock that links share."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import chain

from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.network import Run
from optiselect.model.policy import Policy
from optiselect.optics.decibels import milli
from optiselect.rules.rule import Breach, Rule
from optiselect.rules.served import Served, Taken


def port_once(served: Served) -> Iterator[Breach]:
    """Yield a breach for each port that carries more than one link, whichever of a shared port's sockets they use."""
    taken = [*chain.from_iterable([link.ports for link in served.links])]
    if len(set(taken)) == len(taken):
        return
    links_at: dict[str, list[str]] = defaultdict(list)
    for link in served.links:
        for port in link.ports:
            links_at[port].append(link.link.id)
    for port, links in sorted(links_at.items()):
        if len(links) > 1:
            yield Breach("port-once", port, 1, len(links), "links", facts={"links": tuple(sorted(links))})


def strands_free(served: Served) -> Iterator[Breach]:
    """Yield a breach for each run whose links take more strands than are free and not reserved; copper carries one link."""
    over: dict[int, list[tuple[str, ...]]] = defaultdict(list)
    for link in served.links:
        over[link.strands].append(link.path.run_ids)
    used: Counter[str] = Counter()
    for strands, paths in over.items():
        for run_id, links in Counter(chain.from_iterable(paths)).items():
            used[run_id] += strands * links
    runs = served.network.run_by_id
    short = {run_id for run_id, count in used.items() if count > _strands_to_use(runs[run_id], served.policy)}
    links_over: dict[str, list[str]] = {run_id: [] for run_id in short}
    for link in served.links if short else ():
        for run_id in short.intersection(link.path.run_ids):
            links_over[run_id].append(link.link.id)
    for run_id in sorted(short):
        count, facts = used[run_id], {"links": tuple(sorted(links_over[run_id]))}
        unit, case = ("strands", "") if runs[run_id].fiber is not None else ("links", "copper")
        yield Breach("strands-free", run_id, count, _strands_to_use(runs[run_id], served.policy), unit, facts=facts, case=case)


def _strands_to_use(run: Run, policy: Policy) -> int:
    """What the links of a run may take together."""
    fiber = run.fiber
    return fiber.strands - fiber.strands_in_use - policy.reserve_strands if fiber is not None else 1


def device_power(served: Served) -> Iterator[Breach]:
    """Yield a breach for each device whose modules, as planned, draw more than it gives to all of them together."""
    drawn: dict[str, int] = defaultdict(int)
    unstated: dict[str, list[str]] = defaultdict(list)
    for device_id, part, power_w in chain.from_iterable([link.drawn for link in served.links]):
        if power_w is None:
            unstated[device_id].append(part)
        else:
            drawn[device_id] += milli(power_w)
    for device_id in sorted({*drawn, *unstated}):
        limit_w = served.network.device_by_id[device_id].module_power_w
        assert limit_w is not None  # else nothing is told of what is drawn
        if drawn[device_id] > milli(limit_w):
            yield Breach("device-power", device_id, limit_w, drawn[device_id] / 1000, "W")
        elif unstated[device_id]:
            yield Breach("device-power", device_id, limit_w, f"the power of {', '.join(sorted(set(unstated[device_id])))}", "W", unknown=True)


def diversity(served: Served) -> Iterator[Breach]:
    """Yield a breach for each pair of served links that must be diverse and share a run or a route."""
    by_id = {link.link.id: link for link in served.links}
    told: set[frozenset[str]] = set()
    for link_id, link in sorted((link_id, link) for link_id, link in by_id.items() if link.link.diverse_from):
        for other_id in sorted(link.link.diverse_from):
            other = by_id.get(other_id)
            if other is None or frozenset((link_id, other_id)) in told:
                continue
            shared = sorted(_elements(link) & _elements(other))
            if shared:
                told.add(frozenset((link_id, other_id)))
                facts = {"other": other_id, "shared": tuple(shared)}
                yield Breach("diversity", link_id, "nothing in common", ", ".join(shared), facts=facts)


def _elements(link: Taken) -> set[str]:
    """The runs and routes that a link goes over."""
    runs = {f"run {run.id}" for run in link.path.runs}
    return runs | {f"route {route}" for run in link.path.runs for route in run.routes}


def stock(served: Served) -> Iterator[Breach]:
    """Yield a breach for each part of which more is to be bought, spares included, than is in stock."""
    catalog = served.catalog
    staying: dict[str, int] = defaultdict(int)
    for port in served.kept:
        staying[served.network.installed[port]] += 1
    items: tuple[Module | Converter | Cord | Attenuator, ...] = (*catalog.modules, *catalog.converters, *catalog.cords, *catalog.attenuators)
    for item in items:
        if item.stock is None:
            continue
        bought = max(0, served.units.get(item.part, 0) - staying[item.part])
        needed = bought + served.spares.get(item.part, 0)
        if needed > item.stock:
            yield Breach("stock", item.part, needed, item.stock, "units", facts={"units": bought, "spares": served.spares.get(item.part, 0)})


PORT_ONCE = Rule(
    id="port-once",
    statement="A port carries one link; of a shared port either the copper socket or the cage works.",
    why="The socket of a shared port goes dead as soon as its cage is used.",
    source="common practice, no source",
    scope="network",
    check=port_once,
    phrase="{path} carries {required} link, and {available} are on it: {links}",
    holds={"devices.core.ports.2.kind": "shared", "devices.core.ports.2.form": "SFP", "devices.core.ports.2.copper_rates": ["1G"]},
    breaks={"fitted.L3.0.port": "1"},
)
STRANDS_FREE = Rule(
    id="strands-free",
    statement="The strands used are within those that are free and not reserved; a copper run carries one link.",
    why="A strand that is counted twice is found at the splice tray, on the day.",
    source="common practice, no source",
    scope="network",
    check=strands_free,
    phrase="{path}: {required_units} wanted ({links}), and {available} free",
    phrases={"copper": "{path}: {required_units} planned on it ({links}), and a copper run carries {available}"},
    holds={"runs.F1.fiber.strands_in_use": 10},
    breaks={"runs.F1.fiber.strands_in_use": 11},
)
DEVICE_POWER = Rule(
    id="device-power",
    statement="All modules of a device together draw no more than it gives them.",
    why="Each cage may be within its limit and the supply behind them all be overdrawn.",
    source="common practice, no source",
    scope="network",
    check=device_power,
    phrase="{path}: {required} {unit} are there for all modules, and they draw {available} {unit}",
    holds={"devices.core.module_power_w": 3.8},
    breaks={"devices.core.module_power_w": 3.7},
)
DIVERSITY = Rule(
    id="diversity",
    statement="A link that must be diverse shares no run and no route with the links that it names.",
    why="One excavator in one trench takes both paths.",
    source="common practice, no source",
    scope="network",
    check=diversity,
    phrase="{path} is to have {required} with {other}, and both go over {available}",
    holds={"links.L3.diverse_from": ["L1"]},
    breaks={"links.L3.diverse_from": ["L1"], "runs.F3.routes": ["duct-7"]},
)
STOCK = Rule(
    id="stock",
    statement="What is to be bought of a part, spares included, is in stock.",
    why="A plan that needs more than there is waits for the slowest delivery.",
    source="common practice, no source",
    scope="network",
    check=stock,
    phrase="{path}: {required_units} to be bought ({units} to use, {spares} spare), and {available} in stock",
    holds={"modules.DEMO-LX10.stock": 3, "spares.DEMO-LX10": 1},
    breaks={"modules.DEMO-LX10.stock": 3, "spares.DEMO-LX10": 2},
)
