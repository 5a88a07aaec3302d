"""What can run short: the resources that links share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

Resource = tuple[Any, ...]
"""A kind (strands, copper, ports, power, stock, over) and what it is of."""


@dataclass(frozen=True)
class Scarce:
    """Which resources can run short; options carry their use of these only."""

    ports: frozenset[Resource] = frozenset()
    strands: frozenset[str] = frozenset()
    copper: frozenset[str] = frozenset()
    stock: frozenset[str] = frozenset()
    power: frozenset[str] = frozenset()
    diverse: frozenset[str] = frozenset()
    """Ids of links whose runs and routes other links must avoid, or that must avoid those of others."""

    def counts(self, resource: Resource) -> bool:
        """Whether a resource is among these."""
        kind, name = resource[0], resource[1]
        if kind == "ports":
            return resource in self.ports
        return name in {"strands": self.strands, "copper": self.copper, "stock": self.stock, "power": self.power, "over": self.diverse}[kind]

    def runs_unlike(self, other: Scarce) -> frozenset[str] | None:
        """The runs of which the two say something else; None where that is so of more than runs."""
        if (self.ports, self.stock, self.power, self.diverse) != (other.ports, other.stock, other.power, other.diverse):
            return None
        return (self.strands ^ other.strands) | (self.copper ^ other.copper)

    def joined(self, resources: Iterable[Resource]) -> Scarce:
        """These and some more."""
        more: dict[str, set[Any]] = defaultdict(set)
        for resource in resources:
            more[resource[0]].add(resource if resource[0] == "ports" else resource[1])
        return Scarce(
            self.ports | more["ports"],
            self.strands | more["strands"],
            self.copper | more["copper"],
            self.stock | more["stock"],
            self.power | more["power"],
            self.diverse | more["over"],
        )
