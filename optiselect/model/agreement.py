"""Whether the parts of a network agree: ids given twice, ends that name nothing, chains that do not join."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from optiselect.errors import Fault

if TYPE_CHECKING:
    from optiselect.model.network import Device, Link, Run

MOST_PORTS = 1_000_000
"""Of all devices together."""


def faults_between(
    sites: Any, devices: Any, panels: Any, runs: Any, links: Any, installed: Mapping[str, str], hidden: Mapping[str, Mapping[int, str]] | None = None
) -> Iterator[Fault]:
    """Faults between the parts: ids given twice, ends that name nothing, chains that do not join.

    A row that could not be read is None; its id, where it has one, is in `hidden` by the row's index.
    """
    hidden = hidden or {}

    def hidden_ids(key: str) -> set[str]:
        return set(hidden.get(key, {}).values())

    for key, rows in (("sites", sites), ("devices", devices), ("panels", panels), ("runs", runs), ("links", links)):
        yield from _ids_given_twice(key, rows, hidden.get(key, {}))
    site_ids = {site.id for site in sites if site} | hidden_ids("sites")
    device_by_id = {device.id: device for device in devices if device}
    hidden_devices = hidden_ids("devices")
    panel_ids = {panel.id for panel in panels if panel} | hidden_ids("panels")
    run_by_id = {run.id: run for run in runs if run}
    link_ids = {link.id for link in links if link} | hidden_ids("links")
    ports = 0
    for index, device in enumerate(devices):
        if device is None:
            continue
        if device.site is not None and device.site not in site_ids:
            yield Fault(f"devices[{index}].site", f"there is no site {device.site!r}")
        if device.id in panel_ids:
            yield Fault(f"devices[{index}].id", f"{device.id!r} is also the id of a panel")
        seen: set[str] = set()
        for port_index, port in enumerate(device.ports):
            for name in port.names:
                if name in seen:
                    yield Fault(f"devices[{index}].ports[{port_index}]", f"port {name!r} is there twice")
                seen.add(name)
        ports += len(seen)
        if ports > MOST_PORTS:  # a short list of ids can stand for many: no further one is expanded
            yield Fault(f"devices[{index}].ports", f"with these ports, the devices have more than {MOST_PORTS}")
            return
    for index, panel in enumerate(panels):
        if panel is not None and panel.site is not None and panel.site not in site_ids:
            yield Fault(f"panels[{index}].site", f"there is no site {panel.site!r}")
    for index, run in enumerate(runs):
        if run is None:
            continue
        for side, end in enumerate(run.ends):
            if end not in device_by_id and end not in hidden_devices and end not in panel_ids:
                yield Fault(f"runs[{index}].ends[{side}]", f"there is no device or panel {end!r}")
    for index, link in enumerate(links):
        if link is not None:
            yield from _faults_of_link(index, link, device_by_id, hidden_devices, run_by_id, hidden_ids("runs"), panel_ids, link_ids)
    for ref in installed:
        device_id, _, port_id = str(ref).partition("/")
        device = device_by_id.get(device_id)
        if device is None:
            if device_id not in hidden_devices:
                yield Fault(f"installed.{ref}", f"there is no device {device_id!r}")
        elif port_id not in device.port_by_id:
            yield Fault(f"installed.{ref}", f"device {device_id!r} has no port {port_id!r}")
        elif device.port(port_id).kind not in ("cage", "shared"):
            yield Fault(f"installed.{ref}", "only a cage can hold a module")


def _ids_given_twice(key: str, rows: Any, hidden: Mapping[int, str]) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for index, row in enumerate(rows):
        name = hidden.get(index) if row is None else row.id
        if name is None:
            continue
        if name in first:
            yield Fault(f"{key}[{index}].id", f"{name!r} is already the id of {key}[{first[name]}]")
        first.setdefault(name, index)


def _faults_of_link(
    index: int,
    link: Link,
    device_by_id: Mapping[str, Device],
    hidden_devices: set[str],
    run_by_id: Mapping[str, Run],
    hidden_runs: set[str],
    panel_ids: set[str],
    link_ids: set[str],
) -> Iterator[Fault]:
    at = f"links[{index}]"
    for side, (device_id, port_id) in enumerate(zip(link.devices, link.pinned, strict=True)):
        device = device_by_id.get(device_id)
        if device is None:
            if device_id not in hidden_devices:
                what = "a panel; a link ends at devices" if device_id in panel_ids else "not a device of this network"
                yield Fault(f"{at}.ends[{side}]", f"{device_id!r} is {what}")
        elif port_id is not None and port_id not in device.port_by_id:
            yield Fault(f"{at}.ends[{side}]", f"device {device_id!r} has no port {port_id!r}")
    if link.devices[0] == link.devices[1]:
        yield Fault(f"{at}.ends", "both ends are on one device")
    for other_index, other in enumerate(link.diverse_from):
        if other == link.id:
            yield Fault(f"{at}.diverse_from[{other_index}]", "a link cannot be diverse from itself")
        elif other not in link_ids:
            yield Fault(f"{at}.diverse_from[{other_index}]", f"there is no link {other!r}")
    here: str | None = link.devices[0]
    seen_runs: set[str] = set()
    for step, run_id in enumerate(link.over or ()):
        run = run_by_id.get(run_id)
        if run is None:
            if run_id not in hidden_runs:
                yield Fault(f"{at}.over[{step}]", f"there is no run {run_id!r}")
            here = None
            continue
        if run_id in seen_runs:
            yield Fault(f"{at}.over[{step}]", f"run {run_id!r} is already in this chain")
        seen_runs.add(run_id)
        if here is None:
            continue
        if here not in run.ends:
            yield Fault(f"{at}.over[{step}]", f"run {run_id!r} does not start at {here!r}; it joins {run.ends[0]!r} and {run.ends[1]!r}")
            here = None
            continue
        here = run.ends[1] if run.ends[0] == here else run.ends[0]
        if step < len(link.over or ()) - 1 and here not in panel_ids:
            yield Fault(f"{at}.over[{step}]", f"runs are chained through panels; {here!r} is not one")
            here = None
    if link.over and here is not None and here != link.devices[1]:
        yield Fault(f"{at}.over", f"the chain ends at {here!r}, the link at {link.devices[1]!r}")
