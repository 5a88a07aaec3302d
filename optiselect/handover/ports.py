"""The port schedule: what is to be done at every port, and what should be read there afterwards."""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import pairwise

from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell
from optiselect.model.network import CopperPort, Device, FixedOptic, SharedPort
from optiselect.model.plan import PlannedEnd, PlannedLink
from optiselect.rules.fitted import FittedEnd, FittedLink

_COLUMNS = (
    Column("device", "device"),
    Column("port", "port"),
    Column("site", "site"),
    Column("socket", "socket"),
    Column("link", "link"),
    Column("rate", "rate"),
    Column("action", "what to do"),
    Column("converter", "converter"),
    Column("module", "module"),
    Column("attenuator", "attenuator"),
    Column("attenuator_at", "attenuator sits"),
    Column("cord", "cord"),
    Column("run", "run"),
    Column("transmit_strand", "transmit strand"),
    Column("receive_strand", "receive strand"),
    Column("far_end", "far end"),
    Column("rx_low_dbm", "receives from, dBm", "figure"),
    Column("rx_high_dbm", "receives to, dBm", "figure"),
    Column("rx_sensitivity_dbm", "sensitivity, dBm", "figure"),
    Column("rx_overload_dbm", "overload, dBm", "figure"),
    Column("label", "label"),
)
_COUNTED = re.compile(r"(\D*)(0|[1-9][0-9]{0,6})", re.ASCII)
_ABOUT = (
    "One row for each port that carries a link; ports that stay free are in one row for each kind.",
    "Received power outside of the window is a fault to look for, also where the link is up: clean, measure, then exchange.",
    "An attenuator is fitted before its link is joined.",
)


def port_schedule(dossier: Dossier) -> Sheet:
    """Every port of every device: its link, what is fitted, its strands, its far end and the power to be expected."""
    used: dict[tuple[str, str], tuple[PlannedLink, FittedLink, int]] = {}
    for planned, fitted in dossier.served:
        for side, end in enumerate(planned.ends):
            used[end.device, end.port] = planned, fitted, side
    rows: list[tuple[Cell, ...]] = []
    for device in sorted(dossier.network.devices, key=lambda device: device.id):
        for entry in device.ports:
            free = [name for name in entry.names if (device.id, name) not in used and f"{device.id}/{name}" not in dossier.network.installed]
            for name in entry.names:
                if (device.id, name) in used:
                    rows.append(_used_row(dossier, device, name, *used[device.id, name]))
                elif name not in free:
                    rows.append(_idle_row(dossier, device, name))
            if free:
                rows.append(_dark_row(device, in_ranges(free), free[0], "free", None))
    return Sheet("ports", "Port schedule", _ABOUT, _COLUMNS, tuple(rows))


def label_of(dossier: Dossier, planned: PlannedLink, side: int) -> str:
    """What stands on the label of a port and of its cord: port, link, far end, run and strands."""
    near, far = (f"{end.device}/{end.port}" for end in (planned.ends[side], planned.ends[1 - side]))
    return f"{near} | {planned.id} | to {far} | {cable_of(dossier, planned, side)}"


def cable_of(dossier: Dossier, planned: PlannedLink, side: int) -> str:
    """The run that an end is plugged into, with the strands of its link."""
    run_id = planned.over[0 if side == 0 else -1]
    numbers = dossier.strands_of(planned.id, run_id)
    return f"{run_id} {_numbers_in_ranges(numbers)}" if numbers else run_id


@lru_cache(maxsize=4096)
def _numbers_in_ranges(numbers: tuple[int, ...]) -> str:
    return in_ranges([str(number) for number in numbers])


def in_ranges(names: list[str]) -> str:
    """Port ids or strand numbers, neighbors joined: 1-4, 7, a1-a3."""
    if len(names) < 2:
        return "".join(names)
    parts = [_COUNTED.fullmatch(name) for name in names]
    counted = [(part[1], int(part[2])) if part else None for part in parts]
    breaks = [place + 1 for place, (a, b) in enumerate(pairwise(counted)) if a is None or b is None or b != (a[0], a[1] + 1)]
    pieces = [names[start:end] for start, end in zip([0, *breaks], [*breaks, len(names)], strict=True)]
    return ", ".join(piece[0] if len(piece) == 1 else f"{piece[0]}-{piece[-1]}" for piece in pieces)


def socket_of(device: Device, port_id: str) -> str:
    """What a port is, in words."""
    entry = device.port(port_id)
    if isinstance(entry, CopperPort):
        return "copper socket"
    if isinstance(entry, FixedOptic):
        return "fixed optic"
    return f"{entry.form} cage" + (" or copper socket, one at a time" if isinstance(entry, SharedPort) else "")


def _used_row(dossier: Dossier, device: Device, port_id: str, planned: PlannedLink, fitted: FittedLink, side: int) -> tuple[Cell, ...]:
    end, far = planned.ends[side], planned.ends[1 - side]
    here = fitted.ends[side]
    received = next((way.rx_dbm for way in planned.directions if way.to == f"{end.device}/{end.port}"), None) or (None, None)
    bears = here.light.rx_dbm if here.light is not None and here.light.rx_dbm is not None and fitted.path.medium == "fiber" else (None, None)
    return (
        *(device.id, port_id, device.site, socket_of(device, port_id), planned.id, planned.rate),
        _action(dossier, end),
        *(end.converter, end.module, end.attenuator, _where_attenuator_sits(here) if end.attenuator else None, end.cord),
        planned.over[0 if side == 0 else -1],
        *strands_at(dossier, planned, side),
        f"{far.device}/{far.port}",
        *received,
        *bears,
        label_of(dossier, planned, side),
    )


def _action(dossier: Dossier, end: PlannedEnd) -> str:
    port = f"{end.device}/{end.port}"
    there = dossier.network.installed.get(port)
    if there is not None and end.converter is None and end.module == there:
        return f"{there} stays" if port in dossier.kept else f"take out {there}, fit a new one"
    takes_out = [f"take out {there}"] if there is not None else []
    fits = [part for part in (end.converter, end.module) if part is not None]
    plugs = {"fixed": "fixed optic", "copper": "copper socket", "module": ""}[end.fitting] if end.converter is None else ""
    return ", then ".join([*takes_out, *([f"fit {' with '.join(fits)}"] if fits else []), *([f"plug into the {plugs}"] if plugs else [])])


def _where_attenuator_sits(end: FittedEnd) -> str:
    if end.light is not None and end.light.strands == 1:
        return "in the single-strand socket; both directions pass it"
    return "in the receive leg of this port"


def strands_at(dossier: Dossier, planned: PlannedLink, side: int) -> tuple[str | None, str | None]:
    """The strands that an end lights and hears, on the run that it is plugged into; None on copper."""
    run_id = planned.over[0 if side == 0 else -1]
    near = f"{planned.ends[side].device}/{planned.ends[side].port}"
    uses = dossier.strands.get(run_id, {})
    numbers = dossier.strands_of(planned.id, run_id)
    if not numbers:
        return None, None
    sent = tuple([number for number in numbers if uses[number].both_ways or uses[number].sender == near])
    heard = tuple([number for number in numbers if uses[number].both_ways or uses[number].receiver == near])
    return _numbers_in_ranges(sent), _numbers_in_ranges(heard)


def _idle_row(dossier: Dossier, device: Device, port_id: str) -> tuple[Cell, ...]:
    there = dossier.network.installed[f"{device.id}/{port_id}"]
    return _dark_row(device, port_id, port_id, "no link of this plan", f"{there} is in it; leave it until its use is known")


def _dark_row(device: Device, ports: str, first: str, state: str, action: str | None) -> tuple[Cell, ...]:
    blank = (None,) * (len(_COLUMNS) - 7)
    return (device.id, ports, device.site, socket_of(device, first), state, None, action, *blank)
