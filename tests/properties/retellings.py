"""The same site told otherwise: by other names, in another order, from the other end, in smaller pieces, twice."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from tests.properties.cases import PART_KINDS, Case, Data

ROWS = ("sites", "devices", "panels", "runs", "links")
Name = Callable[[str], str]


def shuffled(case: Case, draw: Random) -> Case:
    """Every list whose order means nothing, in another order."""
    case = case.copy()
    for document, keys in ((case.network, ROWS), (case.catalog, PART_KINDS)):
        for key in keys:
            draw.shuffle(document.get(key, []))
    return case


def renamed(case: Case, place: Name, part: Name = str) -> Case:
    """Every id of the network by another name, and every part number."""
    case = case.copy()
    network = case.network
    for row in (row for key in ROWS for row in network.get(key, ())):
        row["id"] = place(row["id"])
    for site in network["sites"]:
        site["building"] = place(site["building"])
    for device in network["devices"]:
        for port in device["ports"]:
            port["ids"] = "-".join(f"port{number}" for number in port["ids"].split("-"))
    for row in [*network["devices"], *network["panels"]]:
        if row.get("site"):
            row["site"] = place(row["site"])
    for run in network["runs"]:
        run["ends"] = [place(end) for end in run["ends"]]
        run["routes"] = [place(route) for route in run.get("routes", ())]
    for link in network["links"]:
        link["ends"] = [_port(end, place) for end in link["ends"]]
        link["diverse_from"] = [place(other) for other in link.get("diverse_from", ())]
    network["installed"] = {_port(port, place): part(held) for port, held in network.get("installed", {}).items()}
    for row in case.parts:
        row["part"] = part(row["part"])
    for key in ("prefer_parts", "exclude_parts"):
        case.policy[key] = [part(name) for name in case.policy.get(key, ())]
    return case


def _port(name: str, place: Name) -> str:
    device, slash, port = name.partition("/")
    return f"{place(device)}{slash}{'port' if slash else ''}{port}"


def twice(case: Case) -> Case:
    """Two sites that are alike and have nothing in common but the catalog."""
    one, other = (renamed(case, lambda name, side=side: f"{side} {name}") for side in ("east", "west"))
    for key in ROWS:
        one.network[key] = [*one.network.get(key, ()), *other.network.get(key, ())]
    one.network["installed"] |= other.network["installed"]
    return one


def from_the_other_end(case: Case) -> Case:
    """Every link and every run written from its other end."""
    case = case.copy()
    for row in [*case.network["links"], *case.network["runs"]]:
        row["ends"] = row["ends"][::-1]
    for fiber in (run["fiber"] for run in case.fibers):
        for key in ("connectors", "polish"):
            if isinstance(fiber.get(key), list):
                fiber[key] = fiber[key][::-1]
    return case


def with_connections_stated(case: Case) -> Case:
    """Every fiber run with the number of its connections, so that none is assumed by where the run ends."""
    case = case.copy()
    for run in case.fibers:
        run["fiber"]["connections"] = 2
    return case


def spliced(case: Case) -> Case:
    """Every fiber run, of stated connections, in two halves that meet in a closure without loss."""
    case = case.copy()
    halves: list[Data] = []
    for run in case.fibers:
        closure, fiber = f"closure of {run['id']}", run["fiber"]
        case.network["panels"].append({"id": closure, "site": "hall"})
        begin, end = run["ends"]
        sides: tuple[tuple[str, list[str], int, int], ...] = (("1", [begin, closure], 0, fiber["connections"]), ("2", [closure, end], 1, 0))
        for name, ends, side, connections in sides:
            half: dict[str, Any] = {**fiber, "length_m": fiber["length_m"] / 2, "connections": connections}
            if fiber.get("connectors"):
                half["connectors"] = [fiber["connectors"][side] if end != closure else "LC" for end in ends]
            halves.append({**run, "id": f"{run['id']}.{name}", "ends": ends, "fiber": half})
    case.network["runs"] = [run for run in case.network["runs"] if "fiber" not in run] + halves
    return case


def of_swapped_roles(case: Case) -> Case:
    """Every D a U and every U a D."""
    case = case.copy()
    for optic in case.optics:
        standard = optic.get("standard") or ""
        optic["standard"] = f"{standard[:-1]}{'UD'[standard[-1] == 'U']}" if standard[-2:] in ("-D", "-U") else standard or None
    return case
